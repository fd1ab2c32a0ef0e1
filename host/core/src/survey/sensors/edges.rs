//! One edge train read: which edges are too many, where impulses are missing, how even the rest.
//!
//! Every interval is held against a local rate, since the speed changes: the running median of
//! the intervals around it. A place is judged only where the rate is steady on both sides of it,
//! so that stopping and driving off are not taken for missing impulses.

use crate::stats::fit::robust;

/// Intervals on each side whose upper quartile shows the pitch roughly, before bounces are out.
const ROUGH_SIDE: usize = 7;
/// An interval shorter than this share of the rough pitch is a second edge of the same tooth.
const BOUNCE_SHARE: f64 = 0.3;
/// Intervals in each of the four medians around a place: short, because the speed changes; odd,
/// and long enough that one odd tooth of a ring of six does not move them.
const SIDE: usize = 7;
/// The four medians may differ by this factor: room for braking at working speed, not for the
/// last metre before a stop.
const STEADY: f64 = 1.3;
/// An interval below this share of the pitch may be half of one that an extra edge has cut.
const CUT: f64 = 0.8;
/// The two halves make up one pitch, to within this.
const CUT_SUM: f64 = 0.25;
/// From this many pitches on an interval spans a missing impulse: midway, and a little more, so
/// that an uneven ring is not taken for a gap.
const GAP: f64 = 1.6;

/// An edge too many or impulses too few.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Odd {
    /// Place in the part, pitches from its beginning.
    pub at: u32,
    /// Impulses missing there; 1 for an extra edge.
    pub impulses: u32,
    /// For an extra edge: how soon after the edge before, microseconds.
    pub after_us: f64,
}

/// A part of a train over which the speed changed slowly enough to judge.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct EvenPart {
    /// Pitches in it, missing ones included.
    pub pitches: u32,
    /// Edges that are too many.
    pub extra: Vec<Odd>,
    /// Gaps where impulses are missing.
    pub missing: Vec<Odd>,
    /// For each pitch: its length as a multiple of the local pitch; `None` where it is odd.
    pub ratios: Vec<Option<f64>>,
    /// Impulses per second, the median.
    pub rate_hz: f64,
}

/// An interval after the bounces were taken out.
#[derive(Clone, Copy, Debug)]
struct Interval {
    us: f64,
    /// An edge was taken out of it: how soon after its beginning, microseconds.
    extra_us: Option<f64>,
}

/// Read a train into even parts.
#[must_use]
pub fn read(train_us: &[u32]) -> Vec<EvenPart> {
    let intervals = without_cuts(without_bounces(train_us));
    let lengths: Vec<f64> = intervals.iter().map(|interval| interval.us).collect();
    let mut parts = Vec::new();
    let mut open = EvenPart::default();
    let mut local: Vec<f64> = Vec::new();
    for (i, interval) in intervals.iter().enumerate() {
        match steady_pitch(&lengths, i) {
            Some(pitch_us) => {
                take(&mut open, *interval, pitch_us);
                local.push(pitch_us);
            }
            None => close(&mut open, &mut local, &mut parts),
        }
    }
    close(&mut open, &mut local, &mut parts);
    parts
}

fn close(open: &mut EvenPart, local: &mut Vec<f64>, parts: &mut Vec<EvenPart>) {
    if open.pitches > 0 {
        let pitch_us = robust::median(local).unwrap_or(0.0);
        open.rate_hz = if pitch_us > 0.0 { 1e6 / pitch_us } else { 0.0 };
        parts.push(std::mem::take(open));
    }
    local.clear();
}

/// Add an interval to a part.
fn take(open: &mut EvenPart, interval: Interval, pitch_us: f64) {
    let ratio = interval.us / pitch_us;
    if let Some(after_us) = interval.extra_us {
        open.extra.push(Odd { at: open.pitches, impulses: 1, after_us });
    }
    let spanned = if ratio < GAP { 1 } else { ratio.round().clamp(2.0, 1e6) as u32 };
    if spanned > 1 {
        let impulses = spanned - 1;
        open.missing.push(Odd { at: open.pitches, impulses, after_us: 0.0 });
        open.ratios.extend(std::iter::repeat_n(None, spanned as usize));
    } else {
        open.ratios.push(interval.extra_us.is_none().then_some(ratio));
    }
    open.pitches += spanned;
}

/// Edges that follow another at once belong to the same tooth: they go, and the interval goes on.
fn without_bounces(intervals_us: &[u32]) -> Vec<Interval> {
    let raw: Vec<f64> = intervals_us.iter().map(|&us| f64::from(us)).collect();
    let mut out: Vec<Interval> = Vec::with_capacity(raw.len());
    let mut held: Option<f64> = None;
    for (i, &us) in raw.iter().enumerate() {
        let around = &raw[i.saturating_sub(ROUGH_SIDE)..(i + ROUGH_SIDE + 1).min(raw.len())];
        let rough_us = upper_quartile(around);
        if us < BOUNCE_SHARE * rough_us {
            // A second bounce of the same edge adds to the first.
            held = Some(held.unwrap_or(0.0) + us);
        } else {
            out.push(Interval { us: us + held.unwrap_or(0.0), extra_us: held });
            held = None;
        }
    }
    out
}

/// An edge in the midst of a pitch, once the bounces are out: two short intervals that make one.
fn without_cuts(intervals: Vec<Interval>) -> Vec<Interval> {
    let lengths: Vec<f64> = intervals.iter().map(|interval| interval.us).collect();
    let mut out = Vec::with_capacity(intervals.len());
    let mut i = 0;
    while i < intervals.len() {
        let pitch_us = steady_pitch(&lengths, i);
        let (first, second) = (intervals[i], intervals.get(i + 1));
        let cut = pitch_us.zip(second).filter(|(pitch_us, second)| {
            let (a, b) = (first.us / pitch_us, second.us / pitch_us);
            a < CUT && b < CUT && (a + b - 1.0).abs() < CUT_SUM
        });
        if let Some((_, second)) = cut {
            out.push(Interval { us: first.us + second.us, extra_us: Some(first.us) });
            i += 2;
        } else {
            out.push(first);
            i += 1;
        }
    }
    out
}

/// The pitch about an interval, microseconds, where the rate is steady on both sides.
fn steady_pitch(lengths: &[f64], i: usize) -> Option<f64> {
    let before = i.checked_sub(2 * SIDE)?;
    let after = lengths.get(i + 1..i + 1 + 2 * SIDE)?;
    let before = &lengths[before..i];
    let medians = [&before[..SIDE], &before[SIDE..], &after[..SIDE], &after[SIDE..]]
        .map(|part| robust::upper_median(part.to_vec()).unwrap_or(0.0));
    let least = medians.iter().copied().fold(f64::INFINITY, f64::min);
    let greatest = medians.iter().copied().fold(0.0, f64::max);
    // The middle of the speeds next to the interval on both sides.
    (greatest < STEADY * least).then(|| f64::midpoint(medians[1], medians[2]))
}

fn upper_quartile(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (0.75 * (sorted.len().saturating_sub(1)) as f64).round() as usize;
    sorted.get(place).copied().unwrap_or(0.0)
}
