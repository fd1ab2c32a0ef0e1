//! Monotonic time since the capture began, and the wall clock.

use std::time::Instant;

/// Nanoseconds since the capture began. Never goes back; stands still while some computers
/// sleep, which the wall clock noted beside it brings to light.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    began: Instant,
    pace: f64,
}

impl Clock {
    /// A clock that begins now. `pace` is host seconds for each second: 1 in earnest; N when
    /// practising against a simulator that runs N times faster, so that the capture's times are
    /// simulated time.
    #[must_use]
    pub fn start(pace: f64) -> Self {
        Self { began: Instant::now(), pace }
    }

    /// Time since the start, nanoseconds.
    #[must_use]
    pub fn now_ns(&self) -> u64 {
        let passed = self.began.elapsed();
        if (self.pace - 1.0).abs() < f64::EPSILON {
            // Exact for 584 years.
            return u64::try_from(passed.as_nanos()).unwrap_or(u64::MAX);
        }
        (passed.as_secs_f64() * self.pace * 1e9) as u64
    }

    /// Host seconds for each second.
    #[must_use]
    pub const fn pace(&self) -> f64 {
        self.pace
    }

    /// Seconds of the person's time since the host time `then_ns`.
    #[must_use]
    pub fn age_s(&self, then_ns: u64) -> f64 {
        self.now_ns().saturating_sub(then_ns) as f64 * 1e-9 / self.pace
    }
}

/// How long this computer has slept since it was started, seconds: the time that passed less the
/// time it was awake. 0 where the system does not distinguish the two.
#[must_use]
pub fn slept_s() -> f64 {
    #[cfg(any(target_os = "linux", target_os = "android"))]
    {
        use rustix::time::{ClockId, clock_gettime};
        let seconds = |clock| {
            let at = clock_gettime(clock);
            at.tv_sec as f64 + at.tv_nsec as f64 * 1e-9
        };
        seconds(ClockId::Boottime) - seconds(ClockId::Monotonic)
    }
    #[cfg(not(any(target_os = "linux", target_os = "android")))]
    0.0
}

/// Wall clock, nanoseconds since 1970, UTC.
#[must_use]
pub fn wall_utc_ns() -> i64 {
    // The calendar ends in 2262 for this type.
    chrono::Utc::now().timestamp_nanos_opt().unwrap_or(i64::MAX)
}

/// Wall clock as RFC 3339 with milliseconds, UTC.
#[must_use]
pub fn wall_rfc3339() -> String {
    chrono::Utc::now().to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
}

/// Wall clock for file names: `20260330-101500`, UTC.
#[must_use]
pub fn wall_for_names() -> String {
    chrono::Utc::now().format("%Y%m%d-%H%M%S").to_string()
}

/// How far the person's own time is ahead of UTC, seconds.
#[must_use]
pub fn wall_offset_s() -> i32 {
    chrono::Local::now().offset().local_minus_utc()
}

/// The same at another moment, given in seconds since 1970; `None` beyond the calendar.
#[must_use]
pub fn local_offset_s(at_s: i64) -> Option<i32> {
    let at = chrono::DateTime::from_timestamp(at_s, 0)?;
    Some(at.with_timezone(&chrono::Local).offset().local_minus_utc())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_paced_clock_runs_faster_and_ages_stay_those_of_the_person() {
        let clock = Clock::start(1000.0);
        while clock.began.elapsed().as_micros() < 2000 {}
        let now_ns = clock.now_ns();
        // At least 2 ms of waiting are at least 2 s of the capture.
        assert!(now_ns >= 2_000_000_000, "{now_ns}");
        let age_s = clock.age_s(now_ns - 1_000_000_000);
        assert!(age_s >= 0.001, "{age_s}");
        assert!(clock.now_ns() >= now_ns);
    }
}
