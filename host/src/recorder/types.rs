//! What a live job is given, and what it reports.

use crate::ports::PortChoice;
use crate::shell::exit::{self, Trouble};
use std::path::PathBuf;
use trundle_core::capture::{BODY_MAX, PortRole};
use trundle_core::fitness::look::LiveEvent;
use trundle_core::session::{Keeps, Session};

/// What a job needs.
#[derive(Clone, Debug, PartialEq)]
pub struct LiveSetup {
    /// Port of the counter board, unless the job goes without.
    pub board: Option<PortChoice>,
    /// The satellite receiver, unless the job goes without.
    pub receiver: Option<PortChoice>,
    /// The adapter on the implement bus, where there is one.
    pub bus: Option<PortChoice>,
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

impl LiveSetup {
    /// Each part with its port, in the order in which they are opened.
    #[must_use]
    pub const fn choices(&self) -> [(PortRole, Option<&PortChoice>); 3] {
        [
            (PortRole::Board, self.board.as_ref()),
            (PortRole::Receiver, self.receiver.as_ref()),
            (PortRole::Bus, self.bus.as_ref()),
        ]
    }

    /// A course text that a record of the capture holds.
    pub(super) fn check_course(&self) -> Result<(), Trouble> {
        let length = self.course_text.as_ref().map_or(0, String::len);
        if length <= BODY_MAX {
            return Ok(());
        }
        Err(Trouble::new(
            exit::USAGE,
            format!("The course file is {length} bytes long; a capture holds {BODY_MAX}."),
            "Nothing was measured and nothing was written.",
            "Shorten its comments.",
        ))
    }
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
