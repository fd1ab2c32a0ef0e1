//! From a session to a result: the same few steps for live work, replay and practice.

use crate::shell::exit::{self, Trouble};
use trundle_core::course::file;
use trundle_core::course::tape::CourseSpec;
use trundle_core::figure::{Job, Work, WorkOptions, work};
use trundle_core::session::Session;

/// Where the course comes from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CourseChoice {
    /// Given with this command; wins over the one in the capture.
    pub given: Option<String>,
}

/// Read the text of a course file, and name keys that are not known.
///
/// # Errors
/// Exit code 2 with what may stand in the file.
pub fn course(text: &str) -> Result<(CourseSpec, Vec<String>), Trouble> {
    match file::parse(text) {
        Ok(read) => {
            let remark = |key| format!("the course file's {key} is not known and was not used");
            Ok((read.spec, read.unknown.into_iter().map(remark).collect()))
        }
        Err(fault) => Err(Trouble::new(
            exit::USAGE,
            fault.to_string(),
            "Without a course there is no value by tape.",
            "Correct the file; the guide shows one with every key.",
        )),
    }
}

/// Course text for a plain length.
#[must_use]
pub fn course_text(nominal_m: f64) -> String {
    format!("[course]\nnominal_m = {nominal_m}\n")
}

/// The course in force: the one given, else the one in the capture.
///
/// # Errors
/// Exit code 2 when it cannot be read.
pub fn course_in_force(
    session: &Session,
    choice: &CourseChoice,
) -> Result<(Option<CourseSpec>, Vec<String>), Trouble> {
    match choice.given.as_deref().or(session.course_text()) {
        None => Ok((None, Vec::new())),
        Some(text) => course(text).map(|(spec, remarks)| (Some(spec), remarks)),
    }
}

/// Work what a session holds. `live`: the capture is still growing, so that its missing end is
/// no fault.
#[must_use]
pub fn work_session(session: &Session, course: Option<CourseSpec>, live: bool) -> Work {
    work_with(session, WorkOptions { course, ..WorkOptions::default() }, live)
}

/// The same, with all options.
#[must_use]
pub fn work_with(session: &Session, options: WorkOptions, live: bool) -> Work {
    let totals = session.totals();
    let whole = live || session.ended();
    let job = Job { passes: session.passes(), totals: &totals, whole };
    work(&job, &options)
}

/// Exit code that a result deserves.
#[must_use]
pub fn exit_code(work: &Work) -> u8 {
    if work.is_clean() { exit::OK } else { exit::FLAGGED }
}
