//! Practice: a simulated tractor inside the program, measured in the place of ports.
//!
//! It begins to drive, on the day it is, when the first job connects; from then on it goes on,
//! connected or not, until it is stopped: one job after another may measure it, as it would a
//! real one. What nobody reads is lost, as at a port that nobody has open.

use super::PortChoice;
use super::adapter::Adapter;
use super::choose::BusPart;
use super::open::{BOARD_BAUD, READ_WAIT};
use super::serial::{BytePort, Opener};
use crate::shell::clock::wall_utc_ns;
use crate::shell::exit::{self, Trouble};
use std::convert::Infallible;
use std::fmt;
use std::ops::RangeInclusive;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use trundle_core::capture::PortRole;
use trundle_sim::inside::{Near, NoLine, Socket, line};
use trundle_sim::serve::{Pacing, Pair, serve_watched};
use trundle_sim::{KeyedIn, Scenario, Simulation, Truth, Wish};

/// Simulated seconds for each second that can be asked for.
pub const PACES: RangeInclusive<f64> = 0.1..=100.0;
/// What it does before a job connects.
const WAITS: &str = "standing; it sets off with the first job";
/// A second, nanoseconds.
const SECOND_NS: i64 = 1_000_000_000;
const MEANS_NONE: &str = "Nothing was measured and nothing was written.";

/// A simulated tractor that is there until its last handle is dropped, or it is stopped.
#[derive(Clone)]
pub struct Practice(Arc<Tractor>);

struct Tractor {
    wish: Wish,
    pace: f64,
    board_id: u64,
    keyed_in: Option<KeyedIn>,
    truth: Truth,
    /// Of board, receiver and, where there is one, bus adapter.
    sockets: Vec<(PortRole, Socket)>,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// What a job measures of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Needs {
    /// The counter board.
    pub board: bool,
    /// The satellite receiver.
    pub receiver: bool,
    /// The implement bus.
    pub bus: BusPart,
}

/// An open line, and what opens it again.
pub type Part = (Box<dyn BytePort>, Opener);

/// Is told what the tractor does.
pub type Listener = Box<dyn FnMut(&str) + Send>;

/// What both the tractor's thread and its handles see.
#[derive(Default)]
struct Shared {
    stop: AtomicBool,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    /// A job has connected.
    begun: bool,
    doing: String,
    shown: Option<String>,
    listener: Option<Listener>,
}

impl Shared {
    /// Every change is made in one piece, so a panic elsewhere leaves whole values behind.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
        // Under the lock, so that a thread between its look and its wait hears it too.
        let _state = self.lock();
        self.changed.notify_all();
    }

    fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn see(&self, simulation: &Simulation) {
        let (doing, shown) = (simulation.activity(), simulation.shown());
        let mut state = self.lock();
        state.shown = shown;
        if state.doing != doing {
            state.doing = doing;
            state.tell();
        }
    }
}

impl State {
    fn words(&self) -> String {
        let doing = if self.begun { &self.doing } else { WAITS };
        match &self.shown {
            Some(shown) => format!("{doing}; {shown}"),
            None => doing.to_owned(),
        }
    }

    fn tell(&mut self) {
        let words = self.words();
        if let Some(listener) = &mut self.listener {
            listener(&words);
        }
    }
}

impl Practice {
    /// A tractor for a scenario; the same seed gives the same tractor in every scenario. `pace` is
    /// simulated seconds for each second. Its day is today, whatever the wish says.
    ///
    /// # Errors
    /// [`Trouble`]: no such scenario or pace (2), no thread to be had (4).
    pub fn start(wish: &Wish, seed: u64, pace: f64) -> Result<Self, Trouble> {
        let unknown = || {
            let name = crate::shell::out::scrub(&wish.scenario, 40);
            let what = format!("There is no scenario \"{name}\" to practise with.");
            Trouble::new(exit::USAGE, what, MEANS_NONE, "`trundle demo --list` names them all.")
        };
        if !PACES.contains(&pace) {
            let what = format!("The pace {pace} is not one to practise at.");
            let next = format!("Give one from {} to {}.", PACES.start(), PACES.end());
            return Err(Trouble::new(exit::USAGE, what, MEANS_NONE, next));
        }
        let first = Simulation::new(&wish.scenario().ok_or_else(unknown)?, seed);
        let has_bus = wish.scenario().is_some_and(|scenario| scenario.bus.is_some());
        let (board, to_board) = line(READ_WAIT);
        let (receiver, to_receiver) = line(READ_WAIT);
        let (bus, to_bus) = has_bus.then(|| line(READ_WAIT)).unzip();
        let mut sockets = vec![(PortRole::Board, to_board), (PortRole::Receiver, to_receiver)];
        sockets.extend(to_bus.map(|socket| (PortRole::Bus, socket)));
        let shared = Arc::new(Shared::default());
        let (seen, wished) = (Arc::clone(&shared), wish.clone());
        let lines = Pair { board, receiver, bus };
        let run = std::thread::Builder::new()
            .name("practice".to_owned())
            .spawn(move || run(&seen, wished, seed, pace, &lines));
        let thread = Some(run.map_err(|error| no_thread(&error))?);
        let (board_id, keyed_in, truth) = (first.board_id(), first.keyed_in(), first.truth());
        let wish = wish.clone();
        Ok(Self(Arc::new(Tractor {
            wish,
            pace,
            board_id,
            keyed_in,
            truth,
            sockets,
            shared,
            thread,
        })))
    }

