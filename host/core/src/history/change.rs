//! One point against what was before it.

use super::Known;
use crate::figure::COVERAGE;
use crate::stats::budget::{Quantity, Source, Sources};
use crate::stats::fit::agreement::compare;
use crate::stats::fit::line::Estimate;
use crate::stats::fit::pooled::weighted_mean;
use chrono::NaiveDate;

/// A difference from what was before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// The day that it is counted from: of the point before, or of the first in the mean.
    pub since: NaiveDate,
    /// Points that it is held against.
    pub points: usize,
    /// What they say, impulses per 100 m.
    pub reference: f64,
    /// Standard uncertainty of that, impulses per 100 m.
    pub reference_standard_uncertainty: f64,
    /// Difference as a share of the reference: 0.01 is 1 % up.
    pub share: f64,
    /// Half-width of its 95 % interval, a share too.
    pub share_half_width: f64,
    /// Magnitude of the difference over its expanded uncertainty (En).
    pub normalised_error: f64,
    /// Significant at 95 %: En above one.
    pub significant: bool,
}

/// Against one point.
pub(super) fn between(before: &Known<'_>, now: &Known<'_>, sources: &Sources) -> Change {
    change(before.point.day, 1, &before.figure, now, sources)
}

/// Against the weighted mean of all before; `None` for the first.
pub(super) fn from_mean(
    before: &[Known<'_>],
    now: &Known<'_>,
    sources: &Sources,
) -> Option<Change> {
    let first = before.first()?;
    if before.len() == 1 {
        return Some(between(first, now, sources));
    }
    let mut sources = sources.clone();
    let mean = mean(before, &mut sources)?;
    Some(change(first.point.day, before.len(), &mean, now, &sources))
}

/// Weighed by what each has for itself: what all share does not distinguish one from another.
///
/// Where those before disagree among themselves by more than their uncertainties, so does their
/// mean deserve less trust: its own uncertainty is enlarged by the Birge ratio, never made smaller.
fn mean(before: &[Known<'_>], sources: &mut Sources) -> Option<Quantity> {
    let u_own = |known: &Known<'_>| sources.get(known.own).standard_uncertainty;
    let values: Vec<Estimate> =
        before.iter().map(|known| Estimate::new(known.point.figure, u_own(known))).collect();
    let pooled = weighted_mean(&values).ok()?;
    let total: f64 = values.iter().map(|value| value.standard_uncertainty.powi(-2)).sum();
    let parts: Vec<(&Quantity, f64)> = before
        .iter()
        .zip(&values)
        .map(|(known, value)| (&known.figure, value.standard_uncertainty.powi(-2) / total))
        .collect();
    let mean = Quantity::weighted_sum(&parts);
    let extra = pooled.standard_uncertainty_birge.powi(2) - pooled.standard_uncertainty.powi(2);
    if extra <= 0.0 {
        return Some(mean);
    }
    let name = "scatter of the records before";
    let source = Source::type_a("scatter", name, extra.sqrt(), pooled.degrees_of_freedom);
    Some(&mean + &sources.quantity(0.0, source))
}

fn change(
    since: NaiveDate,
    points: usize,
    reference: &Quantity,
    now: &Known<'_>,
    sources: &Sources,
) -> Change {
    let verdict = compare(&now.figure, reference, sources, COVERAGE);
    let value = reference.value();
    Change {
        since,
        points,
        reference: value,
        reference_standard_uncertainty: reference.standard_uncertainty(),
        share: verdict.difference / value,
        share_half_width: verdict.expanded_uncertainty / value,
        normalised_error: verdict.normalised_error,
        significant: !verdict.agrees,
    }
}
