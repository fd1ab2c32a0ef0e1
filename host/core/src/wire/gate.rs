//! Plausibility of each fix after the one before it.
//!
//! The gate does not improve fixes; it keeps impossible ones away from the measurement and says
//! why. Its limits are wide: it is there for reflections, resets and wrong bits of metres to
//! kilometres. What is left is for the uncertainty budget.
//!
//! A gate that compares with the last good fix can lock itself out: after a long shadow every
//! later fix is "too far". So when three refused fixes in a row are plausible after each other,
//! the third becomes the new starting point and the next is judged from there.

use super::fix::{Fix, Quality};
use super::said_before::SaidBefore;

/// A field machine is slower than this, m/s (144 km/h); a faster speed is a fault of the receiver.
pub const SPEED_MAX_M_S: f64 = 40.0;
/// What the speed may be out by between two fixes, m/s.
const SPEED_MARGIN_M_S: f64 = 2.0;
/// Refused fixes in a row, plausible after each other, that move the starting point.
const RESEED_AFTER: u32 = 3;
/// Times that lie behind the last good fix move the starting point only after they went on for so
/// long, seconds, and came as fast as they say: old bytes handed out late come all at once.
const BACK_FOR_S: f64 = 1.0;
/// How much faster than they say, or slower, they may come.
const BACK_PACE: f64 = 2.0;
/// Fewer satellites give no position in space: a height is taken from elsewhere, and its error goes
/// into the position. Four unknowns, four satellites.
const SATELLITES_MIN: u8 = 4;
/// From this horizontal dilution on a position is not measured from. Common practice, no source:
/// tables of the dilution call 20 the end of what is of any use; 99 stands for "not known".
const HDOP_MAX: f32 = 20.0;
/// What one unit of horizontal dilution may put a position out by, metres: several times the usual
/// error of a range without corrections, common practice, no source.
const PER_HDOP_M: f64 = 7.5;
/// The same with differential corrections.
const CORRECTED_PER_HDOP_M: f64 = 2.5;
/// Above this speed a position that stays the same is a fault, m/s.
const MOVING_M_S: f64 = 0.5;
/// Least travel by the speed before an unchanged position is called frozen, metres.
const FROZEN_TRAVEL_M: f64 = 1.0;
/// A fix cannot arrive sooner after its time than the quickest before it by more than this,
/// seconds: receivers answer within 20 to 300 ms, common practice, no source. Its time is wrong.
const AHEAD_MAX_S: f64 = 0.3;
/// Greatest drift of two clocks against each other that is believed, as a share: crystals are
/// within 100 ppm each, common practice, no source.
pub const DRIFT_MAX: f64 = 300e-6;
/// Metres in a degree, to 0.6 %: for limits only. Courses are measured on the ellipsoid.
const DEGREE_M: f64 = 111_320.0;

/// Why a fix is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GateReason {
    /// Dead reckoning, typed in, simulated, or of an undefined quality.
    NotMeasured,
    /// Too few satellites, or satellites that stand too close together in the sky.
    Weak,
    /// Its speed is above [`SPEED_MAX_M_S`].
    TooFast,
    /// Not later than the fix before it.
    TimeNotForward,
    /// Said before, time and place: old sentences that came again.
    SaidBefore,
    /// Its time lies ahead of its arrival. One such time would shift the receiver's whole clock,
    /// which goes by the quickest arrivals.
    TimeAhead,
    /// A sign of latitude or longitude changed.
    HemisphereFlip,
    /// Further from the fix before it than the speed allows.
    Jump,
}

/// What the gate says of a fix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GateRuling {
    /// It can be measured from.
    Accepted {
        /// The position has stayed the same to the last digit while the speed says it moves.
        frozen: bool,
    },
    /// The fix cannot be used.
    Refused(GateReason),
}

