//! The simulated tractor behind two pseudo-terminals, with hands that pull plugs.

use super::TempDir;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use trundle_sim::pty::Pty;
use trundle_sim::serve::{Pacing, Ports, serve};
use trundle_sim::{Emission, Port, Scenario, Simulation, Truth};

/// Pause between two looks at the ports.
const PAUSE: Duration = Duration::from_millis(2);
/// Most simulated time served at one look, microseconds: after a stall of this process the bytes
/// come as a stream that can be read, not as one burst that no terminal holds.
const BURST_US: u64 = 150_000;

/// A real receiver's sentences, by simulated time.
#[derive(Clone, Debug)]
pub struct Recording(pub Vec<(u64, Vec<u8>)>);

/// Simulated seconds of board reports that a pseudo-terminal holds while nobody reads.
const HELD_S: f64 = 1.2;
/// Most bytes held for a port that is not read.
const HELD_MAX: usize = 16 * 1024;
/// Beat of the clock by which a starving machine is told.
const BEAT: Duration = Duration::from_millis(5);

/// What is done to the ports besides serving them.
#[derive(Clone, Debug, Default)]
pub struct Hands {
    /// This port is pulled out and put in again at these simulated times, seconds.
    pub unplug: Option<(Port, f64, f64)>,
    /// What the receiver's port carries instead of the simulated receiver.
    pub recording: Option<Recording>,
}

#[derive(Default)]
struct Seen {
    activities: Vec<String>,
    receiver_sent: Vec<u8>,
    /// What the bus adapter was sent.
    commands: Vec<String>,
}

/// A tractor driving in a thread of its own until it is stopped.
pub struct Tractor {
    seen: Arc<Mutex<Seen>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<Truth>>,
    started: Instant,
    pace: f64,
    /// Longest stall of this process so far, microseconds.
    worst_us: Arc<AtomicU64>,
    folder: TempDir,
}

impl Tractor {
    /// Starts to serve.
    pub fn start(scenario: &Scenario, seed: u64, pace: f64, hands: Option<Hands>) -> Self {
        #[cfg(target_os = "linux")]
        super::session::own_session();
        let folder = TempDir::new();
        let mut ports = Ports::open(Some(folder.path())).unwrap();
        if scenario.bus.is_some() {
            ports = ports.with_bus(Some(folder.path())).unwrap();
        }
        let (seen, stop) =
            (Arc::new(Mutex::new(Seen::default())), Arc::new(AtomicBool::new(false)));
        let mut simulation = Simulation::new(scenario, seed);
        let links = folder.path().to_owned();
        let (into, halt) = (Arc::clone(&seen), Arc::clone(&stop));
        let worst_us = beat(Arc::clone(&stop));
        let started = Instant::now();
        let thread = std::thread::spawn(move || {
            match hands {
                None => {
                    let mut note = |simulation: &Simulation, doing: &str| {
                        let shown = simulation.shown().map(|words| format!("; {words}"));
                        let line = format!("{doing}{}", shown.unwrap_or_default());
                        into.lock().unwrap().activities.push(line);
                    };
                    let pacing = Pacing { pace, keep_open: true };
                    serve(&mut simulation, &ports, pacing, &halt, &mut note).unwrap();
                }
                Some(hands) => {
                    let (board, receiver) = (Some(ports.board), Some(ports.receiver));
                    let (bus, held) = (ports.bus, [const { Vec::new() }; 3]);
                    let seen = Arc::clone(&into);
                    simulation.adapter_plugged();
                    let mut bench =
                        Bench { simulation, board, receiver, bus, held, links, hands, seen };
                    bench.serve(pace, &halt);
                    simulation = bench.simulation;
                }
            }
            into.lock().unwrap().commands = simulation.adapter_commands();
            simulation.truth()
        });
        Self { seen, stop, thread: Some(thread), started, pace, worst_us, folder }
    }

    /// Simulated time by the wall clock, seconds; the simulation itself is never ahead of it.
    pub fn now_s(&self) -> f64 {
        self.started.elapsed().as_secs_f64() * self.pace
    }

    /// The machine stalled for longer than the ports hold bytes, so that some may be lost: what
    /// was measured then says nothing about the program.
    pub fn starved(&self) -> bool {
        self.worst_us.load(Ordering::Relaxed) as f64 * 1e-6 * self.pace > HELD_S
    }

    pub fn board(&self) -> String {
        self.folder.file("board")
    }

    pub fn receiver(&self) -> String {
        self.folder.file("receiver")
    }

    pub fn bus(&self) -> String {
        self.folder.file("bus")
    }

    /// Stops it and tells every command that its bus adapter was sent.
    pub fn stop_and_tell_commands(mut self) -> Vec<String> {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap();
        std::mem::take(&mut self.seen.lock().unwrap().commands)
    }

    /// All it has done, in order; the last is what it does now.
    pub fn activities(&self) -> Vec<String> {
        assert!(!self.thread.as_ref().unwrap().is_finished(), "the simulated tractor broke down");
        self.seen.lock().unwrap().activities.clone()
    }

    pub fn done(&self) -> bool {
        self.activities().last().is_some_and(|doing| doing.starts_with("the job is done"))
    }

