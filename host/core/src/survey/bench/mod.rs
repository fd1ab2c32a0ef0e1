//! A counter board on the bench: does each input count right, before it meets a tractor?
//!
//! The board gives its known signal on a spare pin, which a person bridges to one input after the
//! other. What was asked of the person stands in the capture's notes, what was asked of the board
//! in its answers ([`commands`] gives each command a request number of its own), and what came in
//! counts, edge times and marks. So a replay of the capture judges the same.

pub mod commands;
pub mod finding;
pub mod lead;

mod impulses;
mod judge;
mod latched;
mod runs;

pub use finding::BenchFinding;

use crate::fitness::board_clock;
use crate::session::trail::Trail;
use crate::session::{Session, Totals};
use crate::survey::sensors::check::{CheckLine, Mark, board};
use trundle_counter::config::CAPABILITY_PPS;
use trundle_protocol::message::{Hello, MarkSource};
use trundle_protocol::units::Channel;

crate::units::words! {
    /// An input that is bridged to the test pin.
    #[derive(PartialOrd, Ord)]
    pub enum Input {
        /// Impulses of the wheel sensor.
        Wheel = "wheel",
        /// Impulses of the radar.
        Radar = "radar",
        /// Impulses of the PTO shaft.
        Pto = "pto",
        /// Level: implement in work.
        Implement = "implement",
        /// The mark button.
        Button = "button",
        /// The light gate.
        Gate = "gate",
    }
}

impl Input {
    /// All of them, in the order in which they are bridged.
    pub const ALL: [Self; 6] =
        [Self::Wheel, Self::Radar, Self::Pto, Self::Implement, Self::Button, Self::Gate];

    /// The input of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|input| input.word() == word)
    }

    /// The impulse input it is, where it is one.
    #[must_use]
    pub const fn channel(self) -> Option<Channel> {
        match self {
            Self::Wheel => Some(Channel::Wheel),
            Self::Radar => Some(Channel::Radar),
            Self::Pto => Some(Channel::Pto),
            Self::Implement | Self::Button | Self::Gate => None,
        }
    }

    /// What gives its marks, where it is a mark input.
    #[must_use]
    pub const fn marks(self) -> Option<MarkSource> {
        match self {
            Self::Button => Some(MarkSource::Button),
            Self::Gate => Some(MarkSource::Gate),
            _ => None,
        }
    }

    /// Its title for people.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Wheel => "wheel input",
            Self::Radar => "radar input",
            Self::Pto => "PTO input",
            Self::Implement => "implement input",
            Self::Button => "button input",
            Self::Gate => "gate input",
        }
    }

    /// The pin of a Raspberry Pi Pico that the firmware reads it by.
    #[must_use]
    pub const fn pin(self) -> &'static str {
        match self {
            Self::Wheel => "GP2",
            Self::Radar => "GP3",
            Self::Pto => "GP4",
            Self::Implement => "GP5",
            Self::Button => "GP6",
            Self::Gate => "GP7",
        }
    }

    /// Those that a board with these capabilities has. Button and gate have no bit of their own:
    /// every board has them.
    #[must_use]
    pub fn of_board(capabilities: u8) -> Vec<Self> {
        let has = |input: &Self| match input.channel() {
            Some(channel) => capabilities & (1 << channel.index()) != 0,
            None => *input != Self::Implement || capabilities & board::WORKING != 0,
        };
        Self::ALL.into_iter().filter(has).collect()
    }
}

/// The pin of a Raspberry Pi Pico that gives the test signal.
pub const TEST_PIN: &str = "GP15";

/// What the signal shows at this moment of the input that is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Now {
    /// The input that is to be bridged.
    pub input: Input,
    /// Board time at which the run began, microseconds; `None` before the first.
    pub run_from_us: Option<u64>,
    /// What it shows so far.
    pub state: RunState,
    /// Line or computer spoilt so many runs that it is left at that.
    pub given_up: bool,
}

