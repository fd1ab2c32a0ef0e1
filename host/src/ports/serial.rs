//! One thread a port: read, stamp, hand on; when the port is lost, open it again.
//!
//! The thread owns the port alone, for writing too: on some systems a write and a read at the
//! same time hold each other up. It knows nothing of frames or sentences; whether what comes is
//! still its part's it asks [`trundle_core::fitness::judge`], and where else to look
//! [`super::search`].

pub use super::byte_port::BytePort;
use super::open::{READ_WAIT, WRITE_WAIT};
use super::probe::{hello_request, nonce, passing};
use crate::shell::clock::Clock;
use crate::shell::out::scrub;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use trundle_core::capture::{BODY_MAX, PortRole};
use trundle_core::fitness::Loss;
use trundle_core::fitness::judge::{Judge, PortRuling};
use trundle_protocol::message::Identity;

/// First and longest pause before a lost port is tried again: a port that is back has to be found
/// and proven within two seconds.
const PAUSES: (Duration, Duration) = (Duration::from_millis(100), Duration::from_millis(400));
/// Longest pause for a port that opens and fails at once, again and again.
const FAILING_PAUSE: Duration = Duration::from_secs(1);
/// How long a port under another name may take to show that it is a board. Some boards restart
/// when their port is opened.
const BOARD_PROOF: Duration = Duration::from_millis(3500);
/// How long an adapter that was set up may take to show that it is something else after all.
const ADAPTER_PROOF: Duration = Duration::from_millis(300);
/// How long it may take to show that it is a receiver: a slow one sends once a second.
const RECEIVER_PROOF: Duration = Duration::from_millis(1300);
/// How often a board is asked who it is.
const ASK_AGAIN: Duration = Duration::from_millis(300);
/// Pause after an answer of "nothing yet" that came too soon, so that no port can make the
/// thread spin.
const NO_SPIN: Duration = Duration::from_millis(5);
/// Longest a link is waited for when it is asked to stop.
const STOP_WAIT: Duration = Duration::from_millis(500);

/// A port that was opened in the place of a lost one.
pub struct Reopened {
    /// The port that was opened.
    pub port: Box<dyn BytePort>,
    /// Where it was found, when that is not where the lost one was: then it counts only once its
    /// bytes show what it is.
    pub place: Option<String>,
}

/// Opens ports in the place of a lost one.
pub trait Reopen: Send {
    /// The next one to try; `why` the last one was given up.
    ///
    /// # Errors
    /// Why there is none; the next call begins again.
    fn next(&mut self, why: Loss) -> Result<Reopened, String>;

    /// The one last given is in use from now on.
    fn taken(&mut self) {}
}

/// For what always opens the same port.
impl<F: FnMut() -> Result<Box<dyn BytePort>, String> + Send> Reopen for F {
    fn next(&mut self, _: Loss) -> Result<Reopened, String> {
        self().map(|port| Reopened { port, place: None })
    }
}

/// What opens the port again.
pub type Opener = Box<dyn Reopen>;

/// Something a port gave.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrived {
    /// Which port it came from.
    pub role: PortRole,
    /// Host time of its arrival, nanoseconds.
    pub host_ns: u64,
    /// What came from the port.
    pub news: PortNews,
}

/// What a port can give.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortNews {
    /// Bytes, at most [`BODY_MAX`] at once.
    Bytes(Vec<u8>),
    /// It is open again; where, when that is another place than before.
    Opened(Option<String>),
    /// It is disconnected, or given up.
    Lost(Loss, String),
}

/// A port being read.
pub struct Link {
    stop: Arc<AtomicBool>,
    again: Arc<AtomicBool>,
    outgoing: Sender<Vec<u8>>,
    thread: Option<JoinHandle<()>>,
}

impl Link {
    /// Read `port` from now on and hand on what comes; `hand_on` says whether anybody still
    /// listens.
    ///
    /// # Errors
    /// The system's, when it gives no thread.
    pub fn start(
        role: PortRole,
        port: Box<dyn BytePort>,
        reopen: Opener,
        clock: Clock,
        hand_on: impl FnMut(Arrived) -> bool + Send + 'static,
    ) -> std::io::Result<Self> {
        let stop = Arc::new(AtomicBool::new(false));
        let (outgoing, to_send) = channel();
        let again = Arc::new(AtomicBool::new(false));
        let (stopped, to_open) = (Arc::clone(&stop), Arc::clone(&again));
        let mut worker =
            Worker { role, reopen, clock, stop: stopped, to_open, to_send, hand_on, board: None };
        let thread = std::thread::Builder::new().spawn(move || worker.run(port))?;
        Ok(Self { stop, again, outgoing, thread: Some(thread) })
    }

