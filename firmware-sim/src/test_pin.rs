//! The board's test pin on the bench: its known signal, the wire that bridges it to an input, and
//! what may be wrong with a board that somebody has soldered.

use crate::prng::Prng;
use std::iter::Peekable;
use trundle_bench::Bridge;
use trundle_counter::Counter;
use trundle_counter::test_signal::{Changes, LENGTH_US};
use trundle_protocol::message::{MarkSource, SetMinEdgeInterval, ToBoard};
use trundle_protocol::units::{Channel, Fixed32};
use trundle_protocol::{Deframer, WireMessage as _};

/// An input that the test pin can be bridged to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BenchInput {
    /// One that counts impulses.
    Impulses(Channel),
    /// Implement in work.
    Work,
    /// The mark button or the gate.
    Marks(MarkSource),
}

impl BenchInput {
    /// All of them, in the order of the check.
    pub const ALL: [Self; 6] = [
        Self::Impulses(Channel::Wheel),
        Self::Impulses(Channel::Radar),
        Self::Impulses(Channel::Pto),
        Self::Work,
        Self::Marks(MarkSource::Button),
        Self::Marks(MarkSource::Gate),
    ];

    /// Its word on the command line.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Impulses(channel) => channel.name(),
            Self::Work => "implement",
            Self::Marks(MarkSource::Button) => "button",
            Self::Marks(MarkSource::Gate) => "gate",
        }
    }

    /// The input of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|input| input.word() == word)
    }

    /// The same bridge at the pins of an image.
    #[must_use]
    pub const fn of_image(self) -> Bridge {
        match self {
            Self::Impulses(channel) => Bridge::Impulses(channel),
            Self::Work => Bridge::Working,
            Self::Marks(source) => Bridge::Mark(source),
        }
    }
}

/// Something wrong with a board that was soldered by hand. All are invented.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BenchFault {
    /// About one edge of a thousand never comes, as behind a joint that is cold.
    Drops(BenchInput),
    /// Nothing comes at all.
    Dead(BenchInput),
    /// The input filter is taken, and does nothing.
    NoFilter(BenchInput),
    /// Time stamps are up to 8 us late, now more and now less.
    Shaky(BenchInput),
    /// A bridge of solder: what comes to the first comes to the second too.
    Joined(BenchInput, BenchInput),
    /// Two wires are swapped: what comes to one arrives at the other.
    Swapped(BenchInput, BenchInput),
}

impl BenchFault {
    /// What is said on the command line: the fault, and the inputs it is of, all with colons
    /// between, as `drops:wheel` or `joined:wheel:radar`. `None` where there is no such fault.
    #[must_use]
    pub fn from_words(words: &str) -> Option<Self> {
        let mut words = words.split(':');
        let (kind, input) = (words.next()?, BenchInput::from_word(words.next()?)?);
        let other = words.next().map(BenchInput::from_word);
        if words.next().is_some() {
            return None;
        }
        Some(match (kind, other) {
            ("drops", None) => Self::Drops(input),
            ("dead", None) => Self::Dead(input),
            ("no-filter", None) => Self::NoFilter(input),
            ("shaky", None) => Self::Shaky(input),
            ("joined", Some(Some(other))) => Self::Joined(input, other),
            ("swapped", Some(Some(other))) => Self::Swapped(input, other),
            _ => return None,
        })
    }
}

/// A bench: where the wire goes, and what is wrong with the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BenchSetup {
    /// The inputs that are bridged, one after the other; the wire stays on the last.
    pub bridge: Vec<BenchInput>,
    /// What is wrong.
    pub faults: Vec<BenchFault>,
    /// Firmware version that the board reports.
    pub firmware: [u8; 3],
}

impl Default for BenchSetup {
    fn default() -> Self {
        Self { bridge: Vec::new(), faults: Vec::new(), firmware: trundle_counter::FIRMWARE }
    }
}

/// Share of the edges that [`BenchFault::Drops`] loses.
const DROPPED: f64 = 1e-3;
/// Most that [`BenchFault::Shaky`] is late, microseconds.
const SHAKY_US: f64 = 8.0;
/// The wire goes on to the next input when the signal has run through once, or after this long:
/// nobody waits for ever at an input that is dead. Microseconds.
const HOLD_US: u64 = 75_000_000;

/// The pin while a board runs.
pub(crate) struct TestPin {
    setup: BenchSetup,
    bridged: Option<BenchInput>,
    /// Place in the list of those that are bridged, and since when, by the board's clock.
    place: usize,
    since_us: Option<u64>,
    /// Board time of the signal's start, and what is still to come of it.
    signal: Option<(u64, Peekable<Changes>)>,
    random: Prng,
    deframer: Deframer<ToBoard>,
}

