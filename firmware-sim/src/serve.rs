//! Serves a simulation on two lines in real time, or faster: pseudo-terminals, or lines inside
//! the program.
//!
//! This part reads the clock and sleeps; what it serves is decided by the simulation alone,
//! except for the instant at which bytes from the host reach the board.

#![expect(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "serves a simulation in real time"
)]

#[cfg(unix)]
use crate::image::{Image, ImageError};
#[cfg(unix)]
use crate::pty::{Pty, PtyError};
#[cfg(unix)]
use crate::test_pin::BenchInput;
use crate::world::{Port, Simulation};
#[cfg(unix)]
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
#[cfg(unix)]
use trundle_bench::{Bridge, Stimulus};

/// Pause between two looks at the ports.
const PAUSE: Duration = Duration::from_millis(2);

/// Bytes that wait for a client that is slow for a moment, as a driver's buffer would hold them.
/// Beyond that nobody reads, and the oldest go.
const WAITING_MAX: usize = 64 * 1024;

/// At the end a client that is slow for a moment is waited for so long.
const LAST_WAIT: Duration = Duration::from_secs(3);

/// Most time that is simulated at once, microseconds. After the computer slept the rest follows in
/// the next turns, so that what waits for a line is bounded, and a stop is heard soon.
const BURST_US: u64 = 1_000_000;

/// Most time that an image is given at once, microseconds of the simulation. On a computer too
/// slow for the pace, all falls behind together, and no port is flooded to catch up.
#[cfg(unix)]
const IMAGE_BURST_US: u64 = 100_000;

/// The simulator's end of a line.
pub trait LineEnd {
    /// Why the line failed.
    type Error;

    /// Gives the client as many of the bytes as find room, without waiting, and throws nothing
    /// away. Returns how many were taken.
    ///
    /// # Errors
    ///
    /// When the line fails.
    fn offer(&self, bytes: &[u8]) -> Result<usize, Self::Error>;

    /// Sends bytes to the client without waiting; what finds no room even after the oldest
    /// unread bytes were thrown away is lost. Returns how many were taken.
    ///
    /// # Errors
    ///
    /// When the line fails.
    fn send(&self, bytes: &[u8]) -> Result<usize, Self::Error>;

    /// Appends what the client has written so far, without waiting.
    ///
    /// # Errors
    ///
    /// When the line fails.
    fn receive(&self, into: &mut Vec<u8>) -> Result<(), Self::Error>;
}

/// Bytes on their way to one port.
#[derive(Debug, Default)]
struct Outbox {
    waiting: Vec<u8>,
}

impl Outbox {
    fn push(&mut self, bytes: &[u8]) {
        self.waiting.extend_from_slice(bytes);
    }

    fn flush<L: LineEnd>(&mut self, port: &L) -> Result<(), L::Error> {
        let taken = port.offer(&self.waiting)?;
        self.waiting.drain(..taken);
        if self.waiting.len() > WAITING_MAX {
            port.send(&self.waiting)?;
            self.waiting.clear();
        }
        Ok(())
    }
}

/// The lines of a simulation.
#[derive(Debug)]
pub struct Pair<L> {
    /// The counter board.
    pub board: L,
    /// The satellite receiver.
    pub receiver: L,
    /// The adapter on the implement bus, where there is one.
    pub bus: Option<L>,
}

/// Pseudo-terminals.
#[cfg(unix)]
pub type Ports = Pair<Pty>;

#[cfg(unix)]
impl Pair<Pty> {
    /// Opens board and receiver; with a folder given, links `board` and `receiver` in it.
    ///
    /// # Errors
    ///
    /// [`PtyError`] when a terminal or a link cannot be had.
    pub fn open(links: Option<&Path>) -> Result<Self, PtyError> {
        let mut ports = Self { board: Pty::open()?, receiver: Pty::open()?, bus: None };
        if let Some(folder) = links {
            ports.board.link(&folder.join("board"))?;
            ports.receiver.link(&folder.join("receiver"))?;
        }
        Ok(ports)
    }

    /// Opens the adapter's too, and links `bus` in the folder given.
    ///
    /// # Errors
    ///
    /// As [`Self::open`].
    pub fn with_bus(mut self, links: Option<&Path>) -> Result<Self, PtyError> {
        let mut bus = Pty::open()?;
        if let Some(folder) = links {
            bus.link(&folder.join("bus"))?;
        }
        self.bus = Some(bus);
        Ok(self)
    }
}

/// How to serve.
#[derive(Clone, Copy, Debug)]
pub struct Pacing {
    /// Simulated seconds for each second.
    pub pace: f64,
    /// Go on after the job is done, with the tractor standing.
    pub keep_open: bool,
}

/// Runs the simulation behind the lines until it is finished or `stop` is set. `on_change` is
/// informed of what the tractor does, each time that changes.
///
/// # Errors
///
/// The line's own, when it fails.
pub fn serve<L: LineEnd>(
    simulation: &mut Simulation,
    ports: &Pair<L>,
    pacing: Pacing,
    stop: &AtomicBool,
    on_change: &mut dyn FnMut(&Simulation, &str),
) -> Result<(), L::Error> {
    serve_watched(simulation, ports, pacing, stop, &mut changes(on_change))
}

