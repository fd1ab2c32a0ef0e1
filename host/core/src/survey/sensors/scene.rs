//! One boot of the board as the judges see it: counts of each input and satellite speeds, second
//! by second.

use crate::session::trail::{Spell, Trail};
use crate::stats::fit::robust::median;
use crate::survey::ride::{GROUND, Placed, RideRefusal, Rides};
use crate::timeline::counts::CountCurve;
use crate::timeline::timed_fix::TimedFix;
use std::borrow::Cow;
use trundle_protocol::units::Channel;

/// Share of the seconds in motion below which the driving rate of an input lies.
const DRIVING_SHARE: f64 = 0.8;
/// Above this satellite speed an input's impulses per metre are found, m/s: noise of the speed
/// then costs a few per cent.
const BRISK_M_S: f64 = 1.0;
/// Seconds at that speed that it takes.
const BRISK_SECONDS_MIN: usize = 5;
/// Impulses in one second from which an input counts as giving any.
const ALIVE: f64 = 3.0;

/// Evidence of one whole second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Second {
    /// Its beginning, board seconds since the scene's origin.
    pub at_s: f64,
    /// Satellite speed, the median of the second, m/s.
    pub speed_m_s: Option<f64>,
    /// Whole impulses of wheel and radar.
    pub rise: [f64; GROUND],
}

/// One boot of the board.
#[derive(Clone, Debug)]
pub struct Scene<'a> {
    /// Where it came from.
    pub spell: &'a Spell,
    /// Running counts of wheel and radar.
    pub curves: Cow<'a, [CountCurve; GROUND]>,
    /// Fixes, where they are on the board's clock.
    fixes: Option<Placed<'a>>,
    /// The receiver's lag is known and taken off.
    pub lag_known: bool,
    /// The evidence second by second.
    pub seconds: Vec<Second>,
}

/// Every boot of a trail. `rides` is what the trail gave as rides, or why it gave none.
#[must_use]
pub fn scenes<'a>(trail: &'a Trail, rides: &'a Result<Rides<'a>, RideRefusal>) -> Vec<Scene<'a>> {
    trail.spells.iter().filter_map(|spell| scene(spell, rides)).collect()
}

fn scene<'a>(spell: &'a Spell, rides: &'a Result<Rides<'a>, RideRefusal>) -> Option<Scene<'a>> {
    let origin_us = spell.counts.first()?.board_us;
    let ride = rides
        .as_ref()
        .ok()
        .and_then(|rides| rides.rides.iter().find(|ride| std::ptr::eq(ride.spell, spell)));
    let (curves, fixes) = match ride {
        Some(ride) => (Cow::Borrowed(&ride.curves), Some(ride.fixes)),
        None => {
            let curve = |channel| CountCurve::of(spell.counts.iter(), channel, origin_us);
            // Their lag is not known: late by it, up to a second or so.
            let fixes = spell.clock.map(|clock| Placed::new(&spell.fixes, clock, origin_us));
            (Cow::Owned(std::array::from_fn(curve)), fixes)
        }
    };
    let mut scene = Scene { spell, curves, fixes, lag_known: ride.is_some(), seconds: Vec::new() };
    scene.seconds = scene.by_seconds();
    Some(scene)
}

impl Scene<'_> {
    /// Satellite speeds: board seconds (the lag taken off, where known) and m/s, rising in time.
    pub fn speeds(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.fixes.iter().flat_map(Placed::iter).filter_map(speed)
    }

    /// Those from one instant to another, both included.
    #[must_use]
    pub fn speeds_within(&self, from_s: f64, to_s: f64) -> Vec<(f64, f64)> {
        let since = self.fixes.iter().flat_map(|fixes| fixes.since(from_s));
        since.take_while(|fix| fix.at_s <= to_s).filter_map(speed).collect()
    }

    fn by_seconds(&self) -> Vec<Second> {
        let Some((first_s, last_s)) = self.curves[0].span_s() else { return Vec::new() };
        let mut left = self.speeds().peekable();
        let mut here: Vec<(f64, f64)> = Vec::new();
        let mut out = Vec::new();
        for number in 0..(last_s - first_s) as u32 {
            let at_s = first_s + f64::from(number);
            here.extend(std::iter::from_fn(|| left.next_if(|speed| speed.0 < at_s + 1.0)));
            here.retain(|speed| speed.0 >= at_s);
            let speed_m_s = median(&here.iter().map(|speed| speed.1).collect::<Vec<f64>>());
            let rise = std::array::from_fn(|channel| self.rise(channel, at_s, at_s + 1.0));
            out.push(Second { at_s, speed_m_s, rise });
        }
        out
    }

    /// Whole impulses of an input between two instants.
    #[must_use]
    pub fn rise(&self, channel: usize, from_s: f64, to_s: f64) -> f64 {
        let curve = &self.curves[channel];
        // Before the first edge that is known nothing was counted.
        let first = curve.knots().first().map_or(0.0, |knot| knot.1);
        let at = |at_s| curve.whole(at_s).unwrap_or(first);
        at(to_s) - at(from_s)
    }
}

fn speed(fix: TimedFix) -> Option<(f64, f64)> {
    Some((fix.at_s, fix.fix.speed_m_s?))
}

/// Impulses per second of an input while driving, over all scenes: its upper quintile among the
/// seconds with impulses. `None` when it never gave any.
#[must_use]
pub fn driving_rate_hz(scenes: &[Scene<'_>], channel: Channel) -> Option<f64> {
    let all = scenes.iter().flat_map(|scene| &scene.seconds);
    let mut rates: Vec<f64> =
        all.map(|second| second.rise[channel.index()]).filter(|rise| *rise >= ALIVE).collect();
    rates.sort_by(f64::total_cmp);
    rates.get((DRIVING_SHARE * rates.len() as f64) as usize).copied()
}

/// Impulses per metre by satellite speed, roughly: the median over brisk seconds.
#[must_use]
pub fn impulses_per_m(scenes: &[Scene<'_>], channel: Channel) -> Option<f64> {
    let all = scenes.iter().filter(|scene| scene.lag_known).flat_map(|scene| &scene.seconds);
    let ratios: Vec<f64> = all
        .filter_map(|second| {
            let speed_m_s = second.speed_m_s.filter(|speed| *speed >= BRISK_M_S)?;
            Some(second.rise[channel.index()] / speed_m_s)
        })
        .collect();
    if ratios.len() < BRISK_SECONDS_MIN {
        return None;
    }
    median(&ratios).filter(|ratio| *ratio > 0.0)
}

/// The other input that shows motion.
#[must_use]
pub const fn other(channel: Channel) -> Channel {
    match channel {
        Channel::Wheel => Channel::Radar,
        Channel::Radar | Channel::Pto => Channel::Wheel,
    }
}
