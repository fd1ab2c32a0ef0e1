//! What a live job is given, and what it tells.

use crate::capture::PortRole;
use crate::fitness::Loss;
use crate::ports::PortChoice;
use crate::session::{Session, SessionEvent};
use crate::shell::exit::Trouble;
use crate::wire::fix::Quality;
use std::path::PathBuf;
use trundle_protocol::message::CHANNELS;

/// What a job needs.
#[derive(Clone, Debug, PartialEq)]
pub struct LiveSetup {
    /// The counter board.
    pub board: PortChoice,
    /// The satellite receiver, unless the job goes without.
    pub receiver: Option<PortChoice>,
    /// The capture to create.
    pub capture: PathBuf,
    /// The course, as TOML.
    pub course_text: Option<String>,
    /// Keep a trail of all samples too, counts at least this far apart, microseconds.
    pub trail_apart_us: Option<u64>,
    /// Host seconds for each second: 1 outside practice.
    pub pace: f64,
    /// UTC at the beginning, RFC 3339; the wall clock's if not given.
    pub started_utc: Option<String>,
    /// The tractor is a simulated one: practice, not a measurement.
    pub practice: bool,
}

/// What a front end is told.
#[derive(Clone, Debug, PartialEq)]
pub enum LiveEvent {
    /// A mark, and it is on the disk.
    Acknowledged(SessionEvent),
    /// Something was seen that nobody asked for, such as a board's hello.
    Seen(SessionEvent),
    /// A port is lost; it is looked for.
    PortLost {
        /// Which.
        role: PortRole,
        /// Why.
        loss: Loss,
        /// The system's words.
        detail: String,
    },
    /// It is back.
    PortFound {
        /// Which.
        role: PortRole,
        /// Where, when that is another place than before.
        place: Option<String>,
    },
    /// A port is open, and nothing comes.
    NotAnswering {
        /// Which.
        role: PortRole,
    },
    /// Something comes again.
    AnsweringAgain {
        /// Which.
        role: PortRole,
    },
    /// The job is over: nothing more is recorded or acknowledged.
    Failed(Trouble),
}

/// A look at the job.
#[derive(Clone, Debug, PartialEq)]
pub struct LiveStatus {
    /// Host time, nanoseconds.
    pub now_ns: u64,
    /// The open pass, as far as acknowledged.
    pub open_pass: Option<u32>,
    /// Passes with both marks so far, those left out included, as far as acknowledged.
    pub passes: usize,
    /// Wheel, radar and PTO impulses since the start of the open pass.
    pub impulses: Option<[u64; CHANNELS]>,
    /// The board's inputs, once known: bit n set, input n exists.
    pub capabilities: Option<u8>,
    /// The board's port is open.
    pub board_open: bool,
    /// Age of the newest counts, seconds.
    pub counts_age_s: Option<f64>,
    /// The receiver; `None` when the job goes without.
    pub receiver: Option<ReceiverStatus>,
}

/// A look at the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReceiverStatus {
    /// Its port is open.
    pub open: bool,
    /// Age of the newest fix, seconds.
    pub fix_age_s: Option<f64>,
    /// Kind of that fix.
    pub quality: Option<Quality>,
    /// Speed over ground by that fix, metres per second.
    pub speed_m_s: Option<f64>,
    /// Satellites used.
    pub satellites: Option<u8>,
}

/// What is left of a job.
#[derive(Debug)]
pub struct Finished {
    /// The session, fed with exactly what the capture holds.
    pub session: Session,
    /// What had not been polled.
    pub events: Vec<LiveEvent>,
    /// Why the capture is not whole, if it is not.
    pub trouble: Option<Trouble>,
}
