//! The figure without slip, given or measured.

use crate::budget::cover;
use crate::cli::result::{CourseChoice, course_in_force, work_session};
use crate::cli::work::replay;
use crate::figure::COVERAGE;
use crate::shell::exit::{self, Trouble};
use crate::slip::ZeroSlip;
use std::path::Path;

/// A figure typed in, with its 95 % half-width in percent.
#[must_use]
pub fn given(per_100m: f64, percent: f64) -> ZeroSlip {
    // Two standard uncertainties are 95 % near enough for a number that somebody remembers.
    ZeroSlip { per_100m, standard_uncertainty: per_100m * percent / 200.0 }
}

/// The wheel's figure of a measured course.
///
/// # Errors
/// [`Trouble`] when the capture cannot be read or gives no figure to enter.
pub fn of_course(path: &Path) -> Result<ZeroSlip, Trouble> {
    let session = replay(path)?;
    let (course, _) = course_in_force(&session, &CourseChoice::default())?;
    let work = work_session(&session, course, false);
    let wheel = work.channels.iter().find(|c| c.name == "wheel" && c.figure_to_enter.is_some());
    let figure = wheel.and_then(|wheel| Some((wheel.best()?, &wheel.sources)));
    let Some((best, sources)) = figure else {
        let what = format!("{} gives no wheel figure that may be used.", path.display());
        let means = "Without a figure on firm ground there is no slip.";
        let next = "See why with `trundle work`, or give a figure with --zero-slip-figure.";
        return Err(Trouble::new(exit::INPUT, what, means, next));
    };
    let expanded = cover(best, sources, COVERAGE);
    Ok(ZeroSlip {
        per_100m: best.value(),
        standard_uncertainty: expanded.expanded_uncertainty / 2.0,
    })
}
