//! Two speeds against each other: ratio, gain and offset, errors in both.

use super::refusal::NoLine;
use super::{CHANCE_OF_ALARM, RANGE_MIN};
use crate::figure::COVERAGE;
use crate::stats::budget::student::coverage_factor;
use crate::stats::fit::york::{self, Point};

/// Fewest steady runs for anything.
pub const STEADY_RUNS_MIN: usize = 5;
/// Greatest scatter of a sensor's own, as a share of its rate, that is looked for.
const OWN_SHARE_MAX: f64 = 0.5;
/// Halvings of the search for it.
const HALVINGS: usize = 40;

/// A value with the half-width of its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Best estimate of the value.
    pub value: f64,
    /// Its standard uncertainty, same unit.
    pub standard_uncertainty: f64,
    /// Half-width of the 95 % interval.
    pub half_width: f64,
}

impl Interval {
    fn new(value: f64, standard_uncertainty: f64, degrees_of_freedom: usize) -> Self {
        let k = coverage_factor(COVERAGE, degrees_of_freedom as f64);
        Self { value, standard_uncertainty, half_width: k * standard_uncertainty }
    }

    /// The same with a standard uncertainty more, a share of the value.
    fn widened(self, share: f64) -> Self {
        let own = share * self.value.abs();
        let half_width = self.half_width.hypot(coverage_factor(COVERAGE, f64::INFINITY) * own);
        let standard_uncertainty = self.standard_uncertainty.hypot(own);
        Self { standard_uncertainty, half_width, ..self }
    }
}

/// Gain and offset of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PairLine {
    /// Rise of the second speed for one of the first.
    pub gain: Interval,
    /// The second speed where the first is zero.
    pub offset: Interval,
    /// Chi-squared over its degrees of freedom by the stated uncertainties alone.
    pub reduced_chi_squared: f64,
    /// Scatter of the pair's own, beyond the stated uncertainties, as a share of the second speed.
    pub own_share: f64,
    /// The offset differs significantly from zero.
    pub offset_differs: bool,
}

/// What two speeds say about each other.
#[derive(Clone, Debug, PartialEq)]
pub struct PairFit {
    /// Number of steady runs used.
    pub steady_runs: usize,
    /// Mean ratio of the second to the first.
    pub ratio: Interval,
    /// Gain and offset, or why not.
    pub line: Result<PairLine, NoLine>,
}

impl PairFit {
    /// Add what all first speeds may be wrong by alike, as a share.
    pub(super) fn widen(&mut self, share: f64) {
        self.ratio = self.ratio.widened(share);
        if let Ok(line) = &mut self.line {
            line.gain = line.gain.widened(share);
        }
    }

    /// The second speed at a value of the first: by the line where it does not go through zero.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        match &self.line {
            Ok(line) if line.offset_differs => line.offset.value + line.gain.value * x,
            _ => self.ratio.value * x,
        }
    }

    /// The gain that holds: of the line where its offset is not zero, the mean ratio elsewhere.
    #[must_use]
    pub const fn gain(&self) -> Interval {
        match &self.line {
            Ok(line) if line.offset_differs => line.gain,
            _ => self.ratio,
        }
    }
}

/// Fit points whose x are all above zero. `range`: fastest over slowest steady run in true speed.
///
/// # Errors
/// [`NoLine::TooFew`] with fewer than [`STEADY_RUNS_MIN`] points.
pub fn fit_pair(points: &[Point]) -> Result<PairFit, NoLine> {
    let found = points.len();
    if found < STEADY_RUNS_MIN {
        return Err(NoLine::TooFew { found });
    }
    let low = points.iter().map(|p| p.x).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.x).fold(0.0, f64::max);
    let proportion = own_share(points, found - 1, |points| Some(through_zero(points)));
    let ratio = proportion.map_or((f64::NAN, f64::INFINITY), |(_, (ratio, u, _))| (ratio, u));
    let factor = high / low;
    let wide = if factor < RANGE_MIN { None } else { Some(points) };
    let line = wide.and_then(line).ok_or(NoLine::RangeTooSmall { factor });
    Ok(PairFit { steady_runs: found, ratio: Interval::new(ratio.0, ratio.1, found - 1), line })
}

/// Ratio, its standard uncertainty and chi-squared of the line through zero.
fn through_zero(points: &[Point]) -> (f64, f64, f64) {
    let sums = |ratio: f64| {
        points.iter().fold((0.0, 0.0, 0.0), |(xy, xx, chi), p| {
            let w = (p.u_y.powi(2) + (ratio * p.u_x).powi(2)).recip();
            (xy + w * p.x * p.y, xx + w * p.x * p.x, chi + w * (p.y - ratio * p.x).powi(2))
        })
    };
    let mut ratio =
        points.iter().map(|p| p.y).sum::<f64>() / points.iter().map(|p| p.x).sum::<f64>();
    // The weights hardly depend on the ratio: three rounds settle it.
    for _ in 0..3 {
        let (xy, xx, _) = sums(ratio);
        ratio = xy / xx;
    }
    let (_, xx, chi_squared) = sums(ratio);
    (ratio, xx.sqrt().recip(), chi_squared)
}

fn line(points: &[Point]) -> Option<PairLine> {
    let plain = york::fit(points).ok()?;
    let freedom = plain.degrees_of_freedom;
    let worked = |points: &[Point]| {
        let fit = york::fit(points).ok()?;
        let chi_squared = fit.chi_squared;
        Some((fit, 0.0, chi_squared))
    };
    let (own_share, (fit, ..)) = own_share(points, freedom, worked)?;
    let offset = Interval::new(fit.intercept, fit.u_intercept, freedom);
    let alarm = coverage_factor(1.0 - CHANCE_OF_ALARM, freedom as f64) * fit.u_intercept;
    Some(PairLine {
        gain: Interval::new(fit.slope, fit.u_slope, freedom),
        offset,
        reduced_chi_squared: plain.reduced_chi_squared(),
        own_share,
        offset_differs: offset.value.abs() > alarm,
    })
}

/// Give y a scatter of its own, a share of itself, until chi-squared is what it should be (Paule
/// and Mandel's way); none where it is already. A sensor flickers, and ground gives way, in
/// proportion to the speed. Gives the share and the result with it.
fn own_share<T>(
    points: &[Point],
    freedom: usize,
    work: impl Fn(&[Point]) -> Option<(T, f64, f64)>,
) -> Option<(f64, (T, f64, f64))> {
    let with = |share: f64| {
        let wider: Vec<Point> =
            points.iter().map(|p| Point { u_y: p.u_y.hypot(share * p.y.abs()), ..*p }).collect();
        work(&wider)
    };
    let plain = with(0.0)?;
    if plain.2 <= freedom as f64 {
        return Some((0.0, plain));
    }
    let (mut low, mut high) = (0.0, OWN_SHARE_MAX);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        match with(middle) {
            Some((_, _, chi_squared)) if chi_squared <= freedom as f64 => high = middle,
            _ => low = middle,
        }
    }
    Some((high, with(high)?))
}
