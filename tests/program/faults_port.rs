//! Ports that fail where nobody looks: when they are written to, and when they are closed.

use crate::fakes::job::counts;
use crate::fakes::{Disk, Heard, PATIENCE, wait_until};
use std::io::{self, ErrorKind, Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use trundle::ports::PortChoice;
use trundle::ports::serial::{BytePort, Opener};
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup, Parts};
use trundle::shell::exit;
use trundle::shell::storage::Storage;
use trundle_core::capture::HostMarkAction;
use trundle_core::session::{Keeps, SessionEvent};

/// What a port does.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    /// Every write fails with this.
    WriteFails(ErrorKind),
    /// Every flush does.
    FlushFails(ErrorKind),
    /// A write does not come back, whatever limit it was given.
    WriteHangs,
    /// Closing it takes for ever.
    NeverCloses,
    /// Nothing is wrong.
    Sound,
}

/// Longest that one write may hold up the reads beside it: some systems let one wait for the
/// other.
const WRITE_MOST: Duration = Duration::from_millis(200);

/// It sends one report, without which nobody would know that it is a board's and may be written
/// to, and then nothing.
struct BadPort {
    way: Way,
    wait: Duration,
    reported: bool,
    /// How often it was written to.
    writes: Arc<AtomicUsize>,
}

impl BadPort {
    fn new(way: Way) -> Self {
        Self { way, wait: Duration::MAX, reported: false, writes: Arc::default() }
    }
}

impl Read for BadPort {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if !std::mem::replace(&mut self.reported, true) {
            return [vec![0], counts(0)].concat().as_slice().read(buffer);
        }
        std::thread::sleep(Duration::from_millis(20));
        Err(ErrorKind::TimedOut.into())
    }
}

impl Write for BadPort {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        assert!(self.wait <= WRITE_MOST, "a write may wait for {:?}", self.wait);
        self.writes.fetch_add(1, Ordering::SeqCst);
        match self.way {
            Way::WriteFails(kind) => Err(kind.into()),
            Way::WriteHangs => {
                std::thread::sleep(PATIENCE);
                Err(ErrorKind::TimedOut.into())
            }
            _ => Ok(bytes.len()),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self.way {
            Way::FlushFails(kind) => Err(kind.into()),
            _ => Ok(()),
        }
    }
}

impl BytePort for BadPort {
    fn set_wait(&mut self, wait: Duration) {
        self.wait = wait;
    }
}

impl Drop for BadPort {
    fn drop(&mut self) {
        if self.way == Way::NeverCloses {
            std::thread::sleep(PATIENCE);
        }
    }
}

fn start(way: Way, reopen: Opener) -> LiveJob {
    start_on(Box::new(Disk::default()), way, reopen)
}

fn start_on(storage: Box<dyn Storage>, way: Way, reopen: Opener) -> LiveJob {
    start_with(storage, BadPort::new(way), reopen)
}

fn start_with(storage: Box<dyn Storage>, bad: BadPort, reopen: Opener) -> LiveJob {
    let port = |path: &str| PortChoice { path: path.to_owned(), baud: 115_200 };
    let setup = LiveSetup {
        board: Some(port("board")),
        receiver: None,
        bus: None,
        capture: "fake.capture".into(),
        course_text: None,
        keeps: Keeps::Passes,
        pace: 1.0,
        started_utc: Some("2026-03-30T10:15:00Z".to_owned()),
        practice: false,
    };
    let writer = CaptureWriter::on(storage, Path::new("fake.capture"));
    let board: (Box<dyn BytePort>, Opener) = (Box::new(bad), reopen);
    LiveJob::start_with(&setup, Parts { writer, board: Some(board), receiver: None, bus: None })
        .unwrap()
}

fn lost(events: &[LiveEvent]) -> bool {
    events.iter().any(|event| matches!(event, LiveEvent::PortLost { .. }))
}

