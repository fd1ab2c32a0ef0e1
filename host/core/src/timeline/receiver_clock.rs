//! The receiver's clock against the host's, begun anew where the receiver sets it.
//!
//! A receiver that has just been switched on counts GPS time until it has heard of the leap
//! seconds, and then sets its clock by some seconds; others begin with a clock of their own. All
//! times printed after that belong to another clock. In a step the delay of the fixes changes at
//! once and stays changed; a fix that was only held up on its way is followed by prompt ones.

use super::envelope::{ClockLine, Envelope};
use crate::wire::gate::DRIFT_MAX;

/// Delays that differ by less are those of one clock, seconds: receivers answer within 20 to
/// 300 ms (common practice, no source), and clocks are set by whole seconds.
const STEP_MIN_S: f64 = 0.6;
/// Fixes later than before for this long, seconds, and as many in a row, are on a new clock: what
/// was held up on its way comes all at once when the way is free again.
const HELD_S: f64 = 5.0;
const HELD_FIXES: usize = 5;
/// A clock is known once prompt fixes came for this long, seconds. Before that the bytes may be
/// old ones that the system had kept.
const KNOWN_AFTER_S: f64 = 3.0;

/// The receiver's clock was set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReceiverStep {
    /// By how much, seconds; negative: back.
    pub step_s: f64,
    /// Host time of the last fix on the old clock, nanoseconds.
    pub from_ns: u64,
    /// Host time of the first fix on the new clock, nanoseconds.
    pub to_ns: u64,
    /// The old clock, as known at the step.
    pub before: Option<(ClockLine, i64)>,
}

/// Which way a clock was set and by how much, in words.
#[must_use]
pub fn step_words(step_s: f64) -> String {
    let way = if step_s < 0.0 { "back" } else { "ahead" };
    format!("{way} by {:.1} s", step_s.abs())
}

/// Whether two clocks were set by the same, seconds: then it is the one they were compared with
/// that was set, or stood still.
#[must_use]
pub fn same_step(a_s: f64, b_s: f64) -> bool {
    (a_s - b_s).abs() < STEP_MIN_S
}

/// Delays since the clock began.
#[derive(Clone, Copy, Debug)]
struct Known {
    /// The least delay, as it may have drifted since, seconds.
    least_s: f64,
    /// Delay of the last fix, seconds.
    last_s: f64,
    /// Host times of the first and the last prompt fix, nanoseconds.
    first_ns: u64,
    last_ns: u64,
}

/// Streaming estimate of the receiver's clock.
#[derive(Clone, Debug, Default)]
pub struct ReceiverClock {
    envelope: Envelope,
    origin_ns: Option<i64>,
    known: Option<Known>,
    /// UTC and host time of fixes that came later than the clock says, not yet judged.
    late: Vec<(i64, u64)>,
}

impl ReceiverClock {
    /// One fix: UTC printed in it and host time of its arrival, both nanoseconds. Shows the step
    /// that it proves, if it proves one; it belongs to the new clock then.
    pub fn add(&mut self, utc_ns: i64, host_ns: u64) -> Option<ReceiverStep> {
        let delay_s = self.delay_s(utc_ns, host_ns);
        let Some(mut known) = self.known else {
            self.begin(utc_ns, host_ns);
            return None;
        };
        let waited_s = host_ns.saturating_sub(known.last_ns) as f64 * 1e-9;
        // Either clock may be the faster one.
        let drift_s = DRIFT_MAX * waited_s;
        let least_s = known.least_s + drift_s;
        let off_s = delay_s - least_s;
        if delay_s < known.least_s - drift_s - STEP_MIN_S {
            let proven = known.last_ns.saturating_sub(known.first_ns) as f64 * 1e-9 > KNOWN_AFTER_S;
            return self.anew(&[(utc_ns, host_ns)], proven);
        }
        if off_s <= STEP_MIN_S {
            known.least_s = least_s.min(delay_s);
            (known.last_s, known.last_ns) = (delay_s, host_ns);
            self.known = Some(known);
            for (utc_ns, host_ns) in std::mem::take(&mut self.late) {
                self.place(utc_ns, host_ns);
            }
            self.place(utc_ns, host_ns);
            return None;
        }
        // A line that cannot keep up is later and later, a little each time: no step.
        if self.late.is_empty() && delay_s - known.last_s < STEP_MIN_S {
            known.last_s = delay_s;
            self.known = Some(known);
            self.place(utc_ns, host_ns);
            return None;
        }
        self.late.push((utc_ns, host_ns));
        let since_s = host_ns.saturating_sub(self.late[0].1) as f64 * 1e-9;
        if since_s < HELD_S || self.late.len() < HELD_FIXES {
            return None;
        }
        let late = std::mem::take(&mut self.late);
        self.anew(&late, true)
    }

    /// Host time of the first fix that has not been judged yet, nanoseconds: it and those after it
    /// may belong to another clock.
    #[must_use]
    pub fn unjudged_ns(&self) -> Option<u64> {
        self.late.first().map(|late| late.1)
    }

    /// The clock as a line from seconds since its own origin to host seconds, and that origin in
    /// UTC nanoseconds; `None` before the first fix.
    #[must_use]
    pub fn line(&self) -> Option<(ClockLine, i64)> {
        Some((self.envelope.line()?, self.origin_ns?))
    }

