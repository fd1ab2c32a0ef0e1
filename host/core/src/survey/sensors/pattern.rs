//! What comes back once a turn: a missing tooth, an extra edge, the unevenness of the ring.
//!
//! One missing tooth of z lowers the mean count by 100/z per cent and doubles one interval a turn;
//! one extra edge a turn raises it by as much (Gustafsson, Rotational speed sensors: limitations,
//! pre-processing and automotive applications, IEEE Instrumentation & Measurement Magazine 13(2),
//! 2010, pages 16 to 23).

use super::edges::{EvenPart, Odd};
use crate::stats::fit::robust::robust_standard_deviation;

/// Fewest and most teeth looked for: wider than the rings of 6 to 60 that are met (common practice,
/// no source).
const TEETH: std::ops::RangeInclusive<u32> = 3..=400;
/// Equal distances between odd places that make a pattern; one or two may be equal by chance.
const EQUAL_MIN: usize = 3;
/// Share of the distances that must be equal; the rest may be chance events in between.
const EQUAL_SHARE: f64 = 0.6;
/// From this many impulses on a gap is no tooth: a broken contact makes it, wherever it comes.
pub const WIDE: u32 = 3;
/// Lags tried for the unevenness of a ring.
const LAGS: std::ops::RangeInclusive<usize> = 4..=150;
/// Correlation from which the ring is taken to repeat itself.
const REPEATS: f64 = 0.5;
/// A shorter lag whose correlation comes this near to the greatest is the turn; multiples follow.
const NEAR_BEST: f64 = 0.9;
/// Pairs of pitches for a correlation: its own standard deviation is then 0.07.
const PAIRS_MIN: usize = 200;
/// Below this spread the unevenness is that of the board's microsecond, not of the ring.
const SPREAD_MIN: f64 = 0.002;

/// Odd places of one kind, sorted into once a turn and at random.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sorted {
    /// Pitches of one turn, where the odd places come back once a turn.
    pub teeth: Option<u32>,
    /// Turns in which the odd place was seen.
    pub turns: usize,
    /// Impulses at odd places that belong to no turn.
    pub random: u32,
    /// Number of places of those.
    pub random_places: usize,
    /// Those of [`WIDE`] impulses or more among them.
    pub wide_places: usize,
}

/// Per cent by which an extra edge (plus) or a missing tooth (minus) once a turn changes the mean
/// count of a ring with this many teeth.
#[must_use]
pub fn count_effect_percent(teeth: u32, extra: bool) -> f64 {
    let effect = 100.0 / f64::from(teeth.max(1));
    if extra { effect } else { -effect }
}

/// Sort the odd places of all parts.
#[must_use]
pub fn sort<'a>(parts: &'a [EvenPart], odd: impl Fn(&'a EvenPart) -> &'a [Odd]) -> Sorted {
    let teeth = turn(parts, &odd);
    let mut sorted = Sorted { teeth, ..Sorted::default() };
    for places in parts.iter().map(odd) {
        let phase = teeth.and_then(|teeth| usual_phase(places, teeth));
        for place in places {
            let once_a_turn = teeth.zip(phase).is_some_and(|(t, phase)| place.at % t == phase);
            if once_a_turn && place.impulses < WIDE {
                sorted.turns += 1;
                // A gap that is wider than one tooth holds random misses as well.
                sorted.random += place.impulses - 1;
            } else {
                sorted.random += place.impulses;
                sorted.random_places += 1;
                sorted.wide_places += usize::from(place.impulses >= WIDE);
            }
        }
    }
    sorted
}

/// The distance at which odd places come back.
fn turn<'a>(parts: &'a [EvenPart], odd: &impl Fn(&'a EvenPart) -> &'a [Odd]) -> Option<u32> {
    let mut distances: Vec<u32> = Vec::new();
    for part in parts {
        let narrow = odd(part).iter().filter(|place| place.impulses < WIDE);
        let at: Vec<u32> = narrow.map(|place| place.at).collect();
        distances.extend(at.windows(2).map(|pair| pair[1] - pair[0]));
    }
    distances.sort_unstable();
    let runs = distances.chunk_by(|a, b| a == b);
    let usual = runs.max_by_key(|run| run.len())?;
    let enough = usual.len() >= EQUAL_MIN
        && usual.len() as f64 >= EQUAL_SHARE * distances.len() as f64
        && TEETH.contains(&usual[0]);
    enough.then_some(usual[0])
}

/// Where in the turn most of the odd places of one part lie.
fn usual_phase(places: &[Odd], teeth: u32) -> Option<u32> {
    let mut phases: Vec<u32> = places.iter().map(|place| place.at % teeth).collect();
    phases.sort_unstable();
    phases.chunk_by(|a, b| a == b).max_by_key(|run| run.len()).map(|run| run[0])
}

/// How even the pitches are.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evenness {
    /// Standard deviation of the intervals about the local mean, as a share (robust).
    pub spread: f64,
    /// Teeth of the ring, where its unevenness comes back once a turn.
    pub teeth: Option<u32>,
    /// What is left of the spread when that is taken out, as a share: noise, not the ring.
    pub noise: Option<f64>,
}

/// Judge the evenness over all parts; `None` without pitches. A radar has no ring to look for.
#[must_use]
pub fn evenness(parts: &[EvenPart], ring: bool) -> Option<Evenness> {
    let all: Vec<f64> = parts.iter().flat_map(|s| s.ratios.iter().flatten().copied()).collect();
    let spread = robust_standard_deviation(&all)?;
    let mut out = Evenness { spread, ..Evenness::default() };
    if !ring || spread < SPREAD_MIN {
        return Some(out);
    }
    let correlations: Vec<(usize, f64)> =
        LAGS.filter_map(|lag| Some((lag, correlation(parts, lag)?))).collect();
    let best = correlations.iter().map(|c| c.1).fold(0.0, f64::max);
    if best >= REPEATS {
        let found = correlations.iter().find(|c| c.1 >= NEAR_BEST * best);
        out.teeth = found.map(|c| c.0 as u32);
        out.noise = Some(spread * (1.0 - best).max(0.0).sqrt());
    }
    Some(out)
}

/// Correlation of the pitches with those `lag` further on.
fn correlation(parts: &[EvenPart], lag: usize) -> Option<f64> {
    let (mut products, mut squares, mut pairs) = (0.0, 0.0, 0);
    for part in parts {
        let later = part.ratios.iter().skip(lag);
        for (a, b) in part.ratios.iter().zip(later) {
            if let (Some(a), Some(b)) = (a, b) {
                products += (a - 1.0) * (b - 1.0);
                squares += f64::midpoint((a - 1.0).powi(2), (b - 1.0).powi(2));
                pairs += 1;
            }
        }
    }
    (pairs >= PAIRS_MIN && squares > 0.0).then(|| products / squares)
}
