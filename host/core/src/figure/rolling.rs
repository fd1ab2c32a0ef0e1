//! The rolling circumference that a value implies, and whether tyre and socket fit it.
//!
//! Where the impulses of one wheel turn are known (teeth of the ring, times the gears between),
//! 100 m hold value / impulses-per-turn turns, so that one turn rolls
//! 100 m · impulses-per-turn / value. Nothing here ever changes a value: a tyre table and a
//! standard's nominal value are hints about a wrong sensor or a wrong entry, and no more.

use super::line::COVERAGE;
use crate::stats::budget::{Expanded, Quantity, Sources, cover};
use crate::units::signed;

/// Length the value counts impulses over, metres.
const FIGURE_LENGTH_M: f64 = 100.0;
/// Tolerance of tyre data, as a share: load and pressure change the rolling circumference by some
/// 0.5 to 3 % (from memory; no source at hand).
pub const TYRE_TOLERANCE: f64 = 0.03;
/// Nominal impulses per 100 m at the implement's socket: ISO 11786:1995, 5.2.3, 130 per metre
/// (as restated in public; the number from memory).
pub const SOCKET_NOMINAL: f64 = 13_000.0;
/// Tolerance of the nominal value, as a share (the same clause).
pub const SOCKET_TOLERANCE: f64 = 0.05;

/// Why no rolling circumference is given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("the {what} is given as {value}; between {low} and {high} is taken")]
pub struct RollingFault {
    /// Name of the value refused.
    pub what: &'static str,
    /// The value as it was given.
    pub value: f64,
    /// Least that is taken.
    pub low: f64,
    /// Most that is taken.
    pub high: f64,
}

impl RollingFault {
    /// What it means for the value.
    #[must_use]
    pub fn meaning(&self) -> &'static str {
        "The value stands; it cannot be held against the tyre."
    }

    /// What to do next.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        "Check the number and its unit, and enter it again, or leave it out."
    }
}

/// The circumference implied, beside what was known of the tyre.
#[derive(Clone, Debug, PartialEq)]
pub struct Rolling {
    /// Implied by the value, metres.
    pub circumference: Quantity,
    /// Its uncertainty and coverage at 95 %, metres.
    pub expanded: Expanded,
    /// Implied over known, less one; positive is a larger wheel than the tyre data say.
    pub difference: Option<f64>,
    /// Whether both fit together: within the tolerance and the uncertainty of the value.
    pub plausible: Option<bool>,
    /// All of it in words.
    pub sentence: String,
}

/// Rolling circumference implied by a value, impulses per 100 m, and the impulses of one wheel
/// turn; beside it that of the tyre data, metres.
///
/// # Errors
/// [`RollingFault`] when a number cannot be what it is said to be.
pub fn rolling(
    figure: &Quantity,
    sources: &Sources,
    impulses_per_turn: f64,
    tyre_m: Option<f64>,
) -> Result<Rolling, RollingFault> {
    within("number of impulses per wheel turn", impulses_per_turn, (0.1, 100_000.0))?;
    within("value", figure.value(), (1.0, 4_294_967_295.0))?;
    if let Some(tyre_m) = tyre_m {
        // A quad bike's wheel rolls 1.5 m, the largest tractor tyre 7 m; ten is a wrong unit.
        within("rolling circumference in metres", tyre_m, (0.3, 10.0))?;
    }
    let length = Quantity::exact(FIGURE_LENGTH_M * impulses_per_turn);
    let circumference = &length / figure;
    let expanded = cover(&circumference, sources, COVERAGE);
    let difference = tyre_m.map(|tyre_m| circumference.value() / tyre_m - 1.0);
    let uncertainty = expanded.expanded_uncertainty / circumference.value();
    let plausible = difference.map(|d| d.abs() <= TYRE_TOLERANCE + uncertainty);
    let sentence = sentence(&circumference, &expanded, tyre_m, difference, plausible);
    Ok(Rolling { circumference, expanded, difference, plausible, sentence })
}

fn within(what: &'static str, value: f64, (low, high): (f64, f64)) -> Result<(), RollingFault> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(RollingFault { what, value, low, high })
}

fn sentence(
    circumference: &Quantity,
    expanded: &Expanded,
    tyre_m: Option<f64>,
    difference: Option<f64>,
    plausible: Option<bool>,
) -> String {
    let (value_m, half_width_mm) = (circumference.value(), 1000.0 * expanded.expanded_uncertainty);
    let mut text =
        format!("One wheel turn rolls {value_m:.4} m ± {half_width_mm:.1} mm by this value");
    let (Some(tyre_m), Some(difference), Some(plausible)) = (tyre_m, difference, plausible) else {
        text.push('.');
        return text;
    };
    let side = if difference > 0.0 { "more" } else { "less" };
    let (percent, tolerance) = (100.0 * difference.abs(), 100.0 * TYRE_TOLERANCE);
    text += &format!(", {percent:.1} % {side} than the {tyre_m:.3} m of the tyre data. ");
    text += &match plausible {
        true => format!(
            "That is within the {tolerance} % allowed for load and pressure: the value is \
             plausible, which is no proof."
        ),
        false => format!(
            "That is more than the {tolerance} % allowed for load and pressure: check the \
             impulses per turn, the tyre data and the sensor before the value is used."
        ),
    };
    text
}

/// How a value lies against the nominal value of the implement's socket, in a sentence. A hint:
/// a socket within the tolerance may still be 5 % wrong.
#[must_use]
pub fn socket_hint(figure: f64) -> String {
    let off = figure / SOCKET_NOMINAL - 1.0;
    // The limits themselves, 12350 and 13650, lie within; a hair is left for rounding.
    let limit = SOCKET_TOLERANCE * (1.0 + 1e-9);
    let place = if off.abs() <= limit { "within" } else { "outside" };
    format!(
        "The value is {place} the socket standard's tolerance (ISO 11786: 13000 per 100 m, ±5 %; \
         here {} %); that is no proof of anything: other sensors count otherwise, and a \
         socket within it may still be 5 % wrong.",
        signed(100.0 * off, 1)
    )
}
