//! The best value's interval by Monte Carlo (JCGM 101): a check of the one that is given.
//!
//! Every source is drawn from its own distribution. The value is taken as linear in the sources:
//! they are shares of some 1e-4, so what is left out is of order 1e-8.

use super::channel::ChannelFigures;
use super::line::COVERAGE;
use crate::stats::budget::monte_carlo::{Propagated, SeededDraws, propagate};

/// The seed is fixed: the same capture gives the same bytes.
const SEED: u64 = 101;

/// The interval from `trials` random draws.
#[must_use]
pub fn second_opinion(figures: &ChannelFigures, trials: usize) -> Option<Propagated> {
    let best = figures.best()?;
    let model = |trial: &crate::stats::budget::monte_carlo::Trial| {
        let terms = best.terms().iter();
        best.value() + terms.map(|(id, term)| term.sensitivity * trial.deviation(*id)).sum::<f64>()
    };
    let mut draws = SeededDraws::new(SEED);
    propagate(&figures.sources, trials, COVERAGE, &mut draws, &model)
}
