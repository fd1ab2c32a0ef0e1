//! Where speed and position of the receiver contradict each other.
//!
//! Under a bridge, between trees or without its corrections a receiver can report half the true
//! speed for seconds, with positions that follow for a while. Two things show it. Within a second
//! or so, integrated speed and positions part by more than the noise of either. And where the kind
//! of fix was worse for a while, the positions before and after are good again: what the speed
//! added up to in between must lead from the one to the other.

use super::axle::{Trace, TraceStep};
use super::noise::Noises;
use super::sums::Carry;
use crate::wire::fix::Quality;

/// Span over which speed and positions are held against each other, seconds.
const SPAN_S: f64 = 1.0;
/// They contradict each other from this many standard deviations on: a day has some ten thousand
/// spans, and real noise has longer tails than the normal one.
const CONTRADICT: f64 = 7.0;
/// And from this far on, metres: what bends of the path and an antenna that rocks can make.
const CONTRADICT_LEAST_M: f64 = 0.1;
/// Longest time with a worse kind of fix that is bridged, seconds: then noise alone hides it.
const BRIDGED_S: f64 = 120.0;
/// For this long after the kind of fix got worse, the receiver's filter may still be moving over,
/// seconds; common practice, no source.
const LOST_S: f64 = 10.0;
/// A kind of fix that lasted less than this is no state to fall from, seconds.
const HELD_S: f64 = 2.0;

/// A time over which the integrated speed is wrong by more than its noise.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Contradiction {
    from_s: f64,
    to_s: f64,
    parted_m: f64,
}

/// What contradicts what in a trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Trust {
    /// Of single spans, one after another: each holds its step's share of the parting.
    spans: Vec<Contradiction>,
    /// Over times with a worse kind of fix.
    bridged: Vec<Contradiction>,
    /// Times after the kind of fix got worse, seconds.
    lost: Vec<(f64, f64)>,
}

impl Trust {
    /// Look through a trace, by its integrated velocity. `before` is the one before a gap, where
    /// there is one.
    #[must_use]
    pub fn of(before: Option<&Trace>, carry: &Carry<'_>, noises: &Noises) -> Self {
        let trace = carry.trace();
        Self {
            spans: spans(carry, noises),
            bridged: RANKS.flat_map(|rank| bridged(carry, noises, rank)).collect(),
            lost: lost(before.into_iter().chain([trace]).flat_map(|trace| &trace.steps)),
        }
    }

    /// By how much the integrated speed may be wrong between two instants, for what contradicts it
    /// there, metres; 0 where nothing does.
    #[must_use]
    pub fn parted_m(&self, from_s: f64, to_s: f64) -> f64 {
        let common_s = |c: &Contradiction| (to_s.min(c.to_s) - from_s.max(c.from_s)).max(0.0);
        let first = self.spans.partition_point(|c| c.to_s <= from_s);
        let spans: f64 = self.spans[first..]
            .iter()
            .take_while(|c| c.from_s < to_s)
            .map(|c| c.parted_m * common_s(c) / (c.to_s - c.from_s))
            .sum();
        // Where in that time it went wrong is not known: mostly at once, or evenly.
        let share = |c: &Contradiction| (common_s(c) / (c.to_s - c.from_s)).sqrt();
        let bridged = self.bridged.iter().map(|c| c.parted_m * share(c)).fold(0.0, f64::max);
        spans.max(bridged)
    }

    /// The kind of fix got worse shortly before or between two instants.
    #[must_use]
    pub fn lost(&self, from_s: f64, to_s: f64) -> bool {
        self.lost.iter().any(|&(lost_s, over_s)| lost_s < to_s && over_s > from_s)
    }
}

/// How much corrections are behind a fix.
fn rank(step: &TraceStep) -> u8 {
    match step.quality {
        Quality::RtkFixed => 3,
        Quality::RtkFloat => 2,
        Quality::Differential | Quality::Pps => 1,
        _ => 0,
    }
}

/// The ranks from which there is a worse one.
const RANKS: std::ops::RangeInclusive<u8> = 1..=3;