    /// What the capture calls the lines that a job of these needs is given: board, receiver, bus.
    ///
    /// # Errors
    /// [`Trouble`]: a bus is needed, and the scenario has none (2).
    pub fn choices(&self, needs: Needs) -> Result<[Option<PortChoice>; 3], Trouble> {
        let has_bus = self.0.sockets.iter().any(|(role, _)| *role == PortRole::Bus);
        if needs.bus == BusPart::Needed && !has_bus {
            let what = format!("The scenario \"{}\" has no implement bus.", self.scenario());
            let next = format!("Choose one that has: {}.", with_bus().join(", "));
            return Err(Trouble::new(exit::USAGE, what, MEANS_NONE, next));
        }
        let choice = |role| PortChoice { path: name(role).to_owned(), baud: BOARD_BAUD };
        Ok([
            needs.board.then(|| choice(PortRole::Board)),
            needs.receiver.then(|| choice(PortRole::Receiver)),
            has_bus.then(|| choice(PortRole::Bus)),
        ])
    }

    /// The lines themselves, all or none, in the same order; held until they are dropped. The first
    /// who gets them sets the tractor off.
    ///
    /// # Errors
    /// [`Trouble`]: as [`Self::choices`]; another job holds a line (4); it was stopped (3).
    pub fn connect(&self, needs: Needs) -> Result<[Option<Part>; 3], Trouble> {
        let choices = self.choices(needs)?;
        let mut lines = [None, None, None];
        for (at, (role, socket)) in self.0.sockets.iter().enumerate() {
            if choices[at].is_some() {
                let far = socket.connect().map_err(|why| no_line(*role, why))?;
                lines[at] = Some((*role, far, socket));
            }
        }
        self.begin();
        let mut parts = [None, None, None];
        for (part, line) in parts.iter_mut().zip(lines) {
            let Some((role, far, socket)) = line else { continue };
            let port: Box<dyn BytePort> = if role == PortRole::Bus {
                Box::new(Adapter::listen_only(far).map_err(|fault| fault.trouble(name(role)))?)
            } else {
                Box::new(far)
            };
            *part = Some((port, opener(role, socket.clone())));
        }
        Ok(parts)
    }

    fn begin(&self) {
        self.0.shared.lock().begun = true;
        self.0.shared.changed.notify_all();
    }

    /// From now on `listener` is told what the tractor does, at once and each time that changes,
    /// and nobody else is.
    pub fn tell(&self, listener: Listener) {
        let mut state = self.0.shared.lock();
        state.listener = Some(listener);
        if !state.doing.is_empty() {
            state.tell();
        }
    }

    /// What the tractor does now, in words: "pass 1 of 6, out: driving".
    #[must_use]
    pub fn doing(&self) -> String {
        let state = self.0.shared.lock();
        if state.begun { state.doing.clone() } else { WAITS.to_owned() }
    }

    /// What the terminal shows now, in words, where the scenario has one: "the terminal shows
    /// 1234.5 m, 0.0 km/h".
    #[must_use]
    pub fn shown(&self) -> Option<String> {
        self.0.shared.lock().shown.clone()
    }

    /// What was keyed into the terminal, and what was there before, where the scenario has one.
    #[must_use]
    pub fn keyed_in(&self) -> Option<KeyedIn> {
        self.0.keyed_in
    }

    /// The name of its scenario.
    #[must_use]
    pub fn scenario(&self) -> &str {
        &self.0.wish.scenario
    }