    /// Begin anew with these fixes. What came before them is shown as a step where it was `proven`
    /// to be a clock, and is otherwise only late: then the same clock goes on.
    fn anew(&mut self, fixes: &[(i64, u64)], proven: bool) -> Option<ReceiverStep> {
        let before = self.line();
        let known = self.known.take();
        let least_s = fixes.iter().map(|f| self.delay_s(f.0, f.1)).fold(f64::INFINITY, f64::min);
        if proven {
            *self = Self::default();
        }
        for &(utc_ns, host_ns) in fixes {
            self.begin(utc_ns, host_ns);
        }
        let (known, first) = (known.filter(|_| proven)?, fixes.first()?);
        let step_s = known.least_s - least_s;
        Some(ReceiverStep { step_s, from_ns: known.last_ns, to_ns: first.1, before })
    }

    /// A prompt fix of a clock that is new.
    fn begin(&mut self, utc_ns: i64, host_ns: u64) {
        self.place(utc_ns, host_ns);
        let delay_s = self.delay_s(utc_ns, host_ns);
        let known = self.known.get_or_insert(Known {
            least_s: delay_s,
            last_s: delay_s,
            first_ns: host_ns,
            last_ns: host_ns,
        });
        known.least_s = known.least_s.min(delay_s);
        (known.last_s, known.last_ns) = (delay_s, host_ns);
    }

    fn place(&mut self, utc_ns: i64, host_ns: u64) {
        let origin_ns = *self.origin_ns.get_or_insert(utc_ns);
        let since_s = utc_ns.saturating_sub(origin_ns) as f64 * 1e-9;
        self.envelope.add(since_s, host_ns as f64 * 1e-9);
    }

    /// Arrival minus time, up to a constant of this clock, seconds.
    fn delay_s(&self, utc_ns: i64, host_ns: u64) -> f64 {
        let since_ns = utc_ns.saturating_sub(self.origin_ns.unwrap_or(utc_ns));
        (host_ns as f64 - since_ns as f64) * 1e-9
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const S: i64 = 1_000_000_000;

    /// Fixes every `every_s`, delays given by the fix's number; steps at host times.
    fn run(
        fixes: u32,
        every_s: f64,
        delay_s: impl Fn(u32) -> f64,
        steps: &[(u32, f64)],
    ) -> Vec<ReceiverStep> {
        let mut clock = ReceiverClock::default();
        let mut found = Vec::new();
        let mut host_ns = 0_u64;
        for n in 0..fixes {
            let at_s = f64::from(n) * every_s;
            let off_s: f64 = steps.iter().filter(|step| n >= step.0).map(|step| step.1).sum();
            let utc_ns = 1_700_000_000 * S + ((at_s + off_s) * 1e9) as i64;
            host_ns = host_ns.max(((at_s + delay_s(n)) * 1e9) as u64);
            found.extend(clock.add(utc_ns, host_ns));
        }
        found
    }

    #[test]
    fn steps_of_every_size_are_found_where_they_are() {
        for (every_s, size_s) in [0.1, 1.0]
            .into_iter()
            .flat_map(|e| [-18.0, -13.0, -1.0, 1.0, 13.0, 18.0].map(|s| (e, s)))
        {
            let jitter = |n: u32| 0.08 + 0.05 * f64::from(n * 7 % 11) / 11.0;
            let found = run(200, every_s, jitter, &[(100, size_s)]);
            assert_eq!(found.len(), 1, "{every_s} {size_s} {found:?}");
            assert!((found[0].step_s - size_s).abs() < 0.06, "{found:?}");
            let at_ns = (100.0 * every_s * 1e9) as u64;
            assert!(found[0].from_ns < at_ns && found[0].to_ns >= at_ns, "{found:?}");
        }
    }

    #[test]
    fn what_is_only_late_is_no_step() {
        // Held up for 20 s, then all at once.
        let held = |n: u32| if (50..70).contains(&n) { f64::from(70 - n) + 0.1 } else { 0.1 };
        assert_eq!(run(200, 1.0, held, &[]), []);
        // A line that cannot keep up.
        assert_eq!(run(400, 1.0, |n| 0.1 + 0.02 * f64::from(n), &[]), []);
        // Old bytes first: they come at once, and then the prompt ones.
        let old = |n: u32| if n < 12 { f64::from(12 - n) } else { 0.1 };
        assert_eq!(run(200, 1.0, old, &[]), []);
        // Clocks that drift apart, with an hour without any fix.
        let drifting = |n: u32| 0.1 + 1e-4 * f64::from(n) + if n < 500 { 0.0 } else { 0.36 };
        assert_eq!(run(1000, 1.0, drifting, &[]), []);
        // Fixes long apart, whose clocks do not drift at all.
        assert_eq!(run(20, 4000.0, |_| 0.1, &[]), []);
    }

    #[test]
    fn it_is_set_there_and_back() {
        let found = run(300, 1.0, |_| 0.1, &[(100, -13.0), (200, 13.0)]);
        assert_eq!(found.iter().map(|f| f.step_s.round()).collect::<Vec<_>>(), [-13.0, 13.0]);
    }
}
