//! When the next report is due. Board time comes in; nothing here reads a clock.

/// Period of the health message, microseconds.
pub const HEALTH_PERIOD_US: u64 = 2_000_000;
/// Least and greatest report period, microseconds.
pub const REPORT_PERIOD_RANGE_US: core::ops::RangeInclusive<u32> = 5_000..=1_000_000;
/// How long to wait with what found no room before trying again, microseconds.
pub const RETRY_US: u64 = 1_000;

/// One event that comes again and again, on a fixed grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Periodic {
    period_us: u64,
    due_us: u64,
}

impl Periodic {
    /// First due one period after `now_us`.
    #[must_use]
    pub const fn new(period_us: u64, now_us: u64) -> Self {
        Self { period_us, due_us: now_us + period_us }
    }

    /// When it is due next.
    #[must_use]
    pub const fn due_us(&self) -> u64 {
        self.due_us
    }

    /// True once for each time it falls due.
    ///
    /// A late call keeps the grid but makes up nothing: absolute counts need no missed report.
    pub fn is_due(&mut self, now_us: u64) -> bool {
        if now_us < self.due_us {
            return false;
        }
        let late_us = now_us - self.due_us;
        self.due_us += (late_us / self.period_us + 1) * self.period_us;
        true
    }
}

/// Everything that happens by the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// The report of all counts.
    pub counts: Periodic,
    /// The health message.
    pub health: Periodic,
    /// When the blinking ends, while it lasts.
    pub identify_ends_us: Option<u64>,
    /// When to try again with what found no room.
    pub retry_us: Option<u64>,
    /// Something happened since the last poll that is to be sent at once.
    pub at_once: bool,
}

impl Schedule {
    /// As after boot: the hello is to be sent at once.
    #[must_use]
    pub fn new(report_period_us: u32, now_us: u64) -> Self {
        let (least, greatest) = REPORT_PERIOD_RANGE_US.into_inner();
        let period_us = report_period_us.clamp(least, greatest);
        Self {
            counts: Periodic::new(period_us.into(), now_us),
            health: Periodic::new(HEALTH_PERIOD_US, now_us),
            identify_ends_us: None,
            retry_us: None,
            at_once: true,
        }
    }

    /// Board time of the next call wanted, given any further time to keep.
    #[must_use]
    pub fn next_us(&self, now_us: u64, further_us: Option<u64>) -> u64 {
        if self.at_once {
            return now_us;
        }
        [self.identify_ends_us, self.retry_us, further_us]
            .into_iter()
            .flatten()
            .fold(self.counts.due_us().min(self.health.due_us()), u64::min)
    }
}