/// What one run of the signal showed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RunState {
    /// Not far enough to say anything.
    Going,
    /// Nothing came on any input.
    Silent,
    /// It came on these inputs, and not on the one asked for.
    Elsewhere(Vec<Input>),
    /// It comes on the input asked for, so far.
    Present,
    /// So many impulses of the first part came: the bridge was set or moved meanwhile.
    Partial(u64),
    /// It cannot be judged, through no fault of the board; why.
    Spoilt(&'static str),
    /// All of it was seen, with so many faults.
    Judged(usize),
}

/// The whole check on the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// Its lines: the board, each input that was to be bridged, filters, the board's clock.
    pub lines: Vec<CheckLine>,
    /// The inputs that were to be bridged, as the capture's notes say.
    pub planned: Vec<Input>,
    /// The input asked for last.
    pub now: Option<Now>,
    /// Who the board is.
    pub hello: Option<Hello>,
    /// The error of its clock, where it could be seen.
    pub clock: Option<board_clock::ClockRate>,
    /// Damaged bytes of the capture.
    pub damaged_bytes: u64,
    /// The capture was closed in order, or is still growing.
    pub whole: bool,
}

impl Bench {
    /// The line of an input.
    #[must_use]
    pub fn line(&self, input: Input) -> Option<&CheckLine> {
        self.lines.iter().find(|line| line.key == input.word())
    }

    /// Lines that came out so.
    pub fn with(&self, mark: Mark) -> impl Iterator<Item = &CheckLine> {
        self.lines.iter().filter(move |line| line.mark == mark)
    }

    /// Every input that was to be bridged passed, and nothing else failed.
    #[must_use]
    pub fn passes(&self) -> bool {
        let fine = |line: &CheckLine| {
            line.mark == Mark::Pass || line.optional && line.mark == Mark::NotSeen
        };
        self.lines.iter().all(fine) && !self.planned.is_empty() && self.damaged_bytes == 0
    }

    /// Titles of the inputs that the board has and this check says nothing of. That of the pulse
    /// per second is never bridged.
    #[must_use]
    pub fn untested(&self) -> Vec<&'static str> {
        let capabilities = self.hello.map_or(0, |hello| hello.capabilities);
        let mut titles: Vec<&str> = Input::of_board(capabilities)
            .into_iter()
            .filter(|input| !self.planned.contains(input))
            .map(Input::title)
            .collect();
        if capabilities & CAPABILITY_PPS != 0 {
            titles.push("PPS input");
        }
        titles
    }

    /// Every input that was to be bridged was judged, well or ill.
    #[must_use]
    pub fn judged(&self) -> bool {
        let decided =
            |input: &Input| self.line(*input).is_some_and(|line| line.mark != Mark::NotSeen);
        !self.planned.is_empty() && self.planned.iter().all(decided)
    }
}

/// Judge what a session holds that kept every sample. `growing`: its capture is still open.
#[must_use]
pub fn bench(session: &Session, growing: bool) -> Bench {
    let trail = session.trail().unwrap_or_default();
    bench_of(&trail, session.notes(), &session.totals(), growing || session.ended())
}

/// The same from its parts: trail, notes with their host times, totals.
#[must_use]
pub fn bench_of(trail: &Trail, notes: &[(u64, String)], totals: &Totals, whole: bool) -> Bench {
    let planned = commands::planned(notes);
    let asked = runs::asked(trail, notes);
    let mut lines = vec![board::hello(trail, totals), board::firmware(trail)];
    lines.extend(planned.iter().map(|&input| judge::line(input, &asked)));
    lines.push(judge::filters(trail));
    let clock = board_clock::rate(trail);
    lines.push(board::clock(clock.as_ref()));
    Bench {
        lines,
        planned,
        now: asked.last().map(judge::now),
        hello: trail.hello,
        clock,
        damaged_bytes: totals.damaged_bytes,
        whole,
    }
}
