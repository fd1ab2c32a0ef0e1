//! The fixes of a ride on its clock, placed as they are read out of the trail.

use crate::session::samples::Samples;
use crate::session::window::WindowClock;
use crate::timeline::timed_fix::{TaggedFix, TimedFix};
use crate::wire::fix::Fix;

/// Fixes on the board's clock. A day of them laid out takes as much as the whole trail, so that
/// none is kept.
#[derive(Clone, Copy, Debug)]
pub struct Placed<'a> {
    fixes: &'a Samples<Fix>,
    clock: WindowClock,
    origin_us: u64,
    lag_s: f64,
}

impl<'a> Placed<'a> {
    /// With no lag taken off yet. `origin_us` is board time 0.
    #[must_use]
    pub const fn new(fixes: &'a Samples<Fix>, clock: WindowClock, origin_us: u64) -> Self {
        Self { fixes, clock, origin_us, lag_s: 0.0 }
    }

    /// Take the receiver's lag off.
    pub const fn take_off(&mut self, lag_s: f64) {
        self.lag_s = lag_s;
    }

    /// All of them, rising in time.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = TimedFix> + 'a {
        let lag_s = self.lag_s;
        self.tagged().map(move |fix| fix.timed(lag_s))
    }

    /// Those from an instant on, board seconds.
    pub fn since(&self, from_s: f64) -> impl Iterator<Item = TimedFix> + 'a {
        let Self { fixes, clock, origin_us, lag_s } = *self;
        let timed = move |fix| clock.tag(fix, origin_us).timed(lag_s);
        let first = fixes.partition_point(|&fix| timed(fix).at_s < from_s);
        fixes.from(first).map(timed)
    }

    /// All of them with the lag still in them.
    pub fn tagged(&self) -> impl ExactSizeIterator<Item = TaggedFix> + 'a {
        let (clock, origin_us) = (self.clock, self.origin_us);
        self.fixes.iter().map(move |fix| clock.tag(fix, origin_us))
    }
}
