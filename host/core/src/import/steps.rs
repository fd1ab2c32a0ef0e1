//! Where the receiver's clock was set while it recorded.
//!
//! All lines are placed by the receiver's own UTC. A receiver that goes from GPS time to UTC prints
//! the same seconds twice; one that sets its clock ahead leaves some out, and that looks like a
//! hole in the recording. What passed meanwhile is shown by the times of arrival, where there are
//! any, by the distance driven, or by the counts on the other side. The lines before a step are
//! then moved onto the clock of those behind it, for a receiver is right in the end; the sentences
//! stay as they are.

use super::receiver::{Recording, place_lines};
use super::table::Motion;
use crate::geodesy::LocalPlane;
use crate::stats::fit::robust::upper_median;
use crate::timeline::join::{explained_at, join};
use crate::timeline::receiver_clock::step_words;
use crate::wire::fix::Fix;
use std::collections::BTreeSet;

/// A clock is set by no more than this, seconds: GPS time lies 18 s ahead of UTC, and 37 s are all
/// the leap seconds there are. Farther apart, two recordings were put into one file.
const STEP_MAX_S: f64 = 120.0;
/// And by no less, seconds.
const STEP_MIN_S: f64 = 0.6;
/// Epochs that must go on evenly before and after a step.
const EVEN: usize = 5;
/// Places looked at; a recording with more has holes, and not a clock that is set so often.
const PLACES_MAX: usize = 12;
/// Epochs with doubled sentences that are looked at.
const DOUBLED_MAX: usize = 3;
/// From this speed on the distance shows the time that passed, m/s.
const DRIVING_M_S: f64 = 1.0;
/// The counts show a step where at the new offset they foretell this share of the changes of the
/// satellite speed, and this much more than at the old one.
const EXPLAINED_MIN: f64 = 0.8;
const EXPLAINED_MORE: f64 = 0.1;
/// Or where the whole fits so much better without it.
const BETTER: f64 = 0.8;
/// A step that the speeds on both sides show is another one than that of the epochs if it differs
/// by more than this, seconds; looked for within the second figure.
const SHARP_S: f64 = 0.4;
const LOOK_S: f64 = 10.0;

/// The clock was set before an epoch.
struct Step {
    /// Place in the epochs.
    epoch: usize,
    /// By how much, seconds; negative: back.
    by_s: f64,
}

/// Find the steps of the receiver's clock and take them out of the times of epochs, fixes and
/// lines; say so in the remarks. `motions` are the counts, in
/// seconds since `counts_utc_ns` where they carry UTC.
pub(super) fn take_out(
    recording: &mut Recording<'_>,
    motions: &[Motion],
    counts_utc_ns: Option<i64>,
    remarks: &mut Vec<String>,
) {
    let steps = find(recording, motions, counts_utc_ns);
    if steps.is_empty() {
        return;
    }
    for step in &steps {
        // Found on the clock of the last part: what lies before moves.
        let by_ns = (step.by_s * 1e9).round() as i64;
        let line = recording.epochs[step.epoch].0;
        recording.epochs[..step.epoch].iter_mut().for_each(|epoch| epoch.1 += by_ns);
        let before = recording.fixes.iter_mut().take_while(|fix| fix.host_ns < line);
        before.for_each(|fix| fix.utc_ns += by_ns);
        remarks.push(format!(
            "The receiver's clock was set {} at line {} of its recording; the lines before it were \
             moved to fit.",
            step_words(step.by_s),
            line + 1
        ));
    }
    place_lines(recording);
}

