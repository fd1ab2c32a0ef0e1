//! Which day a time of day belongs to.
//!
//! Only RMC and ZDA print a date, and the date is the least reliable thing a receiver says: a
//! ten-bit week number puts it 1024 weeks (7168 days) back after a rollover, and a cold start
//! prints 1980. So a date is checked against a reference from elsewhere, and a time without a
//! date of its own takes the day that puts it nearest to the last time known, which is right for
//! any gap below twelve hours and carries over midnight by itself.

use super::fields::{Date, TimeOfDay};

/// Nanoseconds in a day of UTC without a leap second.
const DAY_NS: i64 = 86_400_000_000_000;
/// A receiver's date further than this from the reference is not believed. Far above the age of
/// any capture's clock, far below 1024 weeks.
const PLAUSIBLE_NS: i64 = 366 * DAY_NS;

/// What is known of the date.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Calendar {
    reference_utc_ns: Option<i64>,
    /// The last full time known.
    anchor_utc_ns: Option<i64>,
}

impl Calendar {
    /// A calendar that knows only the reference.
    pub(crate) fn new(reference_utc_ns: Option<i64>) -> Self {
        Self { reference_utc_ns, anchor_utc_ns: reference_utc_ns }
    }

    /// Takes a date with its time. False when it is not believed.
    pub(crate) fn see(&mut self, date: Date, time: TimeOfDay) -> bool {
        let believed = utc_ns(date, time).filter(|&utc_ns| {
            self.reference_utc_ns
                .is_none_or(|reference| utc_ns.abs_diff(reference) <= PLAUSIBLE_NS as u64)
        });
        self.anchor_utc_ns = believed.or(self.anchor_utc_ns);
        believed.is_some()
    }

    /// UTC, nanoseconds since 1970-01-01, of the time of day nearest to the last known time; that
    /// is the last known time from now on. `None` while no date is known.
    pub(crate) fn resolve(&mut self, time: TimeOfDay) -> Option<i64> {
        let anchor = self.anchor_utc_ns?;
        let same_day = anchor.div_euclid(DAY_NS) * DAY_NS + time.ns as i64;
        let ahead = same_day - anchor;
        let utc_ns = if ahead > DAY_NS / 2 {
            same_day - DAY_NS
        } else if ahead < -DAY_NS / 2 {
            same_day + DAY_NS
        } else {
            same_day
        };
        self.anchor_utc_ns = Some(utc_ns);
        Some(utc_ns)
    }
}

/// Date and time of day, nanoseconds since 1970-01-01; `None` as [`midnight_ns`].
pub(crate) fn utc_ns(date: Date, time: TimeOfDay) -> Option<i64> {
    midnight_ns(date)?.checked_add(time.ns as i64)
}

/// Midnight at the start of a day; `None` outside the years an `i64` of nanoseconds can hold
/// (1678 to 2261).
fn midnight_ns(date: Date) -> Option<i64> {
    chrono::NaiveDate::from_ymd_opt(date.year, u32::from(date.month), u32::from(date.day))?
        .and_time(chrono::NaiveTime::MIN)
        .and_utc()
        .timestamp_nanos_opt()
}
