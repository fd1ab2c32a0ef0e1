//! Ports that fail where nobody looks: when they are written to, and when they are closed.
#![allow(clippy::unwrap_used, missing_docs)]

#[allow(dead_code)]
mod fakes;

use fakes::{Disk, PATIENCE};
use std::io::{self, ErrorKind, Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use trundle::capture::HostMarkAction;
use trundle::ports::PortChoice;
use trundle::ports::serial::{BytePort, Opener};
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup, Parts};
use trundle::session::SessionEvent;
use trundle::shell::exit;
use trundle::shell::storage::Storage;

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
    /// Nothing is wrong, and nothing comes.
    Sound,
}

/// Longest that one write may hold up the reads beside it: some systems let one wait for the
/// other.
const WRITE_MOST: Duration = Duration::from_millis(200);

struct BadPort {
    way: Way,
    wait: Duration,
}

impl BadPort {
    const fn new(way: Way) -> Self {
        Self { way, wait: Duration::MAX }
    }
}

impl Read for BadPort {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        std::thread::sleep(Duration::from_millis(20));
        Err(ErrorKind::TimedOut.into())
    }
}

impl Write for BadPort {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        assert!(self.wait <= WRITE_MOST, "a write may wait for {:?}", self.wait);
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
    let port = |path: &str| PortChoice { path: path.to_owned(), baud: 115_200 };
    let setup = LiveSetup {
        board: port("board"),
        receiver: None,
        capture: "fake.capture".into(),
        course_text: None,
        trail_apart_us: None,
        pace: 1.0,
        started_utc: Some("2026-03-30T10:15:00Z".to_owned()),
        practice: false,
    };
    let writer = CaptureWriter::on(storage, Path::new("fake.capture"));
    let board: (Box<dyn BytePort>, Opener) = (Box::new(BadPort::new(way)), reopen);
    LiveJob::start_with(&setup, Parts { writer, board, receiver: None }).unwrap()
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
            let job = start(
                way,
                Box::new(move || {
                    counted.fetch_add(1, Ordering::SeqCst);
                    Ok(Box::new(BadPort::new(Way::Sound)) as Box<dyn BytePort>)
                }),
            );
            let started = Instant::now();
            let mut seen = Vec::new();
            while tries.load(Ordering::SeqCst) == 0 {
                seen.extend(job.poll(Duration::from_millis(20)));
                // A system that only sees a flush fail may go on: then there is nothing to find.
                if matches!(way, Way::FlushFails(_)) && started.elapsed().as_secs() > 2 {
                    break;
                }
                assert!(started.elapsed() < PATIENCE, "{way:?}: {seen:?}");
            }
            if matches!(way, Way::WriteFails(_)) {
                assert!(lost(&seen), "{way:?}: {seen:?}");
            }
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

fn until(job: &LiveJob, fits: impl Fn(&LiveEvent) -> bool) {
    let started = Instant::now();
    while !job.poll(Duration::from_millis(50)).iter().any(&fits) {
        assert!(started.elapsed() < PATIENCE * 2, "did not come");
    }
}

fn saved(event: &LiveEvent) -> bool {
    matches!(event, LiveEvent::Acknowledged(SessionEvent::Mark { .. }))
}

#[test]
fn a_write_that_stalls_is_told_and_holds_up_no_mark() {
    let job = start(Way::WriteHangs, Box::new(|| Err("gone".to_owned())));
    until(&job, |event| matches!(event, LiveEvent::NotAnswering { .. }));
    let pressed = Instant::now();
    job.host_mark(HostMarkAction::Start, "");
    until(&job, saved);
    assert!(pressed.elapsed() < PATIENCE / 2, "the mark waited for the port");
    assert_eq!(job.finish().trouble, None);
    assert!(pressed.elapsed() < PATIENCE / 2, "the end waited for the port");
}

/// A disk on which the program itself breaks down once something is written after `armed`.
struct Breaking(Disk, Arc<AtomicBool>);

impl Write for Breaking {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        assert!(!self.1.load(Ordering::SeqCst), "the recorder breaks down, as asked");
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl Storage for Breaking {
    fn sync(&self) -> io::Result<()> {
        self.0.sync()
    }

    fn second(&self) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(Self(self.0.clone(), Arc::clone(&self.1))))
    }
}

/// A fault of the program in the thread that records: what came before is on the disk, and the
/// job ends with the code of such faults.
#[test]
fn a_recorder_that_breaks_down_brings_what_it_has_to_the_disk_and_ends_the_job() {
    let (disk, armed) = (Disk::default(), Arc::new(AtomicBool::new(false)));
    let storage = Breaking(disk.clone(), Arc::clone(&armed));
    let job = start_on(Box::new(storage), Way::Sound, Box::new(|| Err("gone".to_owned())));
    job.host_mark(HostMarkAction::Start, "");
    until(&job, saved);
    // Nothing but the end of the recorder may sync what follows.
    disk.with(|state| state.held = true);
    job.host_mark(HostMarkAction::Note, "the last that was written");
    let started = Instant::now();
    while !held(&disk.bytes(), b"the last that was written") {
        assert!(started.elapsed() < PATIENCE);
        std::thread::sleep(Duration::from_millis(5));
    }
    armed.store(true, Ordering::SeqCst);
    job.host_mark(HostMarkAction::Finish, "");
    std::thread::sleep(Duration::from_millis(50));
    disk.with(|state| state.held = false);
    until(&job, |event| matches!(event, LiveEvent::Failed(_)));
    assert!(held(&disk.on_platter(), b"the last that was written"));
    assert_eq!(job.finish().trouble.unwrap().code, exit::INTERNAL);
}

fn held(bytes: &[u8], words: &[u8]) -> bool {
    bytes.windows(words.len()).any(|window| window == words)
}
