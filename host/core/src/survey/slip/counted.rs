//! How sure the impulses between two instants are.

use crate::timeline::counts::{CountCurve, WHOLE_COUNT_U};

/// Standard uncertainty of one fractional count between edge times, impulses: turning is even to a
/// few per cent of an impulse.
const EDGE_U: f64 = 0.05;

/// Standard uncertainty of the impulses counted from one instant to another.
///
/// A count belongs to the instant of its sample, whatever the time to the next: between edge times
/// it is known with its fraction, between samples without edge times it has none. Only where the
/// pace changes from one knot to the next does the straight line between two of them miss some.
pub fn u_impulses(curve: &CountCurve, (from_s, to_s): (f64, f64)) -> f64 {
    (variance_at(curve, from_s) + variance_at(curve, to_s)).sqrt()
}

/// Variance of the count at an instant, impulses squared.
fn variance_at(curve: &CountCurve, at_s: f64) -> f64 {
    let knots = curve.knots();
    let after = knots.partition_point(|knot| knot.0 <= at_s);
    let step = |end: usize| Some((knots.get(end.checked_sub(1)?)?, knots.get(end)?));
    let pace = |end: usize| step(end).map(|(a, b)| (b.1 - a.1) / (b.0 - a.0));
    let own = if curve.is_exact() { EDGE_U * EDGE_U } else { WHOLE_COUNT_U.powi(2) / 2.0 };
    let (Some(((a_s, _), (b_s, _))), Some(here)) = (step(after), pace(after)) else { return own };
    let Some(before) = after.checked_sub(1).and_then(pace) else { return own };
    let next = pace(after + 1).unwrap_or(here);
    // Between two whole counts that differ, their fractions average; while nothing is counted
    // there is but one.
    let share = (at_s - a_s) / (b_s - a_s);
    let averaged = if here > 0.0 && !curve.is_exact() {
        share * share + (1.0 - share) * (1.0 - share)
    } else {
        1.0
    };
    // Half of the change from the pace before to the pace behind is that inside. Whole counts make
    // an impulse of it from nothing. The line's greatest distance from a curve is an eighth of it.
    let changed = ((next - before).abs() / 2.0 * (b_s - a_s) - 1.0).max(0.0);
    own * averaged + (changed / 8.0).powi(2)
}
