//! Two recordings without a common clock, combined by their speeds.
//!
//! The counts and the receiver saw the same drive. Slid along each other, their speeds fit at
//! one offset: every offset is tried on a coarse grid, the best few are refined, and the best is
//! taken only if it is clearly the best. Two things make it uncertain. Where the speed
//! hardly changed, every offset fits. And passes driven all alike may fit again when shifted by a
//! pass. Both are refused: that recordings were begun and ended together is no evidence, and
//! neither is the longer overlap.
//!
//! How good an offset is goes by the evidence: how much better the counts foretell the satellite
//! speed than its mean does, summed over the overlap, in natural logarithms of the ratio of
//! likelihoods (Gaussian errors). The scale between the two is left free at every offset, so the
//! value that is to be measured does not enter.

use super::join_changes::by_changes;
use super::join_grid::{Grid, Score, coarse, refine, score};
use crate::wire::gate::DRIFT_MAX;

/// Offsets that fit less well than this share of the best are no rivals.
const RIVAL_SHARE: f64 = 0.3;
/// The best must be better than each rival by this much evidence over the rival's own overlap:
/// odds of 3 million to one if errors were independent, which the grid's spacing makes them
/// nearly.
const MARGIN: f64 = 15.0;
/// Least evidence for any join.
const EVIDENCE_MIN: f64 = 30.0;
/// Least share of the satellite speed's variance that the counts must foretell. Recordings of
/// one drive reach 0.95 even with slip; two drives that fit somewhere by chance stay below.
const EXPLAINED_MIN: f64 = 0.8;
/// Standard deviation of a speed that hardly changes, m/s.
const STEADY_M_S: f64 = 0.15;
/// Least overlap, seconds.
pub(super) const OVERLAP_MIN_S: f64 = 30.0;
/// Refined candidates.
const CANDIDATES: usize = 8;
/// A join less certain than this is refused, seconds: the fine search of the lag goes 1.5 s.
const UNCERTAINTY_MAX_S: f64 = 0.3;
/// Length of a piece of which the offset is found on its own, to see the drift, seconds.
const PIECE_S: f64 = 300.0;

/// An offset that was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Join {
    /// Satellite time minus count time at `origin_s`, seconds.
    pub offset_s: f64,
    /// Its standard uncertainty, seconds.
    pub standard_uncertainty_s: f64,
    /// Count time at which the offset holds, seconds.
    pub origin_s: f64,
    /// Growth of the offset per second of the counts' clock; 0 where none could be seen.
    pub drift: f64,
    /// Root mean square of what the counts do not foretell of the satellite speed, m/s.
    pub misfit_m_s: f64,
    /// The next best offset, if there was one.
    pub rival: Option<Rival>,
}

impl Join {
    /// Satellite time at a count time.
    #[must_use]
    pub fn satellite_s(&self, count_s: f64) -> f64 {
        count_s + self.offset_s + self.drift * (count_s - self.origin_s)
    }
}

/// Another offset that fits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rival {
    /// How far from the best, seconds.
    pub apart_s: f64,
    /// Its misfit over that of the best.
    pub misfit_ratio: f64,
}

/// Why no offset could be determined; in words, what the speeds are like.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum JoinRefusal {
    /// The two recordings are too short.
    #[error("have too few seconds to be matched.")]
    TooShort,
    /// One of the speeds hardly changed.
    #[error("hardly change, so they fit as well at any offset.")]
    NoAcceleration,
    /// The speeds fit nowhere.
    #[error(
        "fit nowhere: at the best offset the counts foretell {:.0} % of the changes of the \
         satellite speed.",
        100.0 * .explained
    )]
    NoMatch {
        /// Share of the satellite speed's variance foretold at the best offset.
        explained: f64,
    },
    /// They fit at one offset, but it is not sharp.
    #[error(
        "fit, but only to ± {:.1} s: they differ by more than a shift of that size changes.",
        .standard_uncertainty_s
    )]
    TooUncertain {
        /// Standard uncertainty of the best offset, seconds.
        standard_uncertainty_s: f64,
    },
    /// Another offset fits as well.
    #[error(
        "fit at two offsets {:.1} s apart, the second with {:.2} times the misfit of the first: \
         passes driven alike look alike.",
        .0.apart_s.abs(), .0.misfit_ratio
    )]
    Ambiguous(Rival),
}

