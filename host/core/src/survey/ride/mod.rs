//! A capture as one ride: count curves and fixes of each spell on the board's clock, the
//! receiver's lag taken off.
//!
//! A spell is one boot of the board. Passes and pegs play no part here; slip, speeds, sensors and
//! mounting are worked from rides.

pub mod axle;
pub mod fuse;
pub mod noise;
pub mod parts;
mod placed;
mod refusal;
pub mod scale;
pub mod slope;
mod straight;
pub mod sums;
pub mod trust;

pub use placed::Placed;
pub use refusal::RideRefusal;

use crate::capture::Arrival;
use crate::session::trail::{Spell, Trail};
use crate::timeline::counts::CountCurve;
use crate::timeline::lag::{Lag, LagRefusal, SpeedSpan, steady_noise_at};
use crate::timeline::lag_changes::{match_changes, match_filtered};
use trundle_protocol::units::Channel;

/// Speeds from which the noise is learned, at most: a quarter of an hour at 10 Hz.
const SPEEDS_MAX: usize = 9_000;
/// Channels that turn with the ground, the first ones: wheel and radar.
pub const GROUND: usize = 2;
/// Knots a curve must have before it shows motion.
const KNOTS_MIN: usize = 10;

/// One spell on one clock. All times are board seconds since `origin_us`.
#[derive(Clone, Debug)]
pub struct Ride<'a> {
    /// Where it came from.
    pub spell: &'a Spell,
    /// Board time of second 0, microseconds.
    pub origin_us: u64,
    /// Running counts of wheel and radar.
    pub curves: [CountCurve; GROUND],
    /// Fixes, rising in time.
    pub fixes: Placed<'a>,
}

/// All spells of a trail, and the lag they share.
#[derive(Clone, Debug)]
pub struct Rides<'a> {
    /// The spells that have both counts and fixes on one clock.
    pub rides: Vec<Ride<'a>>,
    /// The receiver's lag, already taken off the fixes.
    pub lag: Lag,
}

impl Ride<'_> {
    /// The channel that shows motion: wheel, or radar where no wheel sensor gave impulses.
    #[must_use]
    pub fn motion(&self) -> Option<Channel> {
        [Channel::Wheel, Channel::Radar]
            .into_iter()
            .find(|c| self.curves[c.index()].knots().len() > KNOTS_MIN)
    }

    /// The curves of the sensors that turn with the ground.
    #[must_use]
    pub fn witnesses(&self) -> Vec<&CountCurve> {
        [Channel::Wheel, Channel::Radar].iter().map(|c| &self.curves[c.index()]).collect()
    }

    /// UTC of a board instant, nanoseconds since 1970: that of the fix whose content belongs to it.
    #[must_use]
    pub fn utc_ns(&self, at_s: f64, lag_s: f64) -> Option<i64> {
        let clock = self.spell.clock?;
        Some(clock.utc_ns_of_board(at_s + self.origin_us as f64 * 1e-6, lag_s))
    }
}

impl Rides<'_> {
    /// The mean lag, where the counts are summed from a speed that may be filtered: what the
    /// filter delays counts in full.
    ///
    /// # Errors
    /// A [`RideRefusal`] when it cannot be seen.
    pub fn mean_lag(&self, arrival: Arrival) -> Result<Lag, RideRefusal> {
        match_filtered(&runs(&self.rides, Channel::Wheel)).map_err(|why| refused(why, arrival))
    }
}