fn parted_m(a: (f64, f64), b: (f64, f64)) -> f64 {
    (b.0 - a.0).hypot(b.1 - a.1)
}

/// Spans of one kind of fix over which speed and positions part by more than noise.
fn spans(carry: &Carry<'_>, noises: &Noises) -> Vec<Contradiction> {
    let steps = &carry.trace().steps;
    let span = ((SPAN_S / carry.trace().interval_s).round() as usize).max(1);
    let mut out = Vec::new();
    let ends = carry.apart_m(0).zip(carry.apart_m(span));
    for (to, (from_apart, to_apart)) in (span..steps.len()).zip(ends) {
        let (a, b) = (&steps[to - span], &steps[to]);
        if a.quality != b.quality {
            continue;
        }
        let (noise, lasted_s) = (noises.over(std::slice::from_ref(b)), b.at_s - a.at_s);
        let variance = noise.carried_m2(lasted_s) + noise.wandered_m2(lasted_s);
        let limit_m = CONTRADICT * (variance + 2.0 * noise.white_m2).sqrt();
        let far_m = parted_m(from_apart, to_apart);
        if far_m > limit_m.max(CONTRADICT_LEAST_M) {
            // Spans overlap: each answers for one step in its middle.
            let middle = to - span / 2;
            let (from_s, to_s) = (steps[middle - 1].at_s, steps[middle].at_s);
            let parted_m = far_m * (to_s - from_s) / lasted_s;
            out.push(Contradiction { from_s, to_s, parted_m });
        }
    }
    out
}

/// Times with a worse kind of fix than `least`, between two of `least` or better, that the
/// integrated speed does not bridge.
fn bridged(carry: &Carry<'_>, noises: &Noises, least: u8) -> impl Iterator<Item = Contradiction> {
    let steps = &carry.trace().steps;
    let good = || (0..steps.len()).filter(|&i| rank(&steps[i]) >= least);
    let holes: Vec<(usize, usize)> =
        good().zip(good().skip(1)).filter(|(from, to)| *to > from + 1).collect();
    let found = holes.into_iter().filter_map(|(from, to)| {
        let (from_s, to_s) = (steps[from].at_s, steps[to].at_s);
        let noise = noises.over(&steps[from..=to]);
        let ends = noises.over(&[steps[from], steps[to]]);
        let variance = noise.carried_m2(to_s - from_s) + ends.wandered_m2(to_s - from_s);
        let limit_m = CONTRADICT * (variance + 2.0 * ends.white_m2).sqrt();
        let apart = |at: usize| carry.apart_m(at).next().unwrap_or_default();
        let parted_m = parted_m(apart(from), apart(to));
        let wrong = to_s - from_s <= BRIDGED_S && parted_m > limit_m.max(CONTRADICT_LEAST_M);
        wrong.then_some(Contradiction { from_s, to_s, parted_m })
    });
    found.collect::<Vec<_>>().into_iter()
}

/// From each fall to a worse kind of fix until it is back, or the receiver has had its time.
fn lost<'s>(steps: impl Iterator<Item = &'s TraceStep>) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    // The best kind of fix that was held, and since when each is not.
    let mut held: [Option<f64>; 4] = [None; 4];
    let mut since = [None; 4];
    for step in steps {
        let now = usize::from(rank(step));
        for (at, (held, since)) in held.iter_mut().zip(&mut since).enumerate() {
            if at <= now {
                let from_s = *since.get_or_insert(step.at_s);
                if step.at_s - from_s >= HELD_S {
                    *held = Some(step.at_s);
                }
            } else {
                *since = None;
            }
        }
        let fell = held.iter().skip(now + 1).flatten().any(|held_s| step.at_s - held_s <= LOST_S);
        match out.last_mut() {
            Some(last) if fell && step.at_s - last.1 < HELD_S => last.1 = step.at_s,
            _ if fell => out.push((step.at_s, step.at_s)),
            _ => {}
        }
    }
    out
}
