//! Sources of uncertainty that a worked job and the plan of one have in common: the same keys and
//! names in both budgets.

use crate::stats::budget::{Quantity, Source, Sources};
use crate::stats::fit::line::Estimate;

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

/// Zero with the uncertainty of whole counts, averaged over the passes. The scatter shows most of
/// it already, but counts that happen to be equal show nothing and must not claim to be exact.
pub fn whole_impulses(half_width: f64, sources: &mut Sources) -> Quantity {
    sources.quantity(0.0, Source::triangular("counting", "whole impulses", half_width))
}

/// Length along the slope over level length, one with the uncertainty of the rise.
pub fn slope_over_level(rise_m: Estimate, length_m: f64, sources: &mut Sources) -> Quantity {
    // d(length)/d(rise) = rise/length; where the rise is small its square matters.
    let u_m = rise_m.standard_uncertainty;
    let square_m2 = (rise_m.value * u_m).hypot(u_m * u_m / 2.0_f64.sqrt());
    let name = "height difference of the pegs by satellite";
    sources.quantity(1.0, Source::normal("rise", name, square_m2 / (length_m * length_m)))
}
