//! A port and a disk that do as they are told.

pub mod job;

use std::collections::VecDeque;
use std::io::{self, ErrorKind, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};
use trundle::ports::serial::BytePort;
use trundle::recorder::live::{LiveEvent, LiveJob};
use trundle::shell::storage::Storage;

/// Bounds a hang; what is waited for comes much sooner, also on a loaded machine.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// Wait until this is so.
#[track_caller]
pub fn wait_until(what: &str, mut so: impl FnMut() -> bool) {
    let started = Instant::now();
    while !so() {
        assert!(started.elapsed() < PATIENCE, "{what}: did not come");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Events of a job in their order. What came together with an awaited one is kept for the next
/// wait, however late this thread looks.
#[derive(Default)]
pub struct Heard {
    waiting: VecDeque<LiveEvent>,
    /// Up to the one that was awaited last.
    pub seen: Vec<LiveEvent>,
}

impl Heard {
    /// Wait until an event fits.
    #[track_caller]
    pub fn until(&mut self, job: &LiveJob, fits: impl Fn(&LiveEvent) -> bool) {
        let started = Instant::now();
        loop {
            while let Some(event) = self.waiting.pop_front() {
                let found = fits(&event);
                self.seen.push(event);
                if found {
                    return;
                }
            }
            assert!(started.elapsed() < PATIENCE, "did not come; seen: {:?}", self.seen);
            self.waiting.extend(job.poll(Duration::from_millis(50)));
        }
    }

    /// All that came: awaited, on the way, and left at the end.
    pub fn all(mut self, rest: Vec<LiveEvent>) -> Vec<LiveEvent> {
        self.seen.extend(self.waiting);
        self.seen.extend(rest);
        self.seen
    }
}

/// What a port does next.
pub enum Step {
    Bytes(Vec<u8>),
    Fail(ErrorKind),
    /// A read that says it read nothing, as after an unplugged adapter.
    Nothing,
    /// A read that does not come back, whatever timeout it was given.
    Hang,
}

struct FakePort {
    steps: Receiver<Step>,
    written: Arc<Mutex<Vec<u8>>>,
    alive: Arc<AtomicBool>,
}

pub struct Hand {
    pub steps: Sender<Step>,
    pub written: Arc<Mutex<Vec<u8>>>,
    pub alive: Arc<AtomicBool>,
}

pub fn fake_port() -> (Box<dyn BytePort>, Hand) {
    let (sender, steps) = channel();
    let written = Arc::new(Mutex::new(Vec::new()));
    let alive = Arc::new(AtomicBool::new(true));
    let port = FakePort { steps, written: written.clone(), alive: alive.clone() };
    (Box::new(port), Hand { steps: sender, written, alive })
}

impl Read for FakePort {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self.steps.recv_timeout(Duration::from_millis(20)) {
            Ok(Step::Bytes(bytes)) => {
                buffer[..bytes.len()].copy_from_slice(&bytes);
                Ok(bytes.len())
            }
            Ok(Step::Fail(kind)) => Err(kind.into()),
            Ok(Step::Nothing) => Ok(0),
            Ok(Step::Hang) => loop {
                std::thread::sleep(PATIENCE);
            },
            Err(RecvTimeoutError::Timeout) => Err(ErrorKind::TimedOut.into()),
            Err(RecvTimeoutError::Disconnected) => {
                std::thread::sleep(Duration::from_millis(20));
                Err(ErrorKind::TimedOut.into())
            }
        }
    }
}

impl Write for FakePort {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.written.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl BytePort for FakePort {
    fn set_wait(&mut self, _: Duration) {}
}

impl Drop for FakePort {
    fn drop(&mut self) {
        self.alive.store(false, Ordering::SeqCst);
    }
}

/// A disk whose syncs and writes can be held up, and which can be full or broken.
#[derive(Clone, Default)]
pub struct Disk(Arc<(Mutex<DiskState>, Condvar)>);

#[derive(Default)]
pub struct DiskState {
    pub bytes: Vec<u8>,
    synced: usize,
    pub held: bool,
    /// Writes do not come back.
    pub stalled: bool,
    pub room: Option<usize>,
    pub sync_fails: bool,
    syncs: usize,
    syncs_begun: usize,
}

impl Disk {
    pub fn with(&self, change: impl FnOnce(&mut DiskState)) {
        change(&mut self.0.0.lock().unwrap());
        self.0.1.notify_all();
    }

    pub fn bytes(&self) -> Vec<u8> {
        self.0.0.lock().unwrap().bytes.clone()
    }

    pub fn syncs(&self) -> usize {
        self.0.0.lock().unwrap().syncs
    }

    /// Syncs that were asked for, held up or not.
    pub fn syncs_begun(&self) -> usize {
        self.0.0.lock().unwrap().syncs_begun
    }

    pub fn on_platter(&self) -> Vec<u8> {
        let state = self.0.0.lock().unwrap();
        state.bytes[..state.synced].to_vec()
    }
}

impl Write for Disk {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.0.0.lock().unwrap();
        while state.stalled {
            state = self.0.1.wait(state).unwrap();
        }
        let room = state.room.map_or(bytes.len(), |room| room.saturating_sub(state.bytes.len()));
        if room == 0 {
            return Err(ErrorKind::StorageFull.into());
        }
        let taken = bytes.len().min(room);
        state.bytes.extend_from_slice(&bytes[..taken]);
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Storage for Disk {
    fn sync(&self) -> io::Result<()> {
        let mut state = self.0.0.lock().unwrap();
        let length = state.bytes.len();
        state.syncs_begun += 1;
        while state.held {
            state = self.0.1.wait(state).unwrap();
        }
        state.syncs += 1;
        if state.sync_fails {
            // Only once: the next one would pretend that all is well.
            state.sync_fails = false;
            return Err(io::Error::other("input/output error"));
        }
        // Two syncs at once: the earlier one takes nothing back.
        state.synced = state.synced.max(length);
        Ok(())
    }

    fn second(&self) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(self.clone()))
    }
}
