//! Way and counts on even grids, and how well they fit at an offset.

use super::join::OVERLAP_MIN_S;

/// Spacing of the grids, seconds.
pub(super) const GRID_S: f64 = 0.1;
/// Speeds are compared as means over this, seconds: long against the receiver's filter, short
/// against any change of speed.
const BIN_S: f64 = 1.0;
/// A span without a sample longer than this is a hole, seconds.
const HOLE_S: f64 = 3.0;
/// Longest grid, cells: a week at this spacing, 48 MB. Beyond it the times are not of one drive.
const CELLS_MAX: f64 = 6_048_000.0;
/// Longest grid for each point, cells: 100 s. A table that is nearly all holes has a damaged date,
/// and what it takes in memory must not go by that.
const CELLS_PER_POINT: f64 = 1_000.0;
/// Most pairs of the coarse search; its step grows until it keeps to this.
const PAIRS_MAX: f64 = 1e8;
/// Least misfit separated, m/s: receivers without corrections are no better, and without it
/// noiseless data would make mountains of nothing.
const FLOOR_M_S: f64 = 0.03;
/// Residuals beyond this count as this, m/s, so that single wild speeds decide nothing.
const CLIP_M_S: f64 = 1.0;
/// Errors of the speed are nearly independent at this spacing, seconds.
const INDEPENDENT_S: f64 = 2.0;

/// A running sum (of impulses, of metres) on an even grid; not a number in holes.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    start_s: f64,
    values: Vec<f64>,
}

impl Grid {
    /// From running counts. A count that went down goes on as if it had stood still.
    pub(super) fn of_counts(points: &[(f64, f64)]) -> Option<Self> {
        let mut sum = 0.0;
        let mut last = points.first()?.1;
        let knots: Vec<(f64, f64)> = points
            .iter()
            .map(|&(at_s, count)| {
                sum += (count - last).max(0.0);
                last = count;
                (at_s, sum)
            })
            .collect();
        Self::of_knots(&knots)
    }

    /// From speeds, by the trapezium rule.
    pub(super) fn of_speeds(points: &[(f64, f64)]) -> Option<Self> {
        let mut sum = 0.0;
        let mut last = *points.first()?;
        let knots: Vec<(f64, f64)> = points
            .iter()
            .map(|&(at_s, speed)| {
                sum += f64::midpoint(speed, last.1) * (at_s - last.0);
                last = (at_s, speed);
                (at_s, sum)
            })
            .collect();
        Self::of_knots(&knots)
    }

    fn of_knots(knots: &[(f64, f64)]) -> Option<Self> {
        let (first, last) = (knots.first()?, knots.last()?);
        let cells = ((last.0 - first.0) / GRID_S).floor();
        let most = CELLS_MAX.min(knots.len() as f64 * CELLS_PER_POINT);
        if cells < 1.0 || cells.is_nan() || cells > most {
            return None;
        }
        let mut values = Vec::with_capacity(cells as usize + 1);
        let mut after = 1;
        for cell in 0..=cells as usize {
            let at_s = first.0 + cell as f64 * GRID_S;
            while after + 1 < knots.len() && knots[after].0 < at_s {
                after += 1;
            }
            let (a, b) = (knots[after - 1], knots[after]);
            let width_s = b.0 - a.0;
            values.push(if width_s > HOLE_S {
                f64::NAN
            } else if width_s > 0.0 {
                a.1 + (b.1 - a.1) * ((at_s - a.0) / width_s).clamp(0.0, 1.0)
            } else {
                b.1
            });
        }
        Some(Self { start_s: first.0, values })
    }

    /// First instant.
    pub(super) fn start_s(&self) -> f64 {
        self.start_s
    }

    /// Last instant.
    pub(super) fn end_s(&self) -> f64 {
        self.start_s + self.span_s()
    }

    /// From first to last instant.
    pub(super) fn span_s(&self) -> f64 {
        (self.values.len() - 1) as f64 * GRID_S
    }

    /// The part between two instants.
    pub(super) fn part(&self, from_s: f64, to_s: f64) -> Option<Self> {
        let cell = |at_s: f64| ((at_s - self.start_s) / GRID_S).round().max(0.0) as usize;
        let from = cell(from_s);
        let values = self.values.get(from..cell(to_s).min(self.values.len()))?.to_vec();
        (values.len() > 1).then_some(Self { start_s: self.start_s + from as f64 * GRID_S, values })
    }

    fn value(&self, at_s: f64) -> f64 {
        let place = (at_s - self.start_s) / GRID_S;
        if place.is_nan() || place < 0.0 {
            return f64::NAN;
        }
        let cell = place as usize;
        match (self.values.get(cell), self.values.get(cell + 1)) {
            (Some(a), Some(b)) => a + (b - a) * (place - cell as f64),
            _ => f64::NAN,
        }
    }

    /// Mean speed over `width_s` around an instant; not a number where unknown.
    pub(super) fn mean(&self, at_s: f64, width_s: f64) -> f64 {
        (self.value(at_s + 0.5 * width_s) - self.value(at_s - 0.5 * width_s)) / width_s
    }