/// As [`serve`]; `on_turn` sees the simulation after each of its turns, some milliseconds apart.
///
/// # Errors
///
/// The line's own, when it fails.
pub fn serve_watched<L: LineEnd>(
    simulation: &mut Simulation,
    ports: &Pair<L>,
    pacing: Pacing,
    stop: &AtomicBool,
    on_turn: &mut dyn FnMut(&Simulation),
) -> Result<(), L::Error> {
    let bytes_of_board = &mut |_: &mut Simulation, simulated, _: &[u8]| Ok(simulated);
    run(simulation, ports, (pacing, BURST_US), stop, on_turn, bytes_of_board)
}

/// Sees every turn and tells of those in which the tractor begins to do something else.
fn changes(on_change: &mut dyn FnMut(&Simulation, &str)) -> impl FnMut(&Simulation) {
    let mut doing = String::new();
    move |simulation| {
        let now = simulation.activity();
        if now != doing {
            on_change(simulation, &now);
            doing = now;
        }
    }
}

/// As [`serve`], with a firmware image in the place of the simulated board. The simulated one
/// runs on beside it, unheard, and is given the same.
///
/// # Errors
///
/// [`ImageError`] when a terminal or the image fails.
#[cfg(unix)]
pub fn serve_image(
    simulation: &mut Simulation,
    image: &mut Image,
    ports: &Ports,
    pacing: Pacing,
    stop: &AtomicBool,
    on_change: &mut dyn FnMut(&Simulation, &str),
) -> Result<(), ImageError> {
    // From here on it listens; nothing has happened yet.
    simulation.stimuli();
    let mut bridged = None;
    let bytes_of_board = &mut |simulation: &mut Simulation, _, from_host: &[u8]| {
        image.tell(from_host);
        for (at_us, stimulus) in simulation.stimuli() {
            image.play(at_us, stimulus);
        }
        if bridged != simulation.bridged() {
            bridged = simulation.bridged();
            let to = bridged.map_or(Bridge::Open, BenchInput::of_image);
            image.play(simulation.board_us(), Stimulus::Bridge(to));
        }
        image.run_to(simulation.board_us())?;
        Ok(image.heard())
    };
    let on_turn = &mut changes(on_change);
    run(simulation, ports, (pacing, IMAGE_BURST_US), stop, on_turn, bytes_of_board)
}

/// Gives what goes to the board's port: of the simulation, what the simulated board sent, and
/// what the host said.
type BytesOfBoard<'a, E> = dyn FnMut(&mut Simulation, Vec<u8>, &[u8]) -> Result<Vec<u8>, E> + 'a;

fn run<L: LineEnd, E: From<L::Error>>(
    simulation: &mut Simulation,
    ports: &Pair<L>,
    (pacing, burst_us): (Pacing, u64),
    stop: &AtomicBool,
    on_turn: &mut dyn FnMut(&Simulation),
    bytes_of_board: &mut BytesOfBoard<'_, E>,
) -> Result<(), E> {
    let started = Instant::now();
    let from_us = simulation.now_us();
    let mut out = Vec::new();
    let mut from_host = Vec::new();
    let (mut to_board_port, mut to_receiver_port) = (Outbox::default(), Outbox::default());
    let mut to_bus_port = Outbox::default();
    // Nobody has opened its channel yet.
    simulation.adapter_plugged();
    while !stop.load(Ordering::Relaxed) && (pacing.keep_open || !simulation.finished()) {
        let passed_us = started.elapsed().as_secs_f64() * 1e6 * pacing.pace;
        let most_us = simulation.now_us().saturating_add(burst_us);
        simulation.advance_to((from_us + passed_us as u64).min(most_us), &mut out);
        let mut simulated = Vec::new();
        for emission in out.drain(..) {
            match emission.port {
                Port::Board => simulated.extend(emission.bytes),
                Port::Receiver => to_receiver_port.push(&emission.bytes),
                Port::Bus => to_bus_port.push(&emission.bytes),
            }
        }
        to_board_port.push(&bytes_of_board(simulation, simulated, &from_host)?);
        from_host.clear();
        to_board_port.flush(&ports.board)?;
        to_receiver_port.flush(&ports.receiver)?;
        if let Some(bus) = &ports.bus {
            to_bus_port.flush(bus)?;
            bus.receive(&mut from_host)?;
            simulation.adapter_input(&from_host);
            from_host.clear();
        }
        // What is written to the receiver (its set-up, say) is read and forgotten.
        ports.receiver.receive(&mut from_host)?;
        from_host.clear();
        ports.board.receive(&mut from_host)?;
        if !from_host.is_empty() {
            simulation.board_input(&from_host);
        }
        on_turn(simulation);
        std::thread::sleep(PAUSE);
    }
    // The last of it finds its way too, unless nobody reads any more.
    let until = Instant::now() + LAST_WAIT;
    let waits = |boxes: [&Outbox; 2]| boxes.iter().any(|one| !one.waiting.is_empty());
    while waits([&to_board_port, &to_receiver_port])
        && !stop.load(Ordering::Relaxed)
        && Instant::now() < until
    {
        std::thread::sleep(PAUSE);
        to_board_port.flush(&ports.board)?;
        to_receiver_port.flush(&ports.receiver)?;
    }
    Ok(())
}
