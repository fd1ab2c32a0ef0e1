//! The computer's clock against the receiver's time.
//!
//! Taken from what the receiver prints, before its date is held against the computer's: a computer
//! that is years off would refuse every date. Most of the fixes have to agree, since one date can
//! be damaged past its checksum and old sentences may come again.

use crate::units::rfc3339;
use std::fmt;

/// Clocks that differ by less are not spoken of, nanoseconds: in a year without a network a clock
/// of 20 ppm drifts by ten minutes (common practice, no source), and no two time zones, which
/// people mix up with UTC, are less than a quarter of an hour apart.
pub const LIMIT_NS: i64 = 600_000_000_000;
/// Offsets nearer to each other are those of the same two clocks, nanoseconds: a line holds fixes
/// up for seconds, and receivers set their clocks by seconds.
const SAME_NS: i64 = 60_000_000_000;
/// Fixes that must agree, more than those that do not.
const FIXES_MIN: u32 = 10;
/// Receivers count weeks in ten bits (IS-GPS-200, 20.3.3.3.1.1) and so fall back by this, in
/// nanoseconds.
const ROLLOVER_NS: i64 = 1024 * 7 * 86_400_000_000_000;
/// A date that fell back is known by the time of day, which stays: it may still be off by that of a
/// computer set to another time zone, nanoseconds.
const ZONES_NS: i64 = 14 * 3_600_000_000_000;
/// Nobody measured with this program before 2026-01-01, nanoseconds since 1970: such a date is
/// wrong.
pub const MADE_UTC_NS: i64 = 1_767_225_600_000_000_000;

/// How far a computer's clock and a receiver's lie apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ClockOffset {
    /// The receiver's time less the computer's, nanoseconds.
    pub ahead_ns: i64,
    /// The receiver's time of the last fix, nanoseconds since 1970.
    pub receiver_utc_ns: i64,
    /// The receiver prints a date; without one only the time of day can be compared.
    pub dated: bool,
    fixes: u32,
}

impl ClockOffset {
    /// Whether the receiver's date itself is impossible, so that it proves nothing of the
    /// computer's.
    #[must_use]
    pub const fn receiver_is_wrong(&self) -> bool {
        self.dated && self.receiver_utc_ns < MADE_UTC_NS
    }

    /// What is left of the difference where the receiver's count of weeks rolled over, nanoseconds.
    fn rolled_over(&self) -> Option<i64> {
        let times = self.ahead_ns.saturating_sub(ROLLOVER_NS / 2) / ROLLOVER_NS;
        let rest_ns = self.ahead_ns - times * ROLLOVER_NS;
        (self.dated && times < 0 && rest_ns.abs() <= ZONES_NS).then_some(rest_ns)
    }

    const fn is_finding(&self) -> bool {
        self.fixes >= FIXES_MIN && self.ahead_ns.unsigned_abs() > LIMIT_NS.unsigned_abs()
    }

    fn see(&mut self, ahead_ns: i64, receiver_utc_ns: i64, dated: bool) {
        if self.fixes > 0 && dated != self.dated {
            // A time of day without its date says less.
            if self.dated {
                return;
            }
            self.fixes = 0;
        }
        if self.fixes == 0 {
            *self = Self { ahead_ns, receiver_utc_ns, dated, fixes: 1 };
        } else if ahead_ns.abs_diff(self.ahead_ns) <= SAME_NS.unsigned_abs() {
            self.receiver_utc_ns = receiver_utc_ns;
            self.fixes = self.fixes.saturating_add(1);
        } else {
            self.fixes -= 1;
        }
    }
}