    /// A handle that writes to the port whenever it is open.
    #[must_use]
    pub fn writer(&self) -> Sender<Vec<u8>> {
        self.outgoing.clone()
    }

    /// Set, the port is closed and reopened.
    #[must_use]
    pub fn reopens(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.again)
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

struct Worker<F> {
    role: PortRole,
    reopen: Opener,
    clock: Clock,
    stop: Arc<AtomicBool>,
    to_open: Arc<AtomicBool>,
    to_send: Receiver<Vec<u8>>,
    hand_on: F,
    /// Who the board said it was.
    board: Option<Identity>,
}

/// How listening ended.
enum Ended {
    /// It is time to stop.
    Stop,
    /// The port is no good any more.
    Lost(Loss, String),
}

/// Bytes with the host time at which they came.
type Held = Vec<(u64, Vec<u8>)>;

impl<F: FnMut(Arrived) -> bool> Worker<F> {
    fn run(&mut self, port: Box<dyn BytePort>) {
        let mut port = port;
        let mut pause = PAUSES.0;
        loop {
            let (ended, received) = self.listen(port.as_mut());
            // Closed before it is waited for: while the old handle lives, the system cannot give
            // the same name to the device that comes back.
            drop(port);
            let Ended::Lost(loss, why) = ended else { return };
            if !self.give(PortNews::Lost(loss, scrub(&why, 120))) {
                return;
            }
            // A port that opens and fails at once must not be tried ten times a second.
            pause = if received { PAUSES.0 } else { (pause * 2).min(FAILING_PAUSE) };
            let Some(found) = self.find_again(loss, &mut pause) else { return };
            port = found;
        }
    }