    /// All bytes that went into the receiver's port so far; only with [`Hands`].
    pub fn receiver_sent(&self) -> Vec<u8> {
        self.seen.lock().unwrap().receiver_sent.clone()
    }

    /// Stops it and tells what it truly did.
    pub fn stop(mut self) -> Truth {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap()
    }
}

/// Watches how late this process comes to run.
fn beat(stop: Arc<AtomicBool>) -> Arc<AtomicU64> {
    let worst_us = Arc::new(AtomicU64::new(0));
    let into = Arc::clone(&worst_us);
    std::thread::spawn(move || {
        while !stop.load(Ordering::Relaxed) {
            let before = Instant::now();
            std::thread::sleep(BEAT);
            let late = before.elapsed().saturating_sub(BEAT);
            into.fetch_max(late.as_micros() as u64, Ordering::Relaxed);
        }
    });
    worst_us
}

impl Drop for Tractor {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A thread that broke down has said so by itself.
            let _ = thread.join();
        }
    }
}

/// The served ports, which may be gone for a while.
struct Bench {
    simulation: Simulation,
    board: Option<Pty>,
    receiver: Option<Pty>,
    bus: Option<Pty>,
    /// Bytes that found no room yet in the ports of board, receiver and adapter, as a driver holds
    /// them.
    held: [Vec<u8>; 3],
    links: PathBuf,
    hands: Hands,
    seen: Arc<Mutex<Seen>>,
}

impl Bench {
    fn serve(&mut self, pace: f64, stop: &AtomicBool) {
        let mut last = Instant::now();
        let mut now_us = 0_u64;
        let mut owed_us = 0.0;
        let mut out = Vec::new();
        while !stop.load(Ordering::Relaxed) {
            owed_us += last.elapsed().as_secs_f64() * 1e6 * pace;
            last = Instant::now();
            let step_us = (owed_us as u64).min(BURST_US);
            owed_us -= step_us as f64;
            now_us += step_us;
            self.simulation.advance_to(now_us, &mut out);
            self.plugs(now_us as f64 * 1e-6);
            for emission in out.drain(..) {
                self.hand_out(&emission);
            }
            self.play(now_us);
            self.flush();
            self.listen();
            let doing = self.simulation.activity();
            let mut seen = self.seen.lock().unwrap();
            if seen.activities.last() != Some(&doing) {
                seen.activities.push(doing);
            }
            drop(seen);
            std::thread::sleep(PAUSE);
        }
    }

    fn hand_out(&mut self, emission: &Emission) {
        let (port, here) = match emission.port {
            Port::Board => (0, self.board.is_some()),
            Port::Receiver => (1, self.receiver.is_some() && self.hands.recording.is_none()),
            Port::Bus => (2, self.bus.is_some()),
        };
        if here {
            self.held[port].extend_from_slice(&emission.bytes);
        }
    }

    /// What of the recording is due.
    fn play(&mut self, now_us: u64) {
        let Some(Recording(parts)) = &mut self.hands.recording else { return };
        let due = parts.partition_point(|(at_us, _)| *at_us <= now_us);
        for (_, bytes) in parts.drain(..due) {
            self.held[1].extend_from_slice(&bytes);
        }
    }

    /// Gives the ports what they have room for. Beyond some seconds nobody reads, and the oldest
    /// bytes go.
    fn flush(&mut self) {
        for (port, pty) in [&self.board, &self.receiver, &self.bus].into_iter().enumerate() {
            let Some(pty) = pty else { continue };
            let held = &mut self.held[port];
            let many = held.len() > HELD_MAX;
            let taken = if many { pty.send(held) } else { pty.offer(held) }.unwrap();
            if port == 1 && self.hands.recording.is_some() {
                self.seen.lock().unwrap().receiver_sent.extend_from_slice(&held[..taken]);
            }
            held.drain(..if many { held.len() } else { taken });
        }
    }

    fn listen(&mut self) {
        let mut from_host = Vec::new();
        if let Some(board) = &self.board {
            board.receive(&mut from_host).unwrap();
            self.simulation.board_input(&from_host);
        }
        if let Some(receiver) = &self.receiver {
            receiver.receive(&mut from_host).unwrap();
        }
        from_host.clear();
        if let Some(bus) = &self.bus {
            bus.receive(&mut from_host).unwrap();
            self.simulation.adapter_input(&from_host);
        }
    }

    /// Pulls a plug and puts it in again: the terminal goes, and another comes under the link.
    fn plugs(&mut self, now_s: f64) {
        let Some((port, out_s, in_s)) = self.hands.unplug else { return };
        let (pty, name) = match port {
            Port::Board => (&mut self.board, "board"),
            Port::Receiver => (&mut self.receiver, "receiver"),
            Port::Bus => (&mut self.bus, "bus"),
        };
        if (out_s..in_s).contains(&now_s) {
            *pty = None;
            self.held[port as usize].clear();
        } else if now_s >= in_s && pty.is_none() {
            let mut fresh = Pty::open().unwrap();
            fresh.link(&self.links.join(name)).unwrap();
            *pty = Some(fresh);
            if port == Port::Bus {
                self.simulation.adapter_plugged();
            }
        }
    }
}
