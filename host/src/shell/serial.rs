//! One thread a port: read, stamp, hand on; when the port is gone, open it again.
//!
//! The thread owns the port alone, for writing too: on some systems a write and a read at the
//! same time hold each other up. It knows nothing of frames or sentences.

use super::clock::Clock;
use super::out::scrub;
use super::ports::{READ_WAIT, WRITE_WAIT, aliases_of, open_now};
use super::probe::passing;
use crate::capture::{BODY_MAX, PortRole};
use serialport::SerialPort;
use std::io::{Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// First and longest pause before a lost port is tried again.
const PAUSES: (Duration, Duration) = (Duration::from_millis(100), Duration::from_secs(1));
/// Pause after an answer of "nothing yet" that came too soon, so that no port can make the
/// thread spin.
const NO_SPIN: Duration = Duration::from_millis(5);
/// Longest a link is waited for when it is told to stop.
const STOP_WAIT: Duration = Duration::from_millis(500);

/// What a link needs of a port.
pub trait BytePort: Read + Write + Send {
    /// How long the next read or write may wait.
    fn set_wait(&mut self, wait: Duration);
}

impl BytePort for Box<dyn SerialPort> {
    fn set_wait(&mut self, wait: Duration) {
        // Only a local number changes; a port that is gone shows itself at the next read.
        let _ = self.set_timeout(wait);
    }
}

/// Opens the port again; tells why it could not.
pub type Opener = Box<dyn FnMut() -> Result<Box<dyn BytePort>, String> + Send>;

/// Something a port gave.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrived {
    /// Which port.
    pub role: PortRole,
    /// Host time, nanoseconds.
    pub host_ns: u64,
    /// What.
    pub heard: Heard,
}

/// What a port can give.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Heard {
    /// Bytes, at most [`BODY_MAX`] at once.
    Bytes(Vec<u8>),
    /// It is open again.
    Opened(String),
    /// It is gone.
    Lost(String),
}

/// A port being read.
pub struct Link {
    stop: Arc<AtomicBool>,
    outgoing: Sender<Vec<u8>>,
    thread: Option<JoinHandle<()>>,
}

impl Link {
    /// Read `port` from now on and hand on what comes; `hand_on` says whether anybody still
    /// listens.
    pub fn start(
        role: PortRole,
        port: Box<dyn BytePort>,
        reopen: Opener,
        clock: Clock,
        hand_on: impl FnMut(Arrived) -> bool + Send + 'static,
    ) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let (outgoing, to_send) = channel();
        let mut worker = Worker { role, reopen, clock, stop: Arc::clone(&stop), to_send, hand_on };
        let thread = std::thread::spawn(move || worker.run(port));
        Self { stop, outgoing, thread: Some(thread) }
    }

    /// A handle that writes to the port whenever it is open.
    #[must_use]
    pub fn writer(&self) -> Sender<Vec<u8>> {
        self.outgoing.clone()
    }

    /// Ask the thread to stop, without waiting.
    pub fn ask_to_stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.ask_to_stop();
        if let Some(thread) = self.thread.take() {
            join_within(thread, STOP_WAIT);
        }
    }
}

/// Wait for a thread, but not longer than `limit`: a port whose driver never comes back must not
/// hold up the end of the job. A thread left behind ends with the program.
pub fn join_within(thread: JoinHandle<()>, limit: Duration) {
    let started = Instant::now();
    while !thread.is_finished() {
        if started.elapsed() > limit {
            return;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    // A panic of the thread has been reported by its own hook.
    let _ = thread.join();
}

/// An opener for a port of the system: by the same path, links resolved anew, or by its lasting
/// names, because a device that comes back may do so under another number.
#[must_use]
pub fn opener(path: &str, baud: u32) -> Opener {
    let mut names = vec![path.to_owned()];
    names.extend(aliases_of(path));
    Box::new(move || {
        let mut why = String::new();
        for name in &names {
            match open_now(name, baud) {
                Ok(port) => return Ok(Box::new(port)),
                Err(fault) if why.is_empty() => why = format!("{name}: {}", fault.words()),
                Err(_) => {}
            }
        }
        Err(why)
    })
}

struct Worker<F> {
    role: PortRole,
    reopen: Opener,
    clock: Clock,
    stop: Arc<AtomicBool>,
    to_send: Receiver<Vec<u8>>,
    hand_on: F,
}

impl<F: FnMut(Arrived) -> bool> Worker<F> {
    fn run(&mut self, port: Box<dyn BytePort>) {
        let mut port = port;
        let mut pause = PAUSES.0;
        loop {
            let (why, heard) = self.listen(port.as_mut());
            // Closed before it is waited for: while the old handle lives, the system cannot give
            // the same name to the device that comes back.
            drop(port);
            let Some(why) = why else { return };
            if !self.tell(Heard::Lost(scrub(&why, 120))) {
                return;
            }
            // A port that opens and fails at once must not be tried ten times a second.
            pause = if heard { PAUSES.0 } else { (pause * 2).min(PAUSES.1) };
            let Some(found) = self.find_again(&mut pause) else { return };
            port = found;
            if !self.tell(Heard::Opened("open again".to_owned())) {
                return;
            }
        }
    }

    /// Reads until the port fails (tells why) or it is time to stop; tells too whether anything
    /// came.
    fn listen(&mut self, port: &mut dyn BytePort) -> (Option<String>, bool) {
        let mut buffer = vec![0; BODY_MAX];
        let mut heard = false;
        port.set_wait(READ_WAIT);
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return (None, heard);
            }
            if let Err(error) = self.send_waiting(port) {
                return (Some(error.to_string()), heard);
            }
            let asked = Instant::now();
            match port.read(&mut buffer) {
                Ok(0) => return (Some("it was closed at the other end".to_owned()), heard),
                Ok(count) => {
                    heard = true;
                    if !self.tell(Heard::Bytes(buffer[..count].to_vec())) {
                        return (None, heard);
                    }
                }
                Err(error) if passing(error.kind()) => {
                    if asked.elapsed() < NO_SPIN {
                        std::thread::sleep(NO_SPIN);
                    }
                }
                Err(error) => return (Some(error.to_string()), heard),
            }
        }
    }

    fn send_waiting(&mut self, port: &mut dyn BytePort) -> std::io::Result<()> {
        while let Ok(bytes) = self.to_send.try_recv() {
            port.set_wait(WRITE_WAIT);
            let sent = port.write_all(&bytes);
            port.set_wait(READ_WAIT);
            match sent {
                // A board that takes nothing shows by not answering.
                Err(error) if passing(error.kind()) => {}
                Err(error) => return Err(error),
                Ok(()) => {}
            }
        }
        Ok(())
    }

    fn find_again(&mut self, pause: &mut Duration) -> Option<Box<dyn BytePort>> {
        loop {
            let until = Instant::now() + *pause;
            while Instant::now() < until {
                if self.stop.load(Ordering::Relaxed) {
                    return None;
                }
                std::thread::sleep(Duration::from_millis(10));
            }
            // What was to be written to the port that is gone is not for the one that comes.
            while self.to_send.try_recv().is_ok() {}
            match (self.reopen)() {
                Ok(port) => return Some(port),
                Err(_) => *pause = (*pause * 2).min(PAUSES.1),
            }
        }
    }

    fn tell(&mut self, heard: Heard) -> bool {
        (self.hand_on)(Arrived { role: self.role, host_ns: self.clock.now_ns(), heard })
    }
}
