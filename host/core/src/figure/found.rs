//! The value found in the terminal, held against the value measured: what it did.
//!
//! A controller divides the impulses it sees by its value. A value set e too high makes it
//! believe in 1/(1 + e) of the true speed: it thinks itself slow, throttles, and applies too
//! little by the same share. The value found is a whole number keyed in once and
//! has no uncertainty; all uncertainty here is that of the measured value.

use super::line::COVERAGE;
use crate::stats::budget::{Expanded, Quantity, Sources, cover};

/// An error beyond this share is not wear or pressure: another tyre changes the value by less
/// (common practice, no source). It is another sensor, or impulses over another length.
const ANOTHER_UNIT: f64 = 0.5;

/// Why a value found cannot be held against the one measured.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FoundFault {
    /// No terminal can hold this value, or nothing was measured.
    #[error("a value of {0} is no number of impulses per 100 m")]
    Figure(f64),
    /// A rate that is not above zero.
    #[error("a rate of {0} is not above zero")]
    NotPositive(f64),
}

impl FoundFault {
    /// What it means for the value.
    #[must_use]
    pub fn meaning(&self) -> &'static str {
        "The measured value stands; what the old one did cannot be determined."
    }

    /// What to do next.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Figure(_) => "Read the value off the terminal again, as impulses per 100 m.",
            Self::NotPositive(_) => "Enter it again, or leave it out.",
        }
    }
}

/// A share with its expanded uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// 0.01 is 1 %.
    pub value: f64,
    /// Uncertainty and coverage at 95 %.
    pub expanded: Expanded,
}

impl Share {
    fn of(quantity: &Quantity, sources: &Sources) -> Self {
        Self { value: quantity.value(), expanded: cover(quantity, sources, COVERAGE) }
    }
}

/// The consequence of the value found.
#[derive(Clone, Debug, PartialEq)]
pub struct AsFound {
    /// The value found, impulses per 100 m.
    pub found: f64,
    /// Share by which it was wrong; positive is too high.
    pub value_error: Share,
    /// Share by which the applied rate was wrong; positive is too much. The controller holds its
    /// rate for the speed it believes, so this is also the error of that speed and of distance.
    pub applied_rate_error: Share,
    /// Whether the error is beyond its expanded uncertainty.
    pub significant: bool,
    /// Applied less wanted, litres per hectare; negative where too little went out.
    pub difference_l_per_ha: Option<f64>,
    /// All of it in words, one or more whole sentences.
    pub sentence: String,
}

/// Hold the value found against the value measured; `rate_l_per_ha` is the rate that the
/// controller was set to hold.
///
/// # Errors
/// [`FoundFault`] when a number cannot be what it is said to be.
pub fn as_found(
    found: f64,
    figure: &Quantity,
    sources: &Sources,
    rate_l_per_ha: Option<f64>,
) -> Result<AsFound, FoundFault> {
    let measured = figure.value();
    let wrong = |value: &f64| !(1.0..=f64::from(u32::MAX)).contains(value);
    if let Some(value) = [found, measured].into_iter().find(wrong) {
        return Err(FoundFault::Figure(value));
    }
    if let Some(rate) = rate_l_per_ha.filter(|rate| !(*rate > 0.0 && rate.is_finite())) {
        return Err(FoundFault::NotPositive(rate));
    }
    let error = found / measured - 1.0;
    let of_figure = Quantity::combine(error, &[(figure, -found / (measured * measured))]);
    // Measured over found, less one: linear in the measured value.
    let rate_error = -error / (1.0 + error);
    let of_rate = Quantity::combine(rate_error, &[(figure, found.recip())]);
    let value_error = Share::of(&of_figure, sources);
    let mut out = AsFound {
        found,
        value_error,
        applied_rate_error: Share::of(&of_rate, sources),
        significant: error.abs() > value_error.expanded.expanded_uncertainty,
        difference_l_per_ha: rate_l_per_ha.map(|rate| rate * rate_error),
        sentence: String::new(),
    };
    out.sentence = sentence(&out, rate_l_per_ha);
    Ok(out)
}

fn sentence(a: &AsFound, rate_l_per_ha: Option<f64>) -> String {
    let found = a.found;
    let uncertainty = percent(a.value_error.expanded.expanded_uncertainty);
    if !a.significant {
        return format!(
            "The old value {found} differs from the measured one by {} %, which is within the \
             uncertainty of ±{uncertainty} %: nothing shows that it was wrong.",
            percent(a.value_error.value)
        );
    }
    let error = percent(a.value_error.value);
    let high = a.value_error.value > 0.0;
    let (side, pace, amount) =
        if high { ("high", "slower", "little") } else { ("low", "faster", "much") };
    let rate = percent(a.applied_rate_error.value);
    let mut text = format!(
        "The old value {found} was {error} % too {side} (±{uncertainty} %): the implement believed \
         it drove {rate} % {pace} than it did, and applied {rate} % too {amount}."
    );
    if let (Some(difference), Some(wanted)) = (a.difference_l_per_ha, rate_l_per_ha) {
        let (gap, side) = (difference.abs(), if high { "less" } else { "more" });
        text += &format!(
            " Set to {wanted} l/ha it put out {:.1} l/ha, {gap:.1} l/ha {side} than wanted.",
            wanted + difference
        );
    }
    if a.value_error.value.abs() > ANOTHER_UNIT {
        text += " That is more than a worn or another tyre explains: see whether the old value \
                 belongs to another sensor, or counts impulses over another length than 100 m.";
    }
    text
}

/// A share in per cent without its sign: one decimal, two below 1 %.
fn percent(share: f64) -> String {
    let percent = 100.0 * share.abs();
    if percent < 0.995 { format!("{percent:.2}") } else { format!("{percent:.1}") }
}
