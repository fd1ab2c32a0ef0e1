//! Propagation of distributions by Monte Carlo (JCGM 101:2008): the second opinion on a budget.
//!
//! Every source is drawn from the distribution it is said to have, and the model is calculated
//! again for each draw, with no derivative and no linearisation. Draws come from a generator that
//! is passed in, so that the same seed gives the same result.

use super::source::{Distribution, Source, SourceId, Sources};
use std::f64::consts::TAU;

/// The SplitMix64 generator (Steele, Lea and Flood, OOPSLA 2014): small, seeded, the same on every
/// platform; its period of 2^64 is ample for the draws of a budget.
#[derive(Debug, Clone)]
pub struct SeededDraws {
    state: u64,
}

impl SeededDraws {
    /// A generator that always yields the same draws for the same seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// The next 64 bits.
    pub fn next_bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// The next number, equally likely anywhere in the open interval from 0 to 1.
    pub fn next_unit(&mut self) -> f64 {
        // The upper 53 bits, put in the middle of their cell: never 0, never 1.
        ((self.next_bits() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }
}

/// One trial: how far each source is off in it.
#[derive(Debug, Clone)]
pub struct Trial(Vec<f64>);

impl Trial {
    /// How far the source is off in this trial, in the unit of the source; zero on average.
    #[must_use]
    pub fn deviation(&self, id: SourceId) -> f64 {
        self.0[id.0 as usize]
    }
}

/// What the trials gave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Propagated {
    /// Mean of the trials.
    pub mean: f64,
    /// Standard deviation of the trials: the standard uncertainty.
    pub standard_uncertainty: f64,
    /// Lower end of the coverage interval.
    pub low: f64,
    /// Upper end of the coverage interval.
    pub high: f64,
    /// Number of the random draws.
    pub trials: usize,
}

/// One draw of a source, about zero (JCGM 101, table 1 and 6.4).
///
/// Student's t is drawn by the polar method of Bailey (Math. Comp. 62, 1994), which takes any
/// positive degrees of freedom. As in JCGM 101, 6.4.9.2 the scale of the t is the standard
/// uncertainty, so that few degrees of freedom make the spread of the trials wider than that.
fn draw(source: &Source, draws: &mut SeededDraws) -> f64 {
    let u = source.standard_uncertainty;
    let first = draws.next_unit();
    let second = draws.next_unit();
    let turn = (TAU * second).cos();
    match source.distribution {
        Distribution::Rectangular => u * 3f64.sqrt() * (2.0 * first - 1.0),
        Distribution::Triangular => u * 6f64.sqrt() * (first + second - 1.0),
        Distribution::StudentT if source.degrees_of_freedom.is_finite() => {
            let dof = source.degrees_of_freedom;
            u * (dof * (first.powf(-2.0 / dof) - 1.0)).sqrt() * turn
        }
        Distribution::Normal | Distribution::StudentT => u * (-2.0 * first.ln()).sqrt() * turn,
    }
}

/// Works the model out `trials` times and summarises (JCGM 101, clause 7).
///
/// `model` gets one [`Trial`] and returns the value of the output quantity. `None` with fewer than
/// two trials, a probability not between 0 and 1, or a model that returned something not finite.
pub fn propagate(
    sources: &Sources,
    trials: usize,
    probability: f64,
    draws: &mut SeededDraws,
    model: &dyn Fn(&Trial) -> f64,
) -> Option<Propagated> {
    if trials < 2 || !(probability > 0.0 && probability < 1.0) {
        return None;
    }
    let mut results = Vec::with_capacity(trials);
    for _ in 0..trials {
        let deviations = sources.iter().map(|(_, source)| draw(source, draws)).collect();
        results.push(model(&Trial(deviations)));
    }
    if results.iter().any(|result| !result.is_finite()) {
        return None;
    }
    let n = trials as f64;
    let mean = results.iter().sum::<f64>() / n;
    let squares: f64 = results.iter().map(|result| (result - mean).powi(2)).sum();
    results.sort_by(f64::total_cmp);
    let (low, high) = coverage_interval(&results, probability);
    let standard_uncertainty = (squares / (n - 1.0)).sqrt();
    Some(Propagated { mean, standard_uncertainty, low, high, trials })
}

/// The interval from sorted results (JCGM 101, 7.7), with as much probability below as above.
fn coverage_interval(sorted: &[f64], probability: f64) -> (f64, f64) {
    let trials = sorted.len();
    let span = ((probability * trials as f64).round() as usize).clamp(1, trials - 1);
    let start = (trials - span) / 2;
    (sorted[start], sorted[(start + span).min(trials - 1)])
}
