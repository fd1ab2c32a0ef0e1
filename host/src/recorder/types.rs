//! What a live job is given, and what it reports.

use crate::ports::PortChoice;
use crate::shell::exit::Trouble;
use std::path::PathBuf;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::session::{Keeps, Session};

/// What a job needs.
#[derive(Clone, Debug, PartialEq)]
pub struct LiveSetup {
    /// Port of the counter board.
    pub board: PortChoice,
    /// The satellite receiver, unless the job goes without.
    pub receiver: Option<PortChoice>,
    /// The capture to create.
    pub capture: PathBuf,
    /// The course, as TOML.
    pub course_text: Option<String>,
    /// Which samples are kept.
    pub keeps: Keeps,
    /// Host seconds for each second: 1 outside practice.
    pub pace: f64,
    /// UTC at the beginning, RFC 3339; the wall clock's if not given.
    pub started_utc: Option<String>,
    /// The tractor is a simulated one: practice, not a measurement.
    pub practice: bool,
}

/// What is left of a job.
#[derive(Debug)]
pub struct Finished {
    /// The session, fed with exactly what the capture holds.
    pub session: Session,
    /// What had not been polled.
    pub events: Vec<LiveEvent>,
    /// Where a copy of the capture is, when it was deleted, renamed or its disk replaced meanwhile.
    pub saved_as: Option<PathBuf>,
    /// Why the capture is not whole, if it is not.
    pub trouble: Option<Trouble>,
}