/// Judges fixes in the order of the stream. The first measured fix is accepted.
#[derive(Debug, Clone, Default)]
pub struct Gate {
    last: Option<Fix>,
    /// The first and the last of refused fixes that are plausible after each other, and how many.
    trial: Option<(Fix, Fix, u32)>,
    said: SaidBefore,
    /// Arrival minus time of the quickest fix, seconds since 1970, and when it arrived.
    quickest: Option<(f64, u64)>,
    /// Arrivals are not times, and nothing is learned from them.
    no_arrivals: bool,
    /// Travel by the speed since the position last changed, metres.
    still_travel_m: f64,
}

impl Gate {
    /// A gate for fixes whose `host_ns` is no time of arrival, as those of a plain recording.
    pub fn without_arrivals() -> Self {
        Self { no_arrivals: true, ..Self::default() }
    }

    /// Judges the next fix.
    pub fn check(&mut self, fix: &Fix) -> GateRuling {
        if let Some(reason) = alone(fix) {
            // Says nothing about where the receiver is, so it neither moves the starting point
            // nor helps to.
            self.trial = None;
            return GateRuling::Refused(reason);
        }
        // A position that stood still under a moving speed may catch up by what it missed.
        let slack_m = self.still_travel_m;
        let wrong = self.last.and_then(|last| step(&last, fix, slack_m));
        let reason = wrong.or(self.ahead_of_time(fix));
        if reason == Some(GateReason::TimeNotForward) && self.said.holds(fix) {
            // It is true, of another time.
            self.trial = None;
            return GateRuling::Refused(GateReason::SaidBefore);
        }
        self.said.add(fix);
        match reason {
            Some(reason) => {
                self.try_reseed(fix, reason);
                GateRuling::Refused(reason)
            }
            None => self.accept(fix),
        }
    }

    /// Whether it came sooner after its time than any fix can.
    fn ahead_of_time(&self, fix: &Fix) -> Option<GateReason> {
        let soonest_s = self.soonest_s(fix.host_ns)? - AHEAD_MAX_S;
        (!self.no_arrivals && delay_s(fix) < soonest_s).then_some(GateReason::TimeAhead)
    }

    /// The least delay so far, as it may have drifted since.
    fn soonest_s(&self, host_ns: u64) -> Option<f64> {
        let (least_s, at_ns) = self.quickest?;
        Some(least_s - DRIFT_MAX * host_ns.saturating_sub(at_ns) as f64 * 1e-9)
    }

    fn accept(&mut self, fix: &Fix) -> GateRuling {
        self.trial = None;
        if self.quickest.is_none_or(|(least_s, _)| delay_s(fix) < least_s) {
            self.quickest = Some((delay_s(fix), fix.host_ns));
        }
        let last = self.last.replace(*fix);
        let same = last.filter(|last| same_place(last, fix));
        self.still_travel_m = match (same, fix.speed_m_s) {
            (Some(last), Some(speed)) if speed > MOVING_M_S => {
                self.still_travel_m + speed * seconds(&last, fix)
            }
            _ => 0.0,
        };
        // A slow tractor stays within one coarse digit for several fixes; three digits it does not.
        let frozen = self.still_travel_m > FROZEN_TRAVEL_M.max(3.0 * fix.position_quantum_m);
        GateRuling::Accepted { frozen }
    }

    fn try_reseed(&mut self, fix: &Fix, reason: GateReason) {
        let (first, run) = match self.trial {
            Some((first, before, run)) if step(&before, fix, 0.0).is_none() => (first, run + 1),
            _ => (*fix, 1),
        };
        let back = reason == GateReason::TimeNotForward && !self.no_arrivals;
        if run < RESEED_AFTER || back && !at_pace(&first, fix) {
            self.trial = Some((first, *fix, run));
            return;
        }
        self.trial = None;
        self.last = Some(*fix);
        self.quickest = Some((delay_s(fix), fix.host_ns));
        self.still_travel_m = 0.0;
    }
}

/// Whether fixes went on for a while and came as fast as their times go on.
fn at_pace(first: &Fix, last: &Fix) -> bool {
    let said_s = seconds(first, last);
    let came_s = last.host_ns.saturating_sub(first.host_ns) as f64 * 1e-9;
    said_s >= BACK_FOR_S && came_s >= said_s / BACK_PACE && came_s <= said_s * BACK_PACE
}

