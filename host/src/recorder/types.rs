//! What a live job is given, and what it tells.

use crate::capture::PortRole;
use crate::fitness::Loss;
use crate::ports::PortChoice;
use crate::session::{Session, SessionEvent};
use crate::shell::exit::Trouble;
use std::path::PathBuf;

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
