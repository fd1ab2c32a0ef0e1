//! The measured course of a visit, calculated as it is going to be signed off.

use crate::commands::parts::capture_of;
use crate::commands::result::{course_in_force, work_session};
use crate::shell::exit::Trouble;
use std::path::Path;
use trundle_core::figure::WorkOptions;
use trundle_core::result::record_v1::{CaptureV1, MethodV1};
use trundle_core::result::sign_off::Said;
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::Session;

/// A course and what came of it.
pub struct Course<'a> {
    /// The file of its capture.
    pub file: &'a Path,
    /// What that file holds.
    pub session: &'a Session,
    /// What it gives, calculated.
    pub work: WorkV1,
    /// What the record says of the file.
    pub capture: CaptureV1,
}

impl<'a> Course<'a> {
    /// Calculate it as `said` asks.
    ///
    /// # Errors
    /// Exit code 2 when the course cannot be read; the capture's (4, 5).
    pub fn of(file: &'a Path, session: &'a Session, said: &Said) -> Result<Self, Trouble> {
        let method = MethodV1 {
            name: String::new(),
            version: 0,
            course_toml: said.course_toml.clone(),
            rate_l_per_ha: said.rate_l_per_ha,
            impulses_per_turn: said.impulses_per_turn,
            circumference_m: said.circumference_m,
        };
        let work = work_again(session, &method, said.as_found)?;
        Ok(Self { file, session, work, capture: capture_of(file, session)? })
    }
}

/// Calculate a session by the method of a record.
///
/// # Errors
/// Exit code 2 when the course cannot be read.
pub fn work_again(
    session: &Session,
    method: &MethodV1,
    as_found: Option<f64>,
) -> Result<WorkV1, Trouble> {
    let (course, _) = course_in_force(session, method.course_toml.as_deref())?;
    let options = WorkOptions {
        course,
        monte_carlo: None,
        as_found,
        rate_l_per_ha: method.rate_l_per_ha,
        impulses_per_turn: method.impulses_per_turn,
        circumference_m: method.circumference_m,
    };
    Ok(WorkV1::of(&work_session(session, options, false)))
}