fn find(recording: &Recording<'_>, motions: &[Motion], counts_utc_ns: Option<i64>) -> Vec<Step> {
    let epochs = &recording.epochs;
    let passed = |i: usize| (epochs[i].1 - epochs[i - 1].1) as f64 * 1e-9;
    let ahead = (1..epochs.len()).map(passed).filter(|s| *s > 0.0).collect();
    let Some(usual_s) = upper_median(ahead) else { return Vec::new() };
    let hole_s = (1.6 * usual_s).max(usual_s + 0.5);
    let late = later(recording);
    let odd = |i: usize| passed(i) <= 0.0 || passed(i) > hole_s || late.contains(&i);
    let places: Vec<usize> = (1..epochs.len())
        .filter(|&i| passed(i).abs() <= STEP_MAX_S && odd(i))
        .filter(|&i| even(epochs, i, usual_s, passed(i)))
        .collect();
    if places.is_empty() || places.len() > PLACES_MAX {
        return Vec::new();
    }
    let origin_ns = epochs[0].1;
    let nominal_s = counts_utc_ns.map(|utc_ns| (utc_ns - origin_ns) as f64 * 1e-9);
    let speeds = recording.speeds(origin_ns);
    let guided: Vec<Guided<'_>> = motions
        .iter()
        .map(|motion| {
            let whole = join(motion, &speeds, None).map(|found| found.offset_s);
            (motion, whole.ok().or(nominal_s))
        })
        .collect();
    let mut steps: Vec<Step> = Vec::new();
    for (n, &epoch) in places.iter().enumerate() {
        let from = steps.last().map_or(0, |step| step.epoch);
        let to = places[n + 1..].iter().find(|&&i| passed(i) <= 0.0);
        let sides = Sides::new(recording, &guided, (from, epoch, to.copied()));
        let gap_s = passed(epoch);
        // Epochs come at whole intervals of the clock, before the step and after.
        let whole = |s: f64| (s / usual_s).round() * usual_s;
        let elapsed_s = sides.elapsed_s();
        // One epoch of two with the same time was dropped.
        let dropped_s = if late.contains(&epoch) { gap_s } else { 0.0 };
        let by_s = whole(gap_s - elapsed_s.unwrap_or(usual_s + dropped_s));
        if by_s.abs() <= STEP_MIN_S {
            continue;
        }
        let shown_s = sides.shown_s(by_s);
        let fits = shown_s.map(|shown_s| (shown_s - by_s).abs() < SHARP_S);
        // Nothing but a step goes back, and epochs are lost in it. All else may be a hole or a wild
        // position.
        let step_s = match (gap_s <= 0.0, fits) {
            (true, Some(false)) => shown_s,
            (true, _) | (false, Some(true)) => Some(by_s),
            (false, Some(false)) => None,
            (false, None) => {
                // What was only held up on its way looks as if its clock were set back.
                let shown = elapsed_s.is_some() && by_s > 0.0 || sides.shifted_by(by_s);
                shown.then_some(by_s)
            }
        };
        steps.extend(step_s.map(|by_s| Step { epoch, by_s }));
    }
    steps
}

/// Places of epochs before which more time passed than their clock says, by the distance driven or
/// by the times of arrival, or where sentences came twice: it was set back by one interval, the
/// same time came twice, and one of the two epochs was dropped.
fn later(recording: &Recording<'_>) -> BTreeSet<usize> {
    let epochs = &recording.epochs;
    let longer = |pair: &&[Fix]| {
        let passed_s = (pair[1].utc_ns - pair[0].utc_ns) as f64 * 1e-9;
        driven_s(&pair[0], &pair[1]).is_some_and(|driven_s| driven_s - passed_s > STEP_MIN_S)
    };
    let place = |fix: &Fix| epochs.partition_point(|epoch| epoch.0 < fix.host_ns);
    let driven = recording.fixes.windows(2).filter(longer).map(|pair| place(&pair[1]));
    let arrived = (1..epochs.len()).filter(|&at| {
        let passed_s = (epochs[at].1 - epochs[at - 1].1) as f64 * 1e-9;
        arrivals_s(recording, at).is_some_and(|arrivals_s| arrivals_s - passed_s > STEP_MIN_S)
    });
    let doubled: BTreeSet<usize> =
        recording.doubled.iter().map(|&line| epochs.partition_point(|e| e.0 < line)).collect();
    // A receiver that says everything twice has set no clock.
    let doubled = Some(doubled).filter(|doubled| doubled.len() <= DOUBLED_MAX).unwrap_or_default();
    driven.chain(arrived).chain(doubled).filter(|&at| at < epochs.len()).collect()
}

/// From the arrival of the epoch before to that of an epoch, seconds.
fn arrivals_s(recording: &Recording<'_>, at: usize) -> Option<f64> {
    let arrived = |epoch: usize| {
        let line = recording.epochs[epoch].0;
        let found = recording.arrivals.binary_search_by_key(&line, |arrival| arrival.0).ok()?;
        Some(recording.arrivals[found].1)
    };
    Some((arrived(at)? - arrived(at - 1)?) as f64 * 1e-9)
}

/// Seconds from fix to fix by the distance between them, where it was driven at an even speed.
fn driven_s(a: &Fix, b: &Fix) -> Option<f64> {
    let (before_m_s, after_m_s) = a.speed_m_s.zip(b.speed_m_s)?;
    let (least, most) = (before_m_s.min(after_m_s), before_m_s.max(after_m_s));
    if b.utc_ns <= a.utc_ns || least < DRIVING_M_S || least < 0.7 * most {
        return None;
    }
    let step = LocalPlane::new(a.lat_deg, a.lon_deg, 0.0).enu(b.lat_deg, b.lon_deg);
    Some(step.east_m.hypot(step.north_m) / (0.5 * (least + most)))
}