/// Find the offset between counts (seconds and running count) and satellite speeds (seconds and
/// m/s), both rising in time. `within_s` limits the offsets looked at.
///
/// # Errors
/// A [`JoinRefusal`] when the data cannot show.
pub fn join(
    counts: &[(f64, f64)],
    speeds: &[(f64, f64)],
    within_s: Option<(f64, f64)>,
) -> Result<Join, JoinRefusal> {
    let (Some(travel), Some(way)) = (Grid::of_counts(counts), Grid::of_speeds(speeds)) else {
        return Err(JoinRefusal::TooShort);
    };
    if travel.span_s() < OVERLAP_MIN_S || way.span_s() < OVERLAP_MIN_S {
        return Err(JoinRefusal::TooShort);
    }
    if way.deviation() < STEADY_M_S || travel.relative_deviation() < 0.05 {
        return Err(JoinRefusal::NoAcceleration);
    }
    let (step_s, starts) = coarse(&travel, &way, within_s, CANDIDATES);
    let mut fits: Vec<(f64, Score)> =
        starts.into_iter().filter_map(|offset_s| refine(&travel, &way, offset_s, step_s)).collect();
    fits.sort_by(|a, b| b.1.evidence.total_cmp(&a.1.evidence));
    // Neighbouring starts may have climbed the same peak.
    let mut peaks: Vec<(f64, Score)> = Vec::new();
    for fit in fits {
        if peaks.iter().all(|peak| (peak.0 - fit.0).abs() > 2.0) {
            peaks.push(fit);
        }
    }
    // Where slip hides how well all speeds fit, the changes of speed may still show it.
    let ((offset_s, score), rival) = choose(&peaks)
        .or_else(|refusal| choose_by_changes(&travel, &way, &peaks).ok_or(refusal))?;
    let (offset_s, standard_uncertainty_s) = sharp(&travel, &way, (offset_s, &score));
    if standard_uncertainty_s >= UNCERTAINTY_MAX_S {
        return Err(JoinRefusal::TooUncertain { standard_uncertainty_s });
    }
    let (origin_s, offset_s, drift) = drift(&travel, &way, offset_s);
    Ok(Join {
        offset_s,
        standard_uncertainty_s,
        origin_s,
        drift,
        misfit_m_s: score.mean_square.sqrt(),
        rival,
    })
}

/// A peak's offset and its standard uncertainty, seconds, by whichever shows it better: all speeds
/// with one scale, or the changes of speed with a scale each.
fn sharp(travel: &Grid, way: &Grid, (offset_s, score): (f64, &Score)) -> (f64, f64) {
    let by_all = (offset_s, score.standard_uncertainty_s);
    let by_changes = by_changes(travel, way, offset_s);
    by_changes
        .map(|found| (found.offset_s, found.standard_uncertainty_s))
        .filter(|found| found.1 < by_all.1)
        .unwrap_or(by_all)
}

type Peak = (f64, Score);

/// The best peak and the one that comes nearest to it, if none is as good.
fn choose(peaks: &[Peak]) -> Result<(Peak, Option<Rival>), JoinRefusal> {
    let Some(best) = peaks.first() else {
        return Err(JoinRefusal::NoMatch { explained: 0.0 });
    };
    if best.1.evidence < EVIDENCE_MIN || best.1.explained() < EXPLAINED_MIN {
        return Err(JoinRefusal::NoMatch { explained: best.1.explained().max(0.0) });
    }
    let nearest = peaks[1..]
        .iter()
        .filter(|peak| peak.1.evidence >= RIVAL_SHARE * best.1.evidence)
        .min_by(|a, b| best.1.margin_over(&a.1).total_cmp(&best.1.margin_over(&b.1)));
    let Some(nearest) = nearest else { return Ok((*best, None)) };
    let rival = Rival {
        apart_s: nearest.0 - best.0,
        misfit_ratio: (nearest.1.mean_square / best.1.mean_square).sqrt(),
    };
    if best.1.margin_over(&nearest.1) < MARGIN {
        return Err(JoinRefusal::Ambiguous(rival));
    }
    Ok((*best, Some(rival)))
}

/// The same by the changes of speed alone.
fn choose_by_changes(travel: &Grid, way: &Grid, peaks: &[Peak]) -> Option<(Peak, Option<Rival>)> {
    let found = peaks.iter().filter_map(|peak| by_changes(travel, way, peak.0));
    let mut peaks: Vec<Peak> = found.map(|found| (found.offset_s, found.score)).collect();
    peaks.sort_by(|a, b| b.1.evidence.total_cmp(&a.1.evidence));
    choose(&peaks).ok()
}

/// Offset and drift by the pieces' own offsets; the offset as it was where the pieces cannot show.
/// Gives the origin, the offset there and the drift.
fn drift(travel: &Grid, way: &Grid, offset_s: f64) -> (f64, f64, f64) {
    let from_s = travel.start_s().max(way.start_s() - offset_s);
    let to_s = travel.end_s().min(way.end_s() - offset_s);
    let middle_s = f64::midpoint(from_s, to_s);
    let still = (middle_s, offset_s, 0.0);
    let pieces = ((to_s - from_s) / PIECE_S).floor();
    if pieces < 3.0 {
        return still;
    }
    // Weights, times, offsets of the pieces, about the middle.
    let mut sums = [0.0; 5];
    let length_s = (to_s - from_s) / pieces;
    for piece in 0..pieces as usize {
        let start_s = from_s + piece as f64 * length_s;
        let part = way.part(start_s + offset_s, start_s + length_s + offset_s);
        let Some(part) = part else { continue };
        let Some((own_s, score)) = refine(travel, &part, offset_s, 1.0) else { continue };
        let (own_s, u_s) = sharp(travel, &part, (own_s, &score));
        if score.explained() < EXPLAINED_MIN || u_s > UNCERTAINTY_MAX_S {
            continue;
        }
        let weight = 1.0 / (u_s * u_s).max(1e-6);
        let (x, y) = (start_s + 0.5 * length_s - middle_s, own_s - offset_s);
        for (sum, term) in sums.iter_mut().zip([1.0, x, x * x, y, x * y]) {
            *sum += weight * term;
        }
    }
    let [w, x, xx, y, xy] = sums;
    let spread = w * xx - x * x;
    if spread <= 0.0 {
        return still;
    }
    let slope = (w * xy - x * y) / spread;
    let slope_u = (w / spread).sqrt();
    if slope.abs() < 3.0 * slope_u || slope.abs() > DRIFT_MAX {
        return still;
    }
    (middle_s, offset_s + (y - slope * x) / w, slope)
}