    /// Mean speeds in bins of `width_s`, the first beginning at the start.
    pub(super) fn bins(&self, width_s: f64) -> Vec<f64> {
        let bins = (self.span_s() / width_s).floor() as usize;
        (0..bins).map(|i| self.mean(self.start_s + (i as f64 + 0.5) * width_s, width_s)).collect()
    }

    /// Mean and standard deviation of the speed.
    fn moments(&self) -> (f64, f64) {
        let bins: Vec<f64> = self.bins(BIN_S).into_iter().filter(|v| v.is_finite()).collect();
        let n = bins.len().max(1) as f64;
        let mean = bins.iter().sum::<f64>() / n;
        (mean, (bins.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt())
    }

    /// Standard deviation of the speed.
    pub(super) fn deviation(&self) -> f64 {
        self.moments().1
    }

    /// Standard deviation of the speed over its mean; 0 without any.
    pub(super) fn relative_deviation(&self) -> f64 {
        let (mean, deviation) = self.moments();
        if mean > 0.0 { deviation / mean } else { 0.0 }
    }
}

/// How well the two fit at an offset.
#[derive(Clone, Copy, Debug)]
pub(super) struct Score {
    /// Seconds compared.
    pub(super) overlap_s: f64,
    /// Mean square of the residuals, (m/s)^2.
    pub(super) mean_square: f64,
    /// Variance of the satellite speed over the same seconds, (m/s)^2.
    pub(super) variance: f64,
    /// Logarithm of the ratio of likelihoods against "the speed was its mean".
    pub(super) evidence: f64,
    /// Standard uncertainty of the offset by the curvature there, seconds.
    pub(super) standard_uncertainty_s: f64,
}

impl Score {
    pub(super) fn new(overlap_s: f64, mean_square: f64, variance: f64, step_s: f64) -> Self {
        let independent = overlap_s / INDEPENDENT_S.max(step_s);
        let ratio = floored(variance) / floored(mean_square);
        Self {
            overlap_s,
            mean_square,
            variance,
            evidence: 0.5 * independent * ratio.ln(),
            standard_uncertainty_s: f64::INFINITY,
        }
    }

    /// Share of the variance that is foretold.
    pub(super) fn explained(&self) -> f64 {
        if self.variance > 0.0 { 1.0 - self.mean_square / self.variance } else { 0.0 }
    }

    /// By how much evidence this fits better than another, second for second, over the overlap of
    /// the other.
    pub(super) fn margin_over(&self, other: &Self) -> f64 {
        let ratio = floored(other.mean_square) / floored(self.mean_square);
        0.5 * other.overlap_s / INDEPENDENT_S * ratio.ln()
    }
}

fn floored(square: f64) -> f64 {
    square.max(0.0) + FLOOR_M_S * FLOOR_M_S
}

/// The best offsets of a search over all of them, best first, and the step of the search.
pub(super) fn coarse(
    travel: &Grid,
    way: &Grid,
    within_s: Option<(f64, f64)>,
    most: usize,
) -> (f64, Vec<f64>) {
    let pairs = travel.span_s() * way.span_s();
    let step_s = (pairs / PAIRS_MAX).sqrt().ceil().max(BIN_S);
    let (c, s) = (Masked::new(&travel.bins(step_s)), Masked::new(&way.bins(step_s)));
    let zero_s = way.start_s - travel.start_s;
    let mut found: Vec<(f64, f64)> = Vec::new();
    for shift in 1 - c.values.len() as i64..s.values.len() as i64 {
        let offset_s = zero_s + shift as f64 * step_s;
        let wanted = within_s.is_none_or(|(low, high)| (low..=high).contains(&offset_s));
        found.push((offset_s, if wanted { c.evidence(&s, shift, step_s) } else { 0.0 }));
    }
    let at = |i: usize| found.get(i).map_or(0.0, |f| f.1);
    let mut peaks: Vec<(f64, f64)> = (0..found.len())
        .filter(|&i| at(i) > 0.0 && (i == 0 || at(i) >= at(i - 1)) && at(i) >= at(i + 1))
        .map(|i| found[i])
        .collect();
    peaks.sort_by(|a, b| b.1.total_cmp(&a.1));
    peaks.truncate(most);
    (step_s, peaks.into_iter().map(|peak| peak.0).collect())
}

/// Speeds with their holes as zeros, so that a product sum passes over them without a branch.
struct Masked {
    values: Vec<f64>,
    known: Vec<f64>,
}

impl Masked {
    fn new(bins: &[f64]) -> Self {
        Self {
            values: bins.iter().map(|v| if v.is_finite() { *v } else { 0.0 }).collect(),
            known: bins.iter().map(|v| f64::from(u8::from(v.is_finite()))).collect(),
        }
    }

