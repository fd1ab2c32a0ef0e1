//! The zero-slip value, given or measured.

use crate::commands::active;
use crate::commands::result::{course_in_force, work_session};
use crate::commands::work::replay;
use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use crate::store::place::DataFolder;
use crate::store::register::Register;
use std::path::Path;
use trundle_core::figure::{COVERAGE, WorkOptions};
use trundle_core::rig::{NAME_MAX, Thing};
use trundle_core::stats::budget::cover;
use trundle_core::survey::slip::{SlipOptions, ZeroSlip};

/// A value typed in, with its 95 % half-width in percent.
#[must_use]
pub fn given(per_100m: f64, percent: f64) -> ZeroSlip {
    // Two standard uncertainties are 95 % near enough for a number that somebody remembers.
    ZeroSlip { per_100m, standard_uncertainty: per_100m * percent / 200.0 }
}

/// The wheel's value of a measured course.
///
/// # Errors
/// [`Trouble`] when the capture cannot be read or gives no value to enter.
pub fn of_course(path: &Path) -> Result<ZeroSlip, Trouble> {
    let session = replay(path)?;
    let (course, _) = course_in_force(&session, None)?;
    let work = work_session(&session, WorkOptions { course, ..Default::default() }, false);
    let wheel = work.channels.iter().find(|c| c.name == "wheel" && c.value_to_enter.is_some());
    let value = wheel.and_then(|wheel| Some((wheel.best()?, &wheel.sources)));
    let Some((best, sources)) = value else {
        let what = format!("{} gives no wheel value that may be used.", path.display());
        let means = "Without a value on firm ground there is no slip.";
        let next = "See why with `trundle work`, or give a value with --zero-slip-value.";
        return Err(Trouble::new(exit::INPUT, what, means, next));
    };
    let expanded = cover(best, sources, COVERAGE);
    Ok(ZeroSlip {
        per_100m: best.value(),
        standard_uncertainty: expanded.expanded_uncertainty / 2.0,
    })
}

/// Fill in from the rig what was not given: the rig that the capture names, else the active one.
/// What is taken is said.
///
/// # Errors
/// The register's.
pub fn from_rig(options: &mut SlipOptions, named: Option<&str>) -> Result<(), Trouble> {
    if options.zero_slip.is_some() && options.mounting.is_some() {
        return Ok(());
    }
    let register = Register::read(&DataFolder::in_force()?)?;
    let rig = match named {
        // A capture from another laptop may name a rig that is not here.
        Some(name) => register.get(Thing::Rig, name).ok(),
        None => register.active()?,
    };
    let Some(rig) = rig else { return Ok(()) };
    let name = out::scrub(&rig.entry.name, NAME_MAX);
    if options.zero_slip.is_none()
        && let Some((value, record)) = active::zero_slip(&rig.entry.name)?
    {
        let per_100m = value.per_100m;
        out::notice(&format!(
            "Zero-slip value: {per_100m:.1}, from record {record} of the rig \"{name}\"."
        ));
        options.zero_slip = Some(value);
    }
    if options.mounting.is_none() {
        options.mounting = register.snapshot(&rig.entry)?.mounting();
        if let Some(at) = options.mounting {
            out::notice(&format!(
                "Antenna: {:.2} m to the right, {:.2} m ahead, from the rig \"{name}\".",
                at.right_m, at.ahead_m
            ));
        }
    }
    Ok(())
}