/// What is wrong with a fix by itself.
fn alone(fix: &Fix) -> Option<GateReason> {
    if !fix.quality.is_measured() {
        Some(GateReason::NotMeasured)
    } else if fix.satellites.is_some_and(|count| count < SATELLITES_MIN)
        || fix.hdop.is_some_and(|hdop| hdop >= HDOP_MAX)
    {
        Some(GateReason::Weak)
    } else if fix.speed_m_s.is_some_and(|speed| speed > SPEED_MAX_M_S) {
        Some(GateReason::TooFast)
    } else {
        None
    }
}

/// What is wrong with `now` after `before`, with `slack_m` metres more allowed.
fn step(before: &Fix, now: &Fix, slack_m: f64) -> Option<GateReason> {
    if now.utc_ns <= before.utc_ns {
        return Some(GateReason::TimeNotForward);
    }
    let speed = match (before.speed_m_s, now.speed_m_s) {
        (Some(before), Some(now)) => before.max(now) + SPEED_MARGIN_M_S,
        _ => SPEED_MAX_M_S,
    };
    let allowance = allowance_m(before).max(allowance_m(now));
    let allowed_m = speed * seconds(before, now) + allowance + now.position_quantum_m + slack_m;
    let moved = |lat_sign: f64, lon_sign: f64| {
        distance_m(before.lat_deg, before.lon_deg, lat_sign * now.lat_deg, lon_sign * now.lon_deg)
    };
    // Two sides are longer than the third, and degrees of longitude longest on the equator: nearly
    // always that settles it.
    let sides_deg = (now.lat_deg - before.lat_deg).abs() + (now.lon_deg - before.lon_deg).abs();
    if sides_deg * DEGREE_M < 0.999 * allowed_m || moved(1.0, 1.0) <= allowed_m {
        None
    } else if moved(-1.0, 1.0).min(moved(1.0, -1.0)).min(moved(-1.0, -1.0)) <= allowed_m {
        Some(GateReason::HemisphereFlip)
    } else {
        Some(GateReason::Jump)
    }
}

/// What a position of this quality may be out by from one fix to the next, metres. Common
/// practice, no source: several times the usual scatter of each kind under an open sky; without
/// carrier phase a poor sky makes it worse.
fn allowance_m(fix: &Fix) -> f64 {
    let by_sky_m = |per_hdop_m: f64| fix.hdop.map_or(0.0, |hdop| per_hdop_m * f64::from(hdop));
    match fix.quality {
        Quality::RtkFixed => 0.5,
        Quality::RtkFloat => 2.0,
        Quality::Differential | Quality::Pps => by_sky_m(CORRECTED_PER_HDOP_M).max(5.0),
        _ => by_sky_m(PER_HDOP_M).max(15.0),
    }
}

/// Arrival minus time: the delay, and the host's zero on the receiver's scale.
fn delay_s(fix: &Fix) -> f64 {
    (i128::from(fix.host_ns) - i128::from(fix.utc_ns)) as f64 * 1e-9
}

fn seconds(before: &Fix, now: &Fix) -> f64 {
    now.utc_ns.saturating_sub(before.utc_ns) as f64 * 1e-9
}

/// Equality to the last printed digit: the same digits give the same bits.
fn same_place(a: &Fix, b: &Fix) -> bool {
    a.lat_deg.to_bits() == b.lat_deg.to_bits() && a.lon_deg.to_bits() == b.lon_deg.to_bits()
}

fn distance_m(lat_a: f64, lon_a: f64, lat_b: f64, lon_b: f64) -> f64 {
    let turn = (lon_b - lon_a).abs();
    let middle = (0.5 * (lat_a + lat_b)).to_radians();
    let east = turn.min(360.0 - turn) * middle.cos();
    (lat_b - lat_a).hypot(east) * DEGREE_M
}