    /// Evidence when bin `i` of these counts lies on bin `i + shift` of the satellite's speeds.
    fn evidence(&self, speeds: &Self, shift: i64, step_s: f64) -> f64 {
        let (skip_c, skip_s) = if shift < 0 { (-shift, 0) } else { (0, shift) };
        let c = &self.values[skip_c as usize..];
        let wc = &self.known[skip_c as usize..];
        let s = &speeds.values[skip_s as usize..];
        let ws = &speeds.known[skip_s as usize..];
        let length = c.len().min(s.len());
        if (length as f64) * step_s < OVERLAP_MIN_S {
            return 0.0;
        }
        let mut sums = [0.0; 5];
        for ((&c, &wc), (&s, &ws)) in c.iter().zip(wc).zip(s.iter().zip(ws)) {
            sums[0] += wc * ws;
            sums[1] += s * wc;
            sums[2] += s * s * wc;
            sums[3] += c * c * ws;
            sums[4] += s * c;
        }
        let [n, s1, ss, cc, sc] = sums;
        if n * step_s < OVERLAP_MIN_S || cc <= 0.0 || sc <= 0.0 {
            return 0.0;
        }
        let mean_square = (ss - sc * sc / cc) / n;
        let variance = (ss / n - (s1 / n).powi(2)).max(0.0);
        Score::new(n * step_s, mean_square, variance, step_s).evidence
    }
}

/// The fit at one offset, bin by bin of the satellite's speeds.
pub(super) fn score(travel: &Grid, way: &Grid, offset_s: f64) -> Option<Score> {
    let bins = way.bins(BIN_S);
    score_bins(travel, way.start_s, &bins, offset_s)
}

fn score_bins(travel: &Grid, start_s: f64, bins: &[f64], offset_s: f64) -> Option<Score> {
    let pairs: Vec<(f64, f64, f64)> = bins
        .iter()
        .enumerate()
        .filter_map(|(i, &speed)| {
            let at_s = start_s + (i as f64 + 0.5) * BIN_S - offset_s;
            let rate = travel.mean(at_s, BIN_S);
            let slope = (travel.mean(at_s + 0.5 * BIN_S, BIN_S)
                - travel.mean(at_s - 0.5 * BIN_S, BIN_S))
                / BIN_S;
            let slope = if slope.is_finite() { slope } else { 0.0 };
            (speed.is_finite() && rate.is_finite()).then_some((rate, speed, slope))
        })
        .collect();
    let n = pairs.len() as f64;
    let overlap_s = n * BIN_S;
    let (sc, cc) = pairs.iter().fold((0.0, 0.0), |(sc, cc), p| (sc + p.0 * p.1, cc + p.0 * p.0));
    if overlap_s < OVERLAP_MIN_S || cc <= 0.0 || sc <= 0.0 {
        return None;
    }
    let scale = sc / cc;
    let residuals: Vec<f64> =
        pairs.iter().map(|p| (p.1 - scale * p.0).clamp(-CLIP_M_S, CLIP_M_S)).collect();
    let square: f64 = residuals.iter().map(|r| r * r).sum();
    let mean = pairs.iter().map(|p| p.1).sum::<f64>() / n;
    let variance = pairs.iter().map(|p| (p.1 - mean).powi(2)).sum::<f64>() / n;
    let mut score = Score::new(overlap_s, square / n, variance, BIN_S);
    // Gauss-Newton: one parameter, sensitivity = the acceleration by the counts.
    let information: f64 = pairs.iter().map(|p| (scale * p.2).powi(2)).sum();
    let product: f64 = residuals.windows(2).map(|w| w[0] * w[1]).sum();
    let correlation = if square > 0.0 { (product / square).clamp(0.0, 0.98) } else { 0.0 };
    let inflation = (1.0 + correlation) / (1.0 - correlation);
    if information > 0.0 {
        // Half the spacing of the grid is lost to rounding at most.
        let rounding_s = GRID_S / 12.0_f64.sqrt();
        score.standard_uncertainty_s =
            (square / n * inflation / information).sqrt().hypot(rounding_s);
    }
    Some(score)
}

/// The best offset near a start, with its score.
pub(super) fn refine(
    travel: &Grid,
    way: &Grid,
    start_s: f64,
    reach_s: f64,
) -> Option<(f64, Score)> {
    const STEP_S: f64 = 0.25;
    let bins = way.bins(BIN_S);
    let at = |offset_s: f64| score_bins(travel, way.start_s, &bins, offset_s);
    let worth = |offset_s: f64| at(offset_s).map_or(f64::NEG_INFINITY, |s| s.evidence);
    let steps = (1.5 * reach_s / STEP_S).ceil() as i32;
    let mut best = (f64::NEG_INFINITY, start_s);
    for step in -steps..=steps {
        let offset_s = start_s + f64::from(step) * STEP_S;
        let evidence = worth(offset_s);
        if evidence > best.0 {
            best = (evidence, offset_s);
        }
    }
    // The evidence is smooth and has one top between the neighbours: thirds, 12 times, leave
    // 4 ms of half a second.
    let (mut low, mut high) = (best.1 - STEP_S, best.1 + STEP_S);
    for _ in 0..12 {
        let third = (high - low) / 3.0;
        if worth(low + third) < worth(high - third) {
            low += third;
        } else {
            high -= third;
        }
    }
    let offset_s = f64::midpoint(low, high);
    Some((offset_s, at(offset_s)?))
}
