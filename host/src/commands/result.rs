//! From a session to a result: the same few steps for live work, replay and practice.

use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use trundle_core::course::file;
use trundle_core::course::tape::CourseSpec;
use trundle_core::figure::{Job, Work, WorkOptions, work};
use trundle_core::session::Session;
use trundle_show::words::PRACTICE_RESULT;

/// Read the text of a course file.
///
/// # Errors
/// Exit code 2 with what may stand in the file.
pub fn read_course(text: &str) -> Result<file::CourseFile, Trouble> {
    file::parse(text).map_err(|fault| {
        let means = "Without a course there is no value by tape.";
        let next = "Correct the file; the guide shows one with every key.";
        Trouble::new(exit::USAGE, fault.to_string(), means, next)
    })
}

/// The same, with a remark on each key that is not known.
///
/// # Errors
/// As [`read_course`].
pub fn course(text: &str) -> Result<(CourseSpec, Vec<String>), Trouble> {
    let read = read_course(text)?;
    let remark = |key| format!("the course file's {key} is not known and was not used");
    Ok((read.spec, read.unknown.into_iter().map(remark).collect()))
}

/// The course in force: the one given, else the one in the capture.
///
/// # Errors
/// Exit code 2 when it cannot be read.
pub fn course_in_force(
    session: &Session,
    given: Option<&str>,
) -> Result<(Option<CourseSpec>, Vec<String>), Trouble> {
    match given.or(session.course_text()) {
        None => Ok((None, Vec::new())),
        Some(text) => course(text).map(|(spec, remarks)| (Some(spec), remarks)),
    }
}

/// Calculate what a session holds. `live`: the capture is still growing, so that its missing end is
/// no fault.
#[must_use]
pub fn work_session(session: &Session, options: WorkOptions, live: bool) -> Work {
    let totals = session.totals();
    let whole = live || session.ended();
    let job = Job { passes: session.passes(), totals: &totals, whole };
    work(&job, &options)
}

/// Say under a result for people that it is one of practice, where it is; `json`: the result is
/// one for programs.
pub fn say_practice(session: &Session, json: bool) {
    if !json && session.header().is_some_and(|header| header.practice) {
        out::say_live(PRACTICE_RESULT);
    }
}

/// Exit code that a result deserves.
#[must_use]
pub fn exit_code(work: &Work) -> u8 {
    if work.is_clean() { exit::OK } else { exit::FLAGGED }
}