/// A board that has said nothing is asked who it is: so there is something to write.
#[test]
fn a_port_that_fails_when_written_to_is_lost_and_found() {
    for kind in [ErrorKind::BrokenPipe, ErrorKind::Other, ErrorKind::NotConnected] {
        for way in [Way::WriteFails(kind), Way::FlushFails(kind)] {
            let tries = Arc::new(AtomicUsize::new(0));
            let counted = Arc::clone(&tries);
            let bad = BadPort::new(way);
            let writes = Arc::clone(&bad.writes);
            let job = start_with(
                Box::new(Disk::default()),
                bad,
                Box::new(move || {
                    counted.fetch_add(1, Ordering::SeqCst);
                    Ok(Box::new(BadPort::new(Way::Sound)) as Box<dyn BytePort>)
                }),
            );
            let mut seen = Vec::new();
            // Where only a flush fails the job may go on: then the board is asked once more.
            let goes_on = matches!(way, Way::FlushFails(_));
            wait_until("lost and found, or asked again", || {
                seen.extend(job.poll(Duration::ZERO));
                let found = tries.load(Ordering::SeqCst) > 0 && lost(&seen);
                found || (goes_on && writes.load(Ordering::SeqCst) >= 2)
            });
            assert_eq!(job.finish().trouble, None, "{way:?}");
        }
    }
}

#[test]
fn a_port_that_cannot_be_closed_holds_nobody_up() {
    let job = start(Way::NeverCloses, Box::new(|| Err("gone".to_owned())));
    let started = Instant::now();
    assert_eq!(job.finish().trouble, None);
    assert!(started.elapsed() < PATIENCE / 2, "finishing waited for the port to close");
}

/// Nothing is awaited that could have come already.
fn until(job: &LiveJob, fits: impl Fn(&LiveEvent) -> bool) {
    Heard::default().until(job, fits);
}

fn saved(event: &LiveEvent) -> bool {
    matches!(event, LiveEvent::Acknowledged(SessionEvent::Mark { .. }))
}

#[test]
fn a_write_that_stalls_is_told_and_holds_up_no_mark() {
    let hangs = BadPort::new(Way::WriteHangs);
    let writes = Arc::clone(&hangs.writes);
    let job = start_with(Box::new(Disk::default()), hangs, Box::new(|| Err("gone".to_owned())));
    until(&job, |event| matches!(event, LiveEvent::NotAnswering { .. }));
    wait_until("a write", || writes.load(Ordering::SeqCst) > 0);
    let pressed = Instant::now();
    job.host_mark(HostMarkAction::Start, "");
    until(&job, saved);
    assert!(pressed.elapsed() < PATIENCE / 2, "the mark waited for the port");
    assert_eq!(job.finish().trouble, None);
    assert!(pressed.elapsed() < PATIENCE / 2, "the end waited for the port");
}

/// A disk on which the program itself breaks down once something is written after `armed`.
#[derive(Clone)]
struct Breaking {
    disk: Disk,
    armed: Arc<AtomicBool>,
    broke: Arc<AtomicBool>,
}

impl Write for Breaking {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.armed.load(Ordering::SeqCst) {
            self.broke.store(true, Ordering::SeqCst);
            panic!("the recorder breaks down, as asked");
        }
        self.disk.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.disk.flush()
    }
}

impl Storage for Breaking {
    fn sync(&self) -> io::Result<()> {
        self.disk.sync()
    }

    fn second(&self) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(self.clone()))
    }
}

/// A fault of the program in the thread that records: what came before is on the disk, and the
/// job ends with the code of such faults.
#[test]
fn a_recorder_that_breaks_down_brings_what_it_has_to_the_disk_and_ends_the_job() {
    let (disk, armed) = (Disk::default(), Arc::new(AtomicBool::new(false)));
    let broke = Arc::new(AtomicBool::new(false));
    let storage =
        Breaking { disk: disk.clone(), armed: Arc::clone(&armed), broke: Arc::clone(&broke) };
    let job = start_on(Box::new(storage), Way::Sound, Box::new(|| Err("gone".to_owned())));
    job.host_mark(HostMarkAction::Start, "");
    until(&job, saved);
    // Nothing but the end of the recorder may sync what follows.
    disk.with(|state| state.held = true);
    job.host_mark(HostMarkAction::Note, "the last that was written");
    wait_until("the note", || held(&disk.bytes(), b"the last that was written"));
    armed.store(true, Ordering::SeqCst);
    job.host_mark(HostMarkAction::Finish, "");
    wait_until("the fault", || broke.load(Ordering::SeqCst));
    disk.with(|state| state.held = false);
    until(&job, |event| matches!(event, LiveEvent::Failed(_)));
    assert!(held(&disk.on_platter(), b"the last that was written"));
    assert_eq!(job.finish().trouble.unwrap().code, exit::INTERNAL);
}

fn held(bytes: &[u8], words: &[u8]) -> bool {
    bytes.windows(words.len()).any(|window| window == words)
}