/// Whether the epochs go on evenly on both sides of a place: a single wild time is no step.
fn even(epochs: &[(u64, i64)], at: usize, usual_s: f64, gap_s: f64) -> bool {
    let Some(first) = at.checked_sub(EVEN) else { return false };
    let Some(part) = epochs.get(first..at + EVEN) else { return false };
    let limit_s = (0.5 * gap_s.abs()).max(1.6 * usual_s);
    let near = |pair: &[(u64, i64)]| {
        let step_s = (pair[1].1 - pair[0].1) as f64 * 1e-9;
        step_s > 0.0 && step_s <= limit_s
    };
    part[..EVEN].windows(2).all(near) && part[EVEN..].windows(2).all(near)
}

/// The counts of a channel, and about where they lie in the whole recording, seconds: what looks
/// alike pass by pass is not mistaken then.
type Guided<'a> = (&'a Motion, Option<f64>);

/// What lies on either side of a place that may be a step.
struct Sides<'a> {
    motions: &'a [Guided<'a>],
    /// Seconds and speed before, up to the step before that.
    before: Vec<(f64, f64)>,
    /// The same after.
    after: Vec<(f64, f64)>,
    /// The fixes of the epochs before and after.
    fixes: Option<(Fix, Fix)>,
    /// Time of arrival from the last line before to the first after, seconds.
    arrivals_s: Option<f64>,
}

impl<'a> Sides<'a> {
    /// Epochs from the step before, of the place and of what ends its other side.
    fn new(
        recording: &Recording<'_>,
        motions: &'a [Guided<'a>],
        (from, at, to): (usize, usize, Option<usize>),
    ) -> Self {
        let line = |epoch: usize| recording.epochs[epoch].0;
        let place = |line: u64| recording.fixes.partition_point(|fix| fix.host_ns < line);
        let (first, middle) = (place(line(from)), place(line(at)));
        let last = to.map_or(recording.fixes.len(), |to| place(line(to)));
        let origin_ns = recording.epochs[0].1;
        let fixes = middle.checked_sub(1).and_then(|i| recording.fixes.get(i));
        Self {
            motions,
            before: recording.speeds_of(first..middle, origin_ns),
            after: recording.speeds_of(middle..last, origin_ns),
            fixes: fixes
                .zip(recording.fixes.get(middle))
                .filter(|(a, b)| {
                    a.utc_ns == recording.epochs[at - 1].1 && b.utc_ns == recording.epochs[at].1
                })
                .map(|(a, b)| (*a, *b)),
            arrivals_s: arrivals_s(recording, at),
        }
    }

    /// Seconds from the last epoch before to the first after, where arrival or driving shows them.
    fn elapsed_s(&self) -> Option<f64> {
        let shown = self.arrivals_s.filter(|s| (0.0..STEP_MAX_S).contains(s));
        shown.or_else(|| driven_s(&self.fixes?.0, &self.fixes?.1))
    }

    /// Whether by the counts the clock is ahead by that much after the place, and not before.
    fn shifted_by(&self, by_s: f64) -> bool {
        let shows = |motion: &Motion, speeds, old_s: f64, new_s: f64| {
            let share = |offset_s| explained_at(motion, speeds, offset_s).unwrap_or(0.0);
            let new = share(new_s);
            new > EXPLAINED_MIN && new > share(old_s) + EXPLAINED_MORE
        };
        let moved = self.before.iter().map(|&(at_s, speed)| (at_s + by_s, speed));
        let moved: Vec<(f64, f64)> = moved.chain(self.after.iter().copied()).collect();
        let as_it_is: Vec<(f64, f64)> = self.before.iter().chain(&self.after).copied().collect();
        self.motions.iter().any(|&(motion, guide_s)| {
            match (join(motion, &moved, None), join(motion, &as_it_is, None)) {
                (Ok(moved), Ok(as_it_is)) => {
                    return moved.misfit_m_s < BETTER * as_it_is.misfit_m_s;
                }
                (Ok(_), Err(_)) => return true,
                (Err(_), _) => {}
            }
            let near_s = around(guide_s, by_s);
            let found = join(motion, &self.before, near_s).map(|a| (&self.after, a.offset_s, by_s));
            found
                .or_else(|_| {
                    join(motion, &self.after, near_s).map(|b| (&self.before, b.offset_s, -by_s))
                })
                .is_ok_and(|(other, at_s, by_s)| shows(motion, other, at_s, at_s + by_s))
        })
    }

    /// The step as the counts on both sides show it, where they do.
    fn shown_s(&self, by_s: f64) -> Option<f64> {
        self.motions.iter().find_map(|&(motion, guide_s)| {
            let before_s = join(motion, &self.before, around(guide_s, by_s)).ok()?.offset_s;
            let near_s = around(Some(before_s), by_s);
            Some(join(motion, &self.after, near_s).ok()?.offset_s - before_s)
        })
    }
}

/// Where to look for an offset before or after a step.
fn around(guide_s: Option<f64>, by_s: f64) -> Option<(f64, f64)> {
    let reach_s = by_s.abs() + LOOK_S;
    guide_s.map(|guide_s| (guide_s - reach_s, guide_s + reach_s))
}
