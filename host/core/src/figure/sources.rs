//! Sources of uncertainty that a worked job and the plan of one have in common: the same keys and
//! names in both budgets.

use crate::stats::budget::{Quantity, Source, Sources};
use crate::stats::fit::line::Estimate;
use crate::wire::fix::Quality;

/// Standard uncertainty of a distance by satellite alone, as a share: what is not seen from inside,
/// with centimetre positions and without; common practice, no source.
const UNCHECKED_RTK: f64 = 2e-4;
const UNCHECKED: f64 = 1e-3;

/// Key and name of the scatter of passes measured by tape.
pub const TAPE_SCATTER: (&str, &str) =
    ("passes_tape", "scatter of the passes: stopping beside the pegs, slip, counting");
/// Key and name of the scatter of passes measured by satellite.
pub const SATELLITE_SCATTER: (&str, &str) =
    ("passes_satellite", "scatter of the passes: receiver noise, antenna sway, counting");

/// Wheel path over straight line, shared by both values.
pub fn path_over_line(ratio: f64, standard_uncertainty: f64, sources: &mut Sources) -> Quantity {
    let name = "wheel path longer than the straight line";
    sources.quantity(ratio, Source::normal("weaving", name, standard_uncertainty))
}

/// Zero with what whole counts leave uncertain beyond the scatter of the passes. The scatter shows
/// it as a rule, but counts that happen to be equal show nothing and must not claim to be exact.
/// Both in the unit of the value, as standard uncertainties; `of` is the key of the scatter.
pub fn whole_impulses(of: &str, counting: f64, scatter: f64, sources: &mut Sources) -> Quantity {
    let unseen = (counting * counting - scatter * scatter).max(0.0).sqrt();
    if unseen <= 0.0 {
        return Quantity::exact(0.0);
    }
    let (key, half_width) = (format!("counting.{of}"), 6.0_f64.sqrt() * unseen);
    sources.quantity(0.0, Source::triangular(&key, "whole impulses", half_width))
}

/// One, with what is left uncertain of the scale of the receiver's speed.
pub fn speed_over_true(standard_uncertainty: f64, sources: &mut Sources) -> Quantity {
    let name = "scale of the receiver's speed";
    sources.quantity(1.0, Source::normal("speed_scale", name, standard_uncertainty))
}

/// One, with what a receiver of a class can promise of a distance that nothing else checks: its
/// own scale, reflections, a filter.
pub fn unchecked_receiver(quality: Quality, sources: &mut Sources) -> Quantity {
    let name = "scale and reflections of a receiver that no tape checks";
    sources.quantity(1.0, Source::normal("receiver_unchecked", name, unchecked_u(quality)))
}

/// The same as a standard uncertainty, as a share of the distance.
#[must_use]
pub fn unchecked_u(quality: Quality) -> f64 {
    if quality == Quality::RtkFixed { UNCHECKED_RTK } else { UNCHECKED }
}

/// Length along the slope over level length, one with the uncertainty of the rise.
pub fn slope_over_level(rise_m: Estimate, length_m: f64, sources: &mut Sources) -> Quantity {
    // d(length)/d(rise) = rise/length; where the rise is small its square matters.
    let u_m = rise_m.standard_uncertainty;
    let square_m2 = (rise_m.value * u_m).hypot(u_m * u_m / 2.0_f64.sqrt());
    let name = "height difference of the pegs by satellite";
    sources.quantity(1.0, Source::normal("rise", name, square_m2 / (length_m * length_m)))
}