    /// Reads until the port is lost or it is time to stop; returns whether anything came.
    fn listen(&mut self, port: &mut dyn BytePort) -> (Ended, bool) {
        let mut buffer = vec![0; BODY_MAX];
        let mut received = false;
        let mut judge = Judge::new(self.role, None, 0);
        port.set_wait(READ_WAIT);
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return (Ended::Stop, received);
            }
            if self.to_open.swap(false, Ordering::Relaxed) {
                let why = "the computer slept; the port is reopened".to_owned();
                return (Ended::Lost(Loss::Gone, why), received);
            }
            // Only to what has shown that it is a board: behind the name may be an adapter now.
            if judge.is_boards()
                && let Err(error) = self.send_waiting(port)
            {
                return (gone(&error), received);
            }
            match read(port, &mut buffer) {
                Ok(Some(bytes)) => {
                    received = true;
                    if !self.give(PortNews::Bytes(bytes.to_vec())) {
                        return (Ended::Stop, received);
                    }
                    // Time as the person's: a paced job runs against a clock that is faster.
                    let now_ns = (self.clock.now_ns() as f64 / self.clock.pace()) as u64;
                    let verdict = judge.goes_on(bytes, now_ns);
                    self.board = judge.board().or(self.board);
                    if let Some(lost) = self.not_ours(verdict) {
                        return (lost, received);
                    }
                }
                Ok(None) => {}
                Err(error) => return (gone(&error), received),
            }
        }
    }

    fn not_ours(&self, verdict: PortRuling) -> Option<Ended> {
        let (loss, why) = match verdict {
            PortRuling::Unsure | PortRuling::Fits => return None,
            PortRuling::Foreign => {
                (Loss::Foreign, format!("the data received is not from the {}", self.role.name()))
            }
            PortRuling::Unreadable => {
                (Loss::Unreadable, "the data received cannot be read at this speed".to_owned())
            }
        };
        Some(Ended::Lost(loss, why))
    }

    fn send_waiting(&mut self, port: &mut dyn BytePort) -> std::io::Result<()> {
        while let Ok(bytes) = self.to_send.try_recv() {
            send(port, &bytes)?;
        }
        Ok(())
    }

    /// Wait for a port to take the place of the lost one, and say that it is open.
    fn find_again(&mut self, why: Loss, pause: &mut Duration) -> Option<Box<dyn BytePort>> {
        // The port is still there when its bytes were the reason: nothing to wait for.
        let mut wait = why == Loss::Gone;
        loop {
            if wait && !self.rest(*pause) {
                return None;
            }
            // What was to be written to the lost port is not for the one that comes.
            while self.to_send.try_recv().is_ok() {}
            match self.reopen.next(why) {
                Ok(Reopened { port, place: None }) => {
                    self.reopen.taken();
                    return self.give(PortNews::Opened(None)).then_some(port);
                }
                Ok(Reopened { mut port, place }) => {
                    wait = false;
                    if let Some(held) = self.prove(port.as_mut()) {
                        self.reopen.taken();
                        return self.hand_on_all(place, held).then_some(port);
                    }
                    if self.stop.load(Ordering::Relaxed) {
                        return None;
                    }
                }
                Err(_) => {
                    wait = true;
                    *pause = (*pause * 2).min(PAUSES.1.max(*pause));
                }
            }
        }
    }

    /// Sleep; false when it is time to stop.
    fn rest(&self, pause: Duration) -> bool {
        let until = Instant::now() + pause;
        while Instant::now() < until {
            if self.stop.load(Ordering::Relaxed) {
                return false;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        true
    }

    /// Listen until the bytes show that the part is behind this port; gives what came meanwhile,
    /// which is recorded then. Nothing when it is something else.
    fn prove(&self, port: &mut dyn BytePort) -> Option<Held> {
        let nonce = nonce(self.role as usize);
        let limit = match self.role {
            PortRole::Board => BOARD_PROOF,
            PortRole::Receiver => RECEIVER_PROOF,
            // Its set-up was its proof; a bus may be silent.
            PortRole::Bus => ADAPTER_PROOF,
        };
        let mut judge = Judge::new(self.role, self.board, nonce);
        let (mut held, mut buffer) = (Held::new(), vec![0; BODY_MAX]);
        let started = Instant::now();
        let mut asked: Option<Instant> = None;
        port.set_wait(READ_WAIT);
        while started.elapsed() < limit && !self.stop.load(Ordering::Relaxed) {
            let ours = self.role == PortRole::Board && judge.is_boards();
            if ours && asked.is_none_or(|at| at.elapsed() > ASK_AGAIN) {
                asked = Some(Instant::now());
                send(port, &hello_request(nonce)).ok()?;
            }
            let Some(bytes) = read(port, &mut buffer).ok()? else { continue };
            held.push((self.clock.now_ns(), bytes.to_vec()));
            match judge.tried(bytes) {
                PortRuling::Unsure => {}
                PortRuling::Fits => return Some(held),
                PortRuling::Foreign | PortRuling::Unreadable => return None,
            }
        }
        (self.role == PortRole::Bus).then_some(held)
    }

    fn hand_on_all(&mut self, place: Option<String>, held: Held) -> bool {
        let role = self.role;
        let opened_ns = held.first().map_or_else(|| self.clock.now_ns(), |(host_ns, _)| *host_ns);
        let opened = (opened_ns, PortNews::Opened(place));
        let bytes = held.into_iter().map(|(host_ns, bytes)| (host_ns, PortNews::Bytes(bytes)));
        std::iter::once(opened)
            .chain(bytes)
            .all(|(host_ns, news)| (self.hand_on)(Arrived { role, host_ns, news }))
    }

    fn give(&mut self, news: PortNews) -> bool {
        (self.hand_on)(Arrived { role: self.role, host_ns: self.clock.now_ns(), news })
    }
}

fn gone(error: &std::io::Error) -> Ended {
    Ended::Lost(Loss::Gone, error.to_string())
}

/// One read: bytes, nothing yet, or why the port is lost.
fn read<'a>(port: &mut dyn BytePort, buffer: &'a mut [u8]) -> std::io::Result<Option<&'a [u8]>> {
    let asked = Instant::now();
    match port.read(buffer) {
        Ok(0) => Err(std::io::Error::other("it was closed at the other end")),
        Ok(count) => Ok(Some(&buffer[..count])),
        Err(error) if passing(error.kind()) => {
            if asked.elapsed() < NO_SPIN {
                std::thread::sleep(NO_SPIN);
            }
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

/// Write, within [`WRITE_WAIT`].
fn send(port: &mut dyn BytePort, bytes: &[u8]) -> std::io::Result<()> {
    port.set_wait(WRITE_WAIT);
    let sent = port.write_all(bytes);
    port.set_wait(READ_WAIT);
    match sent {
        // A board that takes nothing shows by not answering.
        Err(error) if passing(error.kind()) => Ok(()),
        sent => sent,
    }
}