impl fmt::Display for ClockOffset {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let receiver = minute(self.receiver_utc_ns);
        let computer = minute(self.receiver_utc_ns.saturating_sub(self.ahead_ns));
        let apart = apart(self.ahead_ns);
        if let Some(rest_ns) = self.rolled_over() {
            let weeks = (self.ahead_ns - rest_ns) / -ROLLOVER_NS * 1024;
            write!(
                f,
                "the receiver says {receiver} where the computer's clock said {computer}: most \
                 likely the receiver's count of weeks rolled over ({weeks} weeks), else the \
                 computer's clock is {apart} ahead"
            )?;
            if rest_ns.abs() > LIMIT_NS {
                let (way, rest) = (way(rest_ns), self::apart(rest_ns));
                write!(f, "; the time of day says that it is {rest} {way}")?;
            }
            Ok(())
        } else if self.receiver_is_wrong() {
            write!(
                f,
                "the receiver says {receiver}, which cannot be, so it is no proof of the \
                 computer's clock, which said {computer}"
            )
        } else {
            let of = if self.dated { "" } else { " of day (it sends no date)" };
            let way = if self.ahead_ns > 0 { "behind" } else { "ahead of" };
            write!(
                f,
                "the computer's clock said {computer}, {apart} {way} the receiver's time{of}, "
            )?;
            f.write_str(&receiver)
        }
    }
}

const fn way(ahead_ns: i64) -> &'static str {
    if ahead_ns > 0 { "behind" } else { "ahead" }
}

/// Date and time to the minute, in UTC.
fn minute(utc_ns: i64) -> String {
    let text = rfc3339(utc_ns);
    format!("{} {} UTC", &text[..10], &text[11..16])
}

/// A span of time in the words of people.
fn apart(ns: i64) -> String {
    // To the nearest: the two are compared across some seconds of delay.
    let minutes = ns.unsigned_abs().saturating_add(30_000_000_000) / 60_000_000_000;
    let (hours, days) = (minutes / 60, minutes / 60 / 24);
    match (minutes, days) {
        (..60, _) => format!("{minutes} min"),
        (_, ..3) => format!("{hours} h {} min", minutes % 60),
        (_, ..1000) => format!("{days} days"),
        _ => format!("{:.1} years", days as f64 / 365.25),
    }
}

/// Compares the two clocks while sentences come.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ClockWatch {
    /// Host time and the computer's clock then, nanoseconds.
    computer: Option<(u64, i64)>,
    now: ClockOffset,
    /// Found before the computer's clock was set.
    before: Option<ClockOffset>,
}

impl ClockWatch {
    /// The computer's clock says `utc_ns`. Where it was set, or the computer slept, what comes is
    /// another pair of clocks.
    pub(super) fn computer(&mut self, host_ns: u64, utc_ns: i64) {
        let expected_ns = self.computer_utc_ns(host_ns);
        if expected_ns.is_some_and(|expected| expected.abs_diff(utc_ns) > SAME_NS.unsigned_abs()) {
            let ended = std::mem::take(&mut self.now);
            self.before = self.before.or(ended.is_finding().then_some(ended));
        }
        self.computer = Some((host_ns, utc_ns));
    }

    /// A fix that was measured, of `utc_ns` as the receiver prints it.
    pub(super) fn receiver(&mut self, host_ns: u64, utc_ns: i64, dated: bool) {
        if let Some(computer_ns) = self.computer_utc_ns(host_ns) {
            self.now.see(utc_ns.saturating_sub(computer_ns), utc_ns, dated);
        }
    }

    pub(super) const fn is_watching(&self) -> bool {
        self.computer.is_some()
    }

    /// What is to be said of the two clocks, if anything is.
    pub(super) fn found(&self) -> Option<ClockOffset> {
        Some(self.now).filter(ClockOffset::is_finding).or(self.before)
    }