/// Share of the satellite speed's variance that the counts foretell at an offset that was given;
/// `None` where the speed changes too little to show.
#[must_use]
pub fn explained_at(counts: &[(f64, f64)], speeds: &[(f64, f64)], offset_s: f64) -> Option<f64> {
    let (travel, way) = (Grid::of_counts(counts)?, Grid::of_speeds(speeds)?);
    if way.deviation() < STEADY_M_S {
        return None;
    }
    Some(score(&travel, &way, offset_s)?.explained())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Speed of an hour's driving with stops of unlike lengths, m/s.
    fn speed(at_s: f64) -> f64 {
        let leg = (at_s / 47.0).floor();
        let within_s = at_s - 47.0 * leg;
        let top = 1.5 + (leg * 0.7).sin().abs() * 2.0;
        (0.6 * within_s).min(0.6 * (38.0 + 5.0 * leg.cos() - within_s)).clamp(0.0, top)
    }

    /// Running counts every 0.1 s of a clock that is `offset_s` behind and `drift` slow, and
    /// speeds every second; both of `span_s`.
    /// Values at times, seconds.
    type Stream = Vec<(f64, f64)>;

    fn streams(span_s: f64, offset_s: f64, drift: f64) -> (Stream, Stream) {
        let mut way_m = 0.0;
        let mut counts = Vec::new();
        for step in 0..(span_s * 10.0) as u32 {
            let true_s = f64::from(step) * 0.1;
            counts.push(((true_s - offset_s) / (1.0 + drift), (way_m * 130.0_f64).floor()));
            way_m += speed(true_s + 0.05) * 0.1;
        }
        let speeds = (0..span_s as u32).map(|s| (f64::from(s), speed(f64::from(s)))).collect();
        (counts, speeds)
    }

    #[test]
    fn offset_and_drift_of_an_hour_are_found() {
        let (counts, speeds) = streams(3600.0, -4321.5, 80e-6);
        let join = join(&counts, &speeds, None).unwrap();
        for true_s in [100.0, 1800.0, 3500.0] {
            let found_s = join.satellite_s((true_s + 4321.5) / (1.0 + 80e-6));
            assert!((found_s - true_s).abs() < 0.06, "{true_s} {found_s} {join:?}");
        }
        assert!((join.drift - 80e-6).abs() < 15e-6, "{join:?}");
    }

    #[test]
    fn a_short_piece_is_found_in_a_long_recording() {
        let (counts, speeds) = streams(3600.0, 0.0, 0.0);
        let piece: Vec<(f64, f64)> =
            counts.iter().filter(|c| (2000.0..2300.0).contains(&c.0)).copied().collect();
        let join = join(&piece, &speeds, None).unwrap();
        assert!(join.offset_s.abs() < 0.2, "{join:?}");
        assert!(join.rival.is_none_or(|rival| rival.misfit_ratio > 1.5), "{join:?}");
    }

    #[test]
    fn what_repeats_itself_exactly_is_refused() {
        let lap = |at_s: f64| speed(at_s % 94.0);
        let speeds: Vec<(f64, f64)> =
            (0..1000).map(|s| (f64::from(s), lap(f64::from(s)))).collect();
        let mut way_m = 0.0;
        let counts: Vec<(f64, f64)> = (0..7000)
            .map(|step| {
                way_m += lap(f64::from(step) * 0.1) * 0.1;
                (f64::from(step) * 0.1, way_m * 130.0)
            })
            .collect();
        let refusal = join(&counts, &speeds, None).unwrap_err();
        let JoinRefusal::Ambiguous(rival) = refusal else { panic!("{refusal:?}") };
        let laps = rival.apart_s / 94.0;
        assert!((laps - laps.round()).abs() < 0.01 && rival.misfit_ratio < 1.3, "{rival:?}");
        let even: Vec<(f64, f64)> = speeds.iter().map(|s| (s.0, 2.0)).collect();
        assert_eq!(join(&counts, &even, None), Err(JoinRefusal::NoAcceleration));
    }
}