    /// Simulated seconds for each second.
    #[must_use]
    pub fn pace(&self) -> f64 {
        self.0.pace
    }

    /// Identity of its counter board.
    #[must_use]
    pub fn board_id(&self) -> u64 {
        self.0.board_id
    }

    /// What a measurement should find, before anything was driven.
    #[must_use]
    pub fn truth(&self) -> &Truth {
        &self.0.truth
    }

    /// It is over: stopped, or broken down.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.0.shared.is_stopped() || self.0.thread.as_ref().is_none_or(JoinHandle::is_finished)
    }

    /// Stop it; a job that measures it loses its lines.
    pub fn stop(&self) {
        self.0.shared.stop();
    }
}

impl fmt::Debug for Practice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Practice({}, pace {})", self.scenario(), self.pace())
    }
}

impl Drop for Tractor {
    fn drop(&mut self) {
        self.shared.stop();
        if let Some(thread) = self.thread.take() {
            // A panic of the thread has been reported by its own hook.
            let _ = thread.join();
        }
    }
}

/// The tractor's thread: waits for the first job, drives from then on.
fn run(shared: &Shared, wish: Wish, seed: u64, pace: f64, lines: &Pair<Near>) {
    let waits = |state: &mut State| !state.begun && !shared.is_stopped();
    drop(shared.changed.wait_while(shared.lock(), waits));
    // A receiver's sentences come at round times.
    let now_ns = wall_utc_ns().div_euclid(SECOND_NS) * SECOND_NS;
    let Some(scenario) = (Wish { start_utc_ns: Some(now_ns), ..wish }).scenario() else { return };
    let mut simulation = Simulation::new(&scenario, seed);
    let pacing = Pacing { pace, keep_open: true };
    let mut see = |simulation: &Simulation| shared.see(simulation);
    let served = serve_watched(&mut simulation, lines, pacing, &shared.stop, &mut see);
    served.unwrap_or_else(|never: Infallible| match never {});
}

/// Scenarios that suit a live command (of `check --bench`: "bench"), the one to begin with first.
#[must_use]
pub fn suited(command: &str) -> &'static [&'static str] {
    match command {
        "check" => &["check", "speed-steps", "missing-tooth", "dropped-edges", "bounce"],
        "bench" => &["bench"],
        "drive" => &["no-button", "plain", "corrected", "standalone", "rolling-gate", "slope"],
        "slip" => &["wet-headland", "field"],
        "speeds" => &["speed-steps"],
        "pto" => &["pto-speeds"],
        "mount" => &["circles"],
        "proof" => &["proof-old", "proof", "proof-bus-old", "proof-bus", "proof-doubled"],
        "bus" => &["bus", "bus-full"],
        _ => &[],
    }
}

/// What a capture calls the line of a part.
const fn name(role: PortRole) -> &'static str {
    match role {
        PortRole::Board => "simulated board",
        PortRole::Receiver => "simulated receiver",
        PortRole::Bus => "simulated bus adapter",
    }
}

/// Scenarios with an implement bus.
fn with_bus() -> Vec<&'static str> {
    let has = |name: &&str| Scenario::named(name).is_some_and(|scenario| scenario.bus.is_some());
    Scenario::names().filter(has).collect()
}

/// Takes the line again when it was let go, as after the computer slept.
fn opener(role: PortRole, socket: Socket) -> Opener {
    Box::new(move || {
        let far = socket.connect().map_err(|why| no_line(role, why).what)?;
        let port: Box<dyn BytePort> = if role == PortRole::Bus {
            Box::new(Adapter::listen_only(far).map_err(|fault| fault.to_string())?)
        } else {
            Box::new(far)
        };
        Ok(port)
    })
}

fn no_line(role: PortRole, why: NoLine) -> Trouble {
    match why {
        NoLine::Taken => Trouble::new(
            exit::BLOCKED,
            format!("Another job measures this simulated tractor: its {} is taken.", role.name()),
            MEANS_NONE,
            "End that job first, or practise with another tractor.",
        ),
        NoLine::Over => Trouble::new(
            exit::PORT,
            "The simulated tractor was stopped.",
            MEANS_NONE,
            "Start practising again.",
        ),
    }
}

/// The system gives no thread.
fn no_thread(error: &std::io::Error) -> Trouble {
    let what = format!("The system gives this program no more threads ({error}).");
    let next = "Close other programs and try again.";
    Trouble::new(exit::BLOCKED, what, "There is no simulated tractor to measure.", next)
}
