//! A job at one moment, and what happens to it.

use super::Loss;
use crate::capture::PortRole;
use crate::session::SessionEvent;
use crate::session::bus::BusNow;
use crate::units::clock_words;
use crate::wire::board::CountSample;
use crate::wire::fix::Fix;
use crate::wire::sky::Sky;
use trundle_protocol::message::CHANNELS;

/// The job at one moment. Ages are seconds of the person's time.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// Host time, nanoseconds since the capture began.
    pub now_ns: u64,
    /// Host seconds for each second: 1 outside practice.
    pub pace: f64,
    /// The wall clock at that moment.
    pub wall: Wall,
    /// The tractor is a simulated one.
    pub practice: bool,
    /// The port of the counter board.
    pub board: LinkLook,
    /// The satellite receiver; `None` when the job goes without.
    pub receiver: Option<LinkLook>,
    /// The bus adapter; `None` when there is none.
    pub bus: Option<LinkLook>,
    /// What the bus says.
    pub bus_now: BusNow,
    /// The board's inputs, once known: bit n set, input n exists.
    pub inputs: Option<u8>,
    /// The newest counts, if any.
    pub sample: Option<CountSample>,
    /// The newest plausible fix, if any.
    pub fix: Option<Fix>,
    /// The newest sky that the receiver stated, unless it is old.
    pub sky: Option<Sky>,
    /// The open pass, as far as its start is on the disk.
    pub open_pass: Option<u32>,
    /// Passes with both marks so far, those left out included, as far as acknowledged.
    pub marked: usize,
    /// Impulses since the start of the open pass.
    pub impulses: Option<[u64; CHANNELS]>,
    /// Reasons against starting a pass now, each with what to do.
    pub against_start: Vec<String>,
}

/// A port at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LinkLook {
    /// Whether the port is open.
    pub open: bool,
    /// Age of its newest usable values, seconds.
    pub age_s: Option<f64>,
}

/// The wall clock and how far the person's own time is ahead of UTC.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wall {
    /// Nanoseconds since 1970, UTC.
    pub utc_ns: i64,
    /// The person's time minus UTC, seconds.
    pub offset_s: i32,
}

impl Look {
    /// The person's time of day at host time `host_ns`: `14:03:27`.
    #[must_use]
    pub fn at(&self, host_ns: u64) -> String {
        let ago_s = (self.now_ns as f64 - host_ns as f64) * 1e-9 / self.pace;
        clock_words(self.wall.utc_ns, f64::from(self.wall.offset_s) - ago_s)
    }

    /// Age of something that came at `host_ns`, seconds of the person's time.
    #[must_use]
    pub fn age_s(&self, host_ns: u64) -> f64 {
        self.now_ns.saturating_sub(host_ns) as f64 * 1e-9 / self.pace
    }
}

/// What a front end is shown.
#[derive(Clone, Debug, PartialEq)]
pub enum LiveEvent {
    /// A mark, and it is on the disk.
    Acknowledged(SessionEvent),
    /// Something was seen that nobody asked for, such as a board's hello.
    Seen(SessionEvent),
    /// A port is lost; it is looked for.
    PortLost {
        /// Which of the ports is meant.
        role: PortRole,
        /// Why it happened, for people.
        loss: Loss,
        /// The message of the operating system.
        detail: String,
    },
    /// A lost port is back.
    PortFound {
        /// Which of the ports is meant.
        role: PortRole,
        /// Where, when that is another place than before.
        place: Option<String>,
    },
    /// A port is open, and nothing comes.
    NotAnswering {
        /// Which of the ports is meant.
        role: PortRole,
    },
    /// Data is received again.
    AnsweringAgain {
        /// Which of the ports is meant.
        role: PortRole,
    },
    /// The capture was deleted or renamed, or its folder or disk is another one; or it is back
    /// where it was begun.
    CaptureMoved {
        /// It is where it was begun.
        in_place: bool,
    },
    /// In practice: what the simulated tractor does now, and what its terminal shows.
    Tractor(String),
    /// The job is over: nothing more is recorded or acknowledged; what happened, in one sentence.
    Failed(String),
}
