//! A screen that breaks down gives the terminal back, and the measurement goes on.
//!
//! The test runs itself once more on a terminal of its own, as the job whose screen breaks.

use crate::fakes::{PATIENCE, wait_until};
use std::fs::OpenOptions;
use std::io::{self, ErrorKind, Read, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};
use trundle::desk::Desk;
use trundle::desk::face::on_screen;
use trundle::desk::screen::Play;
use trundle::desk::task::{Do, Method, OnlyAtTheEnd, Rendered, Standing, Task, Turn};
use trundle::ports::PortChoice;
use trundle::ports::serial::BytePort;
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::capture_read::read_capture;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup, OpenPart, Parts};
use trundle::shell::out;
use trundle_bounds::streams::owned;
use trundle_core::capture::{Entry, HostMarkAction};
use trundle_core::session::{Keeps, Session};
use trundle_sim::pty::Pty;

/// Variable with the file that tells the child that its screen was seen.
const SEEN: &str = "TEST_SCREEN_SEEN";
/// Lines that the child says before its screen opens.
const BEFORE: usize = 2_000;
/// What the child prints when the job went on to its end.
const WENT_ON: &str = "the job went on and was saved";

/// A port from which nothing comes.
struct Quiet;

impl Read for Quiet {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        std::thread::sleep(Duration::from_millis(10));
        Err(ErrorKind::TimedOut.into())
    }
}

impl Write for Quiet {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl BytePort for Quiet {
    fn set_wait(&mut self, _: Duration) {}
}

/// Nothing is calculated.
struct Nothing;

impl Method for Nothing {
    type Worked = ();

    fn work(&self, _: &Session, _: bool) {}

    fn rendered(&self, (): &()) -> Rendered {
        Rendered::default()
    }
}

/// A task with a fault that shows after a while.
struct Breaks {
    only: OnlyAtTheEnd<Nothing>,
    /// There once the screen was seen.
    seen: PathBuf,
}

impl Task for Breaks {
    type Method = Nothing;

    fn method(&self) -> Arc<Nothing> {
        self.only.method()
    }

    fn typed(&mut self, line: &str, now: &Standing) -> Do {
        self.only.typed(line, now)
    }

    fn due(&mut self, _: &Turn<'_>) -> bool {
        assert!(!self.seen.exists(), "a fault of the picture");
        false
    }
}

#[test]
#[ignore = "the child of the test below"]
fn a_job_whose_screen_breaks() {
    let folder = tempfile::tempdir().unwrap();
    let capture = folder.path().join("x.capture");
    let setup = LiveSetup {
        board: Some(PortChoice { path: "board".to_owned(), baud: 115_200 }),
        receiver: None,
        bus: None,
        capture: capture.clone(),
        course_text: None,
        keeps: Keeps::Passes,
        pace: 1.0,
        started_utc: None,
        practice: false,
    };
    let writer = CaptureWriter::create(&capture).unwrap();
    let board: Box<dyn BytePort> = Box::new(Quiet);
    let board: OpenPart = (board, Box::new(|| Err("gone".to_owned())));
    let parts = Parts { writer, board: Some(board), receiver: None, bus: None };
    let job = LiveJob::start_with(&setup, parts).unwrap();
    let play = Play { title: "a screen that breaks", before: String::new(), bell: false };
    let only = OnlyAtTheEnd { method: Arc::new(Nothing), help: "" };
    let task = Breaks { only, seen: std::env::var(SEEN).unwrap().into() };
    // More than the terminal takes at once: it is still being written when the screen opens.
    out::live();
    (0..BEFORE).for_each(|number| out::say_live(&format!("said before, {number}")));
    // No end: the screen broke, and the job is still there.
    assert!(on_screen(&mut Desk::new(&job, task, None), play).is_none());
    job.host_mark(HostMarkAction::Note, "after the screen");
    let noted = |event: &LiveEvent| matches!(event, LiveEvent::Acknowledged(_));
    wait_until("the note", || job.poll(Duration::ZERO).iter().any(noted));
    assert_eq!(job.finish().trouble, None);
    let (mut notes, mut ended) = (0, false);
    read_capture(&capture, |piece| match owned(piece) {
        Ok(record) => match record.entry {
            Entry::HostMark(mark) => notes += usize::from(mark.text == "after the screen"),
            Entry::End => ended = true,
            _ => {}
        },
        Err(damage) => panic!("{damage:?}"),
    })
    .unwrap();
    assert!(notes == 1 && ended);
    println!("{WENT_ON}");
}

fn stty(pty: &Pty, args: &[&str]) -> String {
    let out = Command::new("stty").arg("-F").arg(pty.path()).args(args).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn a_screen_that_breaks_gives_the_terminal_back_and_the_job_goes_on() {
    let pty = Pty::open().unwrap();
    stty(&pty, &["sane", "cols", "80", "rows", "24"]);
    let before = stty(&pty, &["-g"]);
    let end =
        || -> Stdio { OpenOptions::new().read(true).write(true).open(pty.path()).unwrap().into() };
    let folder = tempfile::tempdir().unwrap();
    let seen = folder.path().join("seen");
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "screen_breaks::a_job_whose_screen_breaks", "--ignored", "--nocapture"])
        .env("TERM", "xterm")
        .env(SEEN, &seen)
        .stdin(end())
        .stdout(end())
        .stderr(end())
        .spawn()
        .unwrap();
    let (began, mut said) = (Instant::now(), Vec::new());
    let status = loop {
        pty.receive(&mut said).unwrap();
        if !seen.exists() && stty(&pty, &["-g"]) != before {
            std::fs::write(&seen, b"").unwrap();
        }
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        assert!(began.elapsed() < PATIENCE, "{}", String::from_utf8_lossy(&said));
        std::thread::sleep(Duration::from_millis(5));
    };
    while {
        let before = said.len();
        pty.receive(&mut said).unwrap();
        said.len() > before
    } {}
    let said = String::from_utf8_lossy(&said).into_owned();
    assert!(status.success(), "{said}");
    assert!(seen.exists(), "the terminal was never taken over: {said}");
    let (before_it, _) = said.split_once("\u{1b}[?1049h").expect("it was never a screen");
    let last = before_it.lines().last();
    let expected = format!("said before, {}", BEFORE - 1);
    assert_eq!(last, Some(&*expected), "words came into the pictures");
    // Out of the alternate screen, the cursor back, and only then the words.
    let (_, after) = said.rsplit_once("\u{1b}[?1049l").expect("it stayed a screen");
    assert!(said.contains("\u{1b}[?25h"), "{said:?}");
    assert!(after.contains("The screen failed"), "{after}");
    assert!(after.contains("a fault of the picture"), "the reason is not told: {after}");
    assert!(after.contains(WENT_ON), "{after}");
    assert_eq!(stty(&pty, &["-g"]), before, "echo and lines are not as they were");
}
