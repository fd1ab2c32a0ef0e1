//! Ports that fail where nobody looks: when they are written to, and when they are closed.
#![allow(clippy::unwrap_used, missing_docs)]

#[allow(dead_code)]
mod fakes;

use fakes::{Disk, PATIENCE};
use std::io::{self, ErrorKind, Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use trundle::shell::capture_file::CaptureWriter;
use trundle::shell::live::{LiveEvent, LiveJob, LiveSetup, Parts, PortChoice};
use trundle::shell::serial::{BytePort, Opener};

/// What a port does.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    /// Every write fails with this.
    WriteFails(ErrorKind),
    /// Every flush does.
    FlushFails(ErrorKind),
    /// Closing it takes for ever.
    NeverCloses,
    /// Nothing is wrong, and nothing comes.
    Sound,
}

struct BadPort(Way);

impl Read for BadPort {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        std::thread::sleep(Duration::from_millis(20));
        Err(ErrorKind::TimedOut.into())
    }
}

impl Write for BadPort {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.0 {
            Way::WriteFails(kind) => Err(kind.into()),
            _ => Ok(bytes.len()),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self.0 {
            Way::FlushFails(kind) => Err(kind.into()),
            _ => Ok(()),
        }
    }
}

impl BytePort for BadPort {
    fn set_wait(&mut self, _: Duration) {}
}

impl Drop for BadPort {
    fn drop(&mut self) {
        if self.0 == Way::NeverCloses {
            std::thread::sleep(PATIENCE);
        }
    }
}

fn start(way: Way, reopen: Opener) -> LiveJob {
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
    let writer = CaptureWriter::on(Box::new(Disk::default()), Path::new("fake.capture"));
    let board: (Box<dyn BytePort>, Opener) = (Box::new(BadPort(way)), reopen);
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
                    Ok(Box::new(BadPort(Way::Sound)) as Box<dyn BytePort>)
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