impl TestPin {
    pub fn new(setup: &BenchSetup, seed: u64) -> Self {
        Self {
            bridged: setup.bridge.first().copied(),
            setup: setup.clone(),
            place: 0,
            since_us: None,
            signal: None,
            random: Prng::new(seed, "test pin"),
            deframer: Deframer::new(),
        }
    }

    /// Moves the wire by hand.
    pub fn bridge(&mut self, to: Option<BenchInput>) {
        self.bridged = to;
        self.setup.bridge.clear();
    }

    /// Where the wire is.
    pub const fn bridged(&self) -> Option<BenchInput> {
        self.bridged
    }

    /// The board begins or ends to identify itself. The signal begins with the first of several
    /// commands to begin.
    pub fn identify(&mut self, on: bool, board_us: u64) {
        match (on, &self.signal) {
            (false, _) => {
                self.move_on(board_us);
                self.signal = None;
            }
            (true, None) => {
                self.since_us.get_or_insert(board_us);
                self.signal = Some((board_us, Changes::default().peekable()));
            }
            (true, Some(_)) => {}
        }
    }

    /// A person takes the wire to the next input of the list.
    fn move_on(&mut self, board_us: u64) {
        let through = self.signal.as_ref().is_some_and(|(from_us, _)| {
            // The end of the last period is only idle: nobody waits for it to the microsecond.
            board_us + 1_000_000 >= from_us + LENGTH_US
        });
        let held = self.since_us.is_some_and(|since_us| board_us > since_us + HOLD_US);
        if (through || held)
            && let Some(&next) = self.setup.bridge.get(self.place + 1)
        {
            self.place += 1;
            self.bridged = Some(next);
            self.since_us = Some(board_us);
        }
    }

    /// The board restarts: the pin idles.
    pub fn stop(&mut self) {
        self.signal = None;
    }

    /// Board time of the next change of the pin.
    pub fn next_us(&mut self) -> Option<u64> {
        let (from_us, changes) = self.signal.as_mut()?;
        changes.peek().map(|change| *from_us + change.at_us)
    }

    /// Carries the next change over the wire; `ticks_at` gives the timer's reading at a board time.
    pub fn step(&mut self, counter: &mut Counter, ticks_at: impl Fn(u64) -> u32) {
        let Some((from_us, changes)) = self.signal.as_mut() else { return };
        let Some(change) = changes.next() else { return };
        let at_us = *from_us + change.at_us;
        let Some(bridged) = self.bridged else { return };
        let mut late_us = 0;
        let mut reached = vec![bridged];
        for fault in &self.setup.faults {
            match *fault {
                BenchFault::Dead(input) => reached.retain(|one| *one != input),
                BenchFault::Drops(input) if input == bridged && self.random.unit() < DROPPED => {
                    reached.clear();
                }
                BenchFault::Shaky(input) if input == bridged => {
                    late_us = (self.random.unit() * (SHAKY_US + 1.0)) as u64;
                }
                BenchFault::Joined(input, other) if input == bridged => reached.push(other),
                BenchFault::Swapped(input, other) if input == bridged => reached = vec![other],
                BenchFault::Swapped(other, input) if input == bridged => reached = vec![other],
                _ => {}
            }
        }
        let ticks = ticks_at(at_us + late_us);
        for input in reached {
            match input {
                BenchInput::Impulses(channel) if change.falls => counter.on_edge(channel, ticks),
                BenchInput::Marks(source) if change.falls => counter.on_mark(source, ticks),
                BenchInput::Impulses(_) | BenchInput::Marks(_) => {}
                BenchInput::Work => counter.on_working(change.falls, ticks),
            }
        }
    }

    /// A byte from the host on its way to the firmware: what of it gets there.
    pub fn heard(&mut self, byte: u8) -> Vec<u8> {
        let deaf = |channel: Channel| {
            self.setup.faults.contains(&BenchFault::NoFilter(BenchInput::Impulses(channel)))
        };
        if !Channel::ALL.into_iter().any(deaf) {
            return vec![byte];
        }
        match self.deframer.push(byte) {
            None => Vec::new(),
            Some(Err(_)) => vec![byte],
            Some(Ok(ToBoard::SetMinEdgeInterval(set))) if deaf(set.channel) => {
                let set = SetMinEdgeInterval { interval_us: Fixed32(0), ..set };
                ToBoard::SetMinEdgeInterval(set).frame().as_bytes().to_vec()
            }
            Some(Ok(command)) => command.frame().as_bytes().to_vec(),
        }
    }
}
