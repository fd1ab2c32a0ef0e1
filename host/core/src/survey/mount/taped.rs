//! Measures taken with the tape, beside those calculated from driving.

use super::Mount;
use crate::figure::COVERAGE;
use crate::stats::budget::{Quantity, Source, Sources};
use crate::stats::fit::agreement::{Agreement, compare};

/// Standard uncertainty of a measure taped round a cab, with plumb line, metres; common practice,
/// no source.
pub const TAPED_U_M: f64 = 0.01;

/// What was taped, metres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Taped {
    /// Antenna right of the middle.
    pub right_m: Option<f64>,
    /// Antenna ahead of the rear axle.
    pub ahead_m: Option<f64>,
    /// Rear axle to the coupling point behind it.
    pub axle_to_hitch_m: Option<f64>,
}

/// A measure of both kinds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// What it is of: `right` or `ahead`.
    pub of: &'static str,
    /// By the tape, metres.
    pub taped_m: f64,
    /// Driven less taped, with the expanded uncertainty of the difference.
    pub agreement: Agreement,
}

/// Antenna to coupling point.
#[derive(Clone, Debug, PartialEq)]
pub struct Coupling {
    /// Along the tractor, from the coupling point forward to the antenna, metres.
    pub along: Quantity,
    /// To the right, metres, where the offset is known.
    pub right: Option<Quantity>,
    /// All sources of uncertainty, the tape's among them.
    pub sources: Sources,
}

fn taped(value_m: f64, key: &str, sources: &mut Sources) -> Quantity {
    sources.quantity(value_m, Source::normal(key, "the taped measure", TAPED_U_M))
}

impl Mount {
    /// The taped measures beside the driven ones, where both are there.
    #[must_use]
    pub fn beside(&self) -> Vec<Beside> {
        let mut sources = self.sources.clone();
        let asked = self.options.taped;
        let ahead = self.ahead.as_ref().map(|ahead| &ahead.0);
        let pairs =
            [("right", self.right.as_ref(), asked.right_m), ("ahead", ahead, asked.ahead_m)];
        let beside = |(of, driven, taped_m): (&'static str, Option<&Quantity>, Option<f64>)| {
            let (driven, taped_m) = driven.zip(taped_m)?;
            let tape = taped(taped_m, &format!("taped.{of}"), &mut sources);
            Some(Beside { of, taped_m, agreement: compare(driven, &tape, &sources, COVERAGE) })
        };
        pairs.into_iter().filter_map(beside).collect()
    }

    /// Antenna to coupling point, where the rear axle's distance from it was taped.
    #[must_use]
    pub fn coupling(&self) -> Option<Coupling> {
        let mut sources = self.sources.clone();
        let (ahead, _) = self.ahead.as_ref()?;
        let behind = taped(self.options.taped.axle_to_hitch_m?, "taped.hitch", &mut sources);
        Some(Coupling { along: ahead + &behind, right: self.right.clone(), sources })
    }
}