/// Bring a trail on one clock.
///
/// # Errors
/// A [`RideRefusal`] when there are no counts, no fixes, none of both at the same time, or when
/// the lag between them cannot be seen.
pub fn rides(trail: &Trail) -> Result<Rides<'_>, RideRefusal> {
    if trail.spells.iter().all(|spell| spell.fixes.is_empty()) {
        return Err(RideRefusal::NoFixes);
    }
    if trail.spells.iter().all(|spell| spell.counts.is_empty()) {
        return Err(RideRefusal::NoCounts);
    }
    let mut rides: Vec<Ride<'_>> = trail.spells.iter().filter_map(on_one_clock).collect();
    if rides.is_empty() {
        return Err(RideRefusal::Apart);
    }
    if rides.iter().all(|ride| ride.motion().is_none()) {
        return Err(RideRefusal::NoMotion);
    }
    let mut lag = lag(&rides).map_err(|refusal| refused(refusal, trail.arrival))?;
    // Inside a change of speed, with a scale and an offset of its own, noise looks too small.
    if let Some((scatter_m_s, correlation)) = steady_noise_at(&spans(&rides), lag.lag_s) {
        (lag.speed_scatter_m_s, lag.residual_correlation) = (scatter_m_s, correlation);
    }
    rides.iter_mut().for_each(|ride| ride.fixes.take_off(lag.lag_s));
    Ok(Rides { rides, lag })
}

fn refused(refusal: LagRefusal, arrival: Arrival) -> RideRefusal {
    match refusal {
        LagRefusal::TooFew { points } => RideRefusal::TooFewSpeeds { points },
        LagRefusal::NoAcceleration { .. } => RideRefusal::NoAcceleration,
        LagRefusal::OutOfRange => RideRefusal::NoMatch { derived: arrival == Arrival::Derived },
    }
}

/// Counts and fixes of a spell on the board's clock, the lag still in them; `None` where one of
/// them is missing or they have no time in common.
fn on_one_clock(spell: &Spell) -> Option<Ride<'_>> {
    let clock = spell.clock?;
    let origin_us = spell.counts.first()?.board_us;
    let curves: [CountCurve; GROUND] =
        std::array::from_fn(|channel| CountCurve::of(spell.counts.iter(), channel, origin_us));
    let fixes = Placed::new(&spell.fixes, clock, origin_us);
    let (first_s, last_s) = curves[0].span_s()?;
    let together = fixes.tagged().any(|fix| (first_s..=last_s).contains(&fix.tag_s));
    together.then_some(Ride { spell, origin_us, curves, fixes })
}

/// The lag by the sensor that shows it best.
fn lag(rides: &[Ride<'_>]) -> Result<Lag, LagRefusal> {
    let by_wheel = match_changes(&runs(rides, Channel::Wheel));
    let by_radar = match_changes(&runs(rides, Channel::Radar));
    match (by_wheel, by_radar) {
        (Ok(a), Ok(b)) if b.standard_uncertainty_s < a.standard_uncertainty_s => Ok(b),
        (Ok(a), _) => Ok(a),
        (Err(refusal), radar) => radar.map_err(|_| refusal),
    }
}

/// Satellite speeds beside the counts of a channel, where the tractor does not turn: in a turn the
/// antenna is not as fast as the axle.
fn runs<'r>(rides: &'r [Ride<'_>], channel: Channel) -> Vec<SpeedSpan<'r>> {
    let mut out = Vec::new();
    for ride in rides {
        let curve = &ride.curves[channel.index()];
        if curve.knots().len() <= KNOTS_MIN {
            continue;
        }
        let mut speeds: Vec<(f64, f64)> = Vec::new();
        for (tag_s, speed_m_s) in straight::straight(&ride.fixes) {
            match speed_m_s {
                Some(speed_m_s) => speeds.push((tag_s, speed_m_s)),
                None => out.push(SpeedSpan { curve, speeds: std::mem::take(&mut speeds) }),
            }
        }
        out.push(SpeedSpan { curve, speeds });
    }
    out.retain(|run| run.speeds.len() > 1);
    out
}

/// Speeds beside the counts that show motion, turns left out: from the beginning, as many as are
/// worth it.
fn spans<'r>(rides: &'r [Ride<'_>]) -> Vec<SpeedSpan<'r>> {
    let mut left = SPEEDS_MAX;
    let mut out = Vec::new();
    for ride in rides {
        let Some(motion) = ride.motion() else { continue };
        let stated = straight::straight(&ride.fixes);
        let speeds: Vec<(f64, f64)> =
            stated.filter_map(|(tag_s, speed)| Some((tag_s, speed?))).take(left).collect();
        left -= speeds.len();
        out.push(SpeedSpan { curve: &ride.curves[motion.index()], speeds });
    }
    out
}