    fn computer_utc_ns(&self, host_ns: u64) -> Option<i64> {
        let (at_ns, utc_ns) = self.computer?;
        let since_ns = i64::try_from(i128::from(host_ns) - i128::from(at_ns)).ok()?;
        utc_ns.checked_add(since_ns)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_NS: i64 = 3_600_000_000_000;
    /// 2026-05-01 08:00 UTC.
    const NOW_NS: i64 = 1_777_622_400_000_000_000;

    /// Words on a receiver and a computer that are ahead of the truth by so much.
    fn said(receiver_ns: i64, computer_ns: i64) -> Option<String> {
        let mut watch = ClockWatch::default();
        watch.computer(5, NOW_NS + computer_ns);
        for second in 0..60_u32 {
            let host_ns = u64::from(second) * 1_000_000_000 + 5;
            let utc_ns = NOW_NS + i64::from(second) * 1_000_000_000 + receiver_ns;
            watch.receiver(host_ns, utc_ns, true);
        }
        watch.found().map(|found| found.to_string())
    }

    #[test]
    fn a_wrong_clock_is_told_from_a_wrong_receiver() {
        for small_ns in [0, HOUR_NS / 60, -2 * HOUR_NS / 60, HOUR_NS / 7] {
            assert_eq!(said(0, small_ns), None, "{small_ns}");
        }
        let text = said(0, 2 * HOUR_NS).expect("two hours ahead");
        assert!(text.contains("10:00 UTC, 2 h 0 min ahead of the receiver's time"), "{text}");
        let text = said(0, -NOW_NS).expect("1970");
        assert!(text.contains("1970-01-01 00:00 UTC, 56.3 years behind the receiver"), "{text}");
        let text = said(0, 24 * 400 * HOUR_NS).expect("more than a year ahead");
        assert!(text.contains("400 days ahead of the receiver"), "{text}");
        let text = said(-ROLLOVER_NS, 0).expect("rolled over");
        assert!(text.contains("rolled over (1024 weeks), else the computer's"), "{text}");
        assert!(!text.contains("time of day"), "{text}");
        let text = said(-2 * ROLLOVER_NS, -3 * HOUR_NS).expect("both wrong");
        assert!(text.contains("(2048 weeks)") && text.contains("is 3 h 0 min behind"), "{text}");
        let text = said(-24 * 400 * HOUR_NS, 0).expect("a receiver of 2025");
        assert!(text.contains("cannot be, so it is no proof"), "{text}");
        assert!(said(0, -ROLLOVER_NS).is_some_and(|text| text.contains("behind the receiver")));
    }

    #[test]
    fn a_computer_that_slept_or_was_set_is_another_clock() {
        let mut watch = ClockWatch::default();
        let fixes = |watch: &mut ClockWatch, from_s: i64, off_ns: i64| {
            for second in from_s..from_s + 60 {
                let host_ns = second.unsigned_abs() * 1_000_000_000;
                watch.receiver(host_ns, NOW_NS + second * 1_000_000_000 + off_ns, true);
            }
        };
        watch.computer(0, NOW_NS);
        fixes(&mut watch, 0, 0);
        // Two hours asleep: the monotonic clock stood still, the other two went on.
        watch.computer(60_000_000_000, NOW_NS + 60_000_000_000 + 2 * HOUR_NS);
        fixes(&mut watch, 60, 2 * HOUR_NS);
        assert_eq!(watch.found(), None);
        // Set right only in the middle of a job: what it said before is still spoken of.
        let mut watch = ClockWatch::default();
        watch.computer(0, NOW_NS - 5 * HOUR_NS);
        fixes(&mut watch, 0, 0);
        watch.computer(60_000_000_000, NOW_NS + 60_000_000_000);
        fixes(&mut watch, 60, 0);
        assert!(watch.found().is_some_and(|found| found.to_string().contains("5 h 0 min behind")));
    }

    #[test]
    fn a_few_odd_dates_prove_nothing() {
        let mut watch = ClockWatch::default();
        watch.computer(0, NOW_NS);
        for second in 0..60_i64 {
            let off_ns = if second % 3 == 0 { 9 * HOUR_NS * second } else { 0 };
            let host_ns = second.unsigned_abs() * 1_000_000_000;
            watch.receiver(host_ns, NOW_NS + second * 1_000_000_000 + off_ns, true);
        }
        assert_eq!(watch.found(), None);
        watch.receiver(60_000_000_000, NOW_NS, false);
        assert!(watch.now.dated, "a time of day takes no date's place");
    }
}
