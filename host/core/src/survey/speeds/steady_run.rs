//! Rides cut into steady, straight runs, and into standing.

use super::ground::{Ground, RideGround};
use crate::stats::fit::line::{Estimate, ordinary};
use crate::survey::ride::slope::Slope;
use crate::survey::ride::{Ride, Rides};
use crate::timeline::counts::{CountCurve, WHOLE_COUNT_U};
use crate::timeline::lag::Lag;
use crate::timeline::timed_fix::TimedFix;
use std::collections::VecDeque;
use trundle_protocol::units::Channel;

/// Length of a steady run, seconds: long enough to average the satellite speed, short enough that a
/// driver holds it.
pub const STEADY_RUN_S: f64 = 2.0;
/// Below this acceleration the speed counts as steady, m/s2.
pub const STEADY_M_S2: f64 = 0.1;
/// Below this rate of turn the path counts as straight, degrees per second: an antenna half a
/// metre beside the middle then runs at most 0.02 m/s faster or slower than it.
pub const STRAIGHT_DEG_S: f64 = 2.0;
/// Fixes further apart than this leave a hole, seconds.
const GAP_S: f64 = 1.2;
/// Uncertainty of one edge's place on its ring, impulses; common practice, no source.
const EDGE_U: f64 = 0.05;
/// A steady run this many times faster than the noise of the satellite speed has a speed; slower,
/// the noise itself looks like one.
pub const SPEED_OVER_NOISE: f64 = 5.0;
/// Fewer impulses per second than this are strays of a standing sensor.
const STANDING_HZ: f64 = 0.5;
/// Standing tractors are seen below so many times the noise of the speed, plus the next, m/s.
const STANDING_NOISES: f64 = 4.0;
const STANDING_M_S: f64 = 0.02;
/// Least unbroken standing that is believed, seconds; its ends are left out.
const STANDING_LEAST_S: f64 = 6.0;

/// One steady run: three speeds at the same time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteadyRun {
    /// Which ride, counted from zero.
    pub ride: usize,
    /// Begin, board seconds of the ride.
    pub from_s: f64,
    /// End, board seconds of the ride.
    pub to_s: f64,
    /// Satellite speed along the ground, metres per second.
    pub speed_m_s: Estimate,
    /// What all runs may be wrong by alike, as a share: by a slope that no height shows, and by the
    /// scale of the receiver's speed.
    pub shared_u: f64,
    /// Rates of wheel and radar, impulses per second; `None` where there is no such sensor.
    pub rates_hz: [Option<Estimate>; 2],
    /// The speed is well above the satellites' noise.
    pub clear: bool,
}

/// What the sensors did while the tractor stood.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Standing {
    /// Seconds of standing looked at.
    pub seconds: f64,
    /// Impulses of wheel and radar in them.
    pub impulses: [f64; 2],
}

/// What the rides are made of.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cut {
    /// The steady, straight runs found.
    pub steady_runs: Vec<SteadyRun>,
    /// What was counted while standing.
    pub standing: Standing,
}

/// Cut the rides.
pub(super) fn cut(rides: &Rides<'_>) -> Cut {
    let mut out = Cut::default();
    let ground = Ground::of(rides);
    for (number, ride) in rides.rides.iter().enumerate() {
        let ground = ground.of_ride(number);
        let cutter = Cutter { ride, number, lag: rides.lag, ground };
        let mut still: Vec<(f64, f64)> = Vec::new();
        let mut near = Near { fixes: VecDeque::new(), rest: ride.fixes.iter() };
        while near.get(0).is_some() {
            let Some(end) = near.end() else {
                near.fixes.pop_front();
                continue;
            };
            match cutter.piece(&near.fixes.make_contiguous()[..=end]) {
                Piece::Standing(from_s, to_s) => still.push((from_s, to_s)),
                Piece::Steady(steady_run) => out.steady_runs.push(steady_run),
                Piece::Neither => {
                    near.fixes.pop_front();
                    continue;
                }
            }
            near.fixes.drain(..end);
        }
        cutter.stand(&still, &mut out.standing);
    }
    out
}

/// The fixes from where the cutting has come to, read out as far as they are needed.
struct Near<I> {
    fixes: VecDeque<TimedFix>,
    rest: I,
}

impl<I: Iterator<Item = TimedFix>> Near<I> {
    fn get(&mut self, at: usize) -> Option<&TimedFix> {
        while self.fixes.len() <= at {
            self.fixes.push_back(self.rest.next()?);
        }
        self.fixes.get(at)
    }

    /// The fix that ends a steady run begun at the first; `None` where there is a hole.
    fn end(&mut self) -> Option<usize> {
        let from_s = self.get(0)?.at_s;
        let (mut end, mut last_s) = (0, from_s);
        while last_s - from_s < STEADY_RUN_S {
            let next_s = self.get(end + 1)?.at_s;
            if next_s - last_s > GAP_S {
                return None;
            }
            (end, last_s) = (end + 1, next_s);
        }
        Some(end)
    }
}

enum Piece {
    Standing(f64, f64),
    Steady(SteadyRun),
    Neither,
}

struct Cutter<'a> {
    ride: &'a Ride<'a>,
    number: usize,
    lag: Lag,
    ground: RideGround<'a>,
}

impl Cutter<'_> {
    fn piece(&self, fixes: &[TimedFix]) -> Piece {
        let (from_s, to_s) = (fixes[0].at_s, fixes[fixes.len() - 1].at_s);
        let speeds: Option<Vec<(f64, f64)>> =
            fixes.iter().map(|f| Some((f.at_s - from_s, f.fix.speed_m_s?))).collect();
        let Some(speeds) = speeds else { return Piece::Neither };
        let inside = |(first_s, last_s): (f64, f64)| from_s >= first_s && to_s <= last_s;
        if !self.ride.curves[0].span_s().is_some_and(inside) {
            return Piece::Neither;
        }
        let mean_m_s = trapezoid(&speeds) / (to_s - from_s);
        let rates_hz = [Channel::Wheel, Channel::Radar]
            .map(|channel| rate(&self.ride.curves[channel.index()], from_s, to_s));
        let noise_m_s = self.lag.speed_scatter_m_s;
        let motion_hz = self.ride.motion().and_then(|channel| rates_hz[channel.index()]);
        let slow = mean_m_s < STANDING_NOISES * noise_m_s + STANDING_M_S;
        if slow && motion_hz.is_none_or(|rate| rate.value < STANDING_HZ) {
            return Piece::Standing(from_s, to_s);
        }
        let Ok(trend) = ordinary(&speeds) else { return Piece::Neither };
        let turn = turn_deg_s(fixes, noise_m_s, mean_m_s, to_s - from_s);
        if trend.slope.abs() > STEADY_M_S2 || turn > STRAIGHT_DEG_S {
            return Piece::Neither;
        }
        let Some(slope) = self.ground.slope(from_s, to_s) else { return Piece::Neither };
        let clear = mean_m_s >= SPEED_OVER_NOISE * noise_m_s;
        let scale = self.ground.scale(fixes[0].fix.quality);
        let over_ground = self.speed(fixes, mean_m_s, trend.slope);
        let speed_m_s = along(over_ground, slope, 1.0 + scale.value);
        let level_u = if slope.unknown { slope.standard_uncertainty } else { 0.0 };
        let (ride, shared_u) = (self.number, scale.standard_uncertainty.hypot(level_u));
        Piece::Steady(SteadyRun { ride, from_s, to_s, speed_m_s, shared_u, rates_hz, clear })
    }

    /// Mean satellite speed with its uncertainty: noise with its correlation, the last printed
    /// digit, the lag.
    fn speed(&self, fixes: &[TimedFix], mean_m_s: f64, slope_m_s2: f64) -> Estimate {
        let noise_m_s = self.lag.speed_scatter_m_s;
        let (n, r) = (fixes.len() as f64, self.lag.residual_correlation);
        // Neighbouring steady runs share what noise outlives a steady run.
        let beyond = r.powf(n);
        let inflation = (1.0 + r) / (1.0 - r) * (1.0 + beyond) / (1.0 - beyond);
        let noise = (noise_m_s.powi(2) * (inflation / n).min(1.0)).sqrt();
        // A steady speed is printed as the same digits all the time: rounding does not average.
        let digit = fixes[0].fix.speed_quantum_m_s / 12.0_f64.sqrt();
        let late = slope_m_s2 * self.lag.standard_uncertainty_s;
        // Noise across the path lengthens the speed: sqrt(v² + n²) is n²/2v more than v.
        let across = if mean_m_s > noise_m_s { noise_m_s.powi(2) / (2.0 * mean_m_s) } else { 0.0 };
        let squares = [noise, digit, late, across / 2.0].map(|u| u * u);
        Estimate::new(mean_m_s - across, squares.iter().sum::<f64>().sqrt())
    }

    /// Add up the impulses of long rests, without their first and last piece.
    fn stand(&self, still: &[(f64, f64)], into: &mut Standing) {
        let broken = |a: &(f64, f64), b: &(f64, f64)| (b.0 - a.1).abs() < 1e-6;
        for rest in still.chunk_by(broken) {
            let (Some(first), Some(last)) = (rest.first(), rest.last()) else { continue };
            if rest.len() < 4 || last.1 - first.0 < STANDING_LEAST_S {
                continue;
            }
            let (from_s, to_s) = (first.1, last.0);
            into.seconds += to_s - from_s;
            for (channel, sum) in into.impulses.iter_mut().enumerate() {
                let count = |at_s: f64| self.ride.curves[channel].whole(at_s).unwrap_or(0.0);
                *sum += count(to_s) - count(from_s);
            }
        }
    }
}

/// A speed as seen from above, brought to the slope and to scale. What all runs share is no scatter
/// between them: it is added at the end.
fn along(speed_m_s: Estimate, slope: Slope, scale: f64) -> Estimate {
    let own = if slope.unknown { 0.0 } else { slope.standard_uncertainty * speed_m_s.value };
    let u_m_s = (slope.factor * speed_m_s.standard_uncertainty).hypot(own);
    Estimate::new(slope.factor * speed_m_s.value / scale, u_m_s)
}

fn trapezoid(speeds: &[(f64, f64)]) -> f64 {
    speeds.windows(2).map(|w| (w[1].0 - w[0].0) * f64::midpoint(w[0].1, w[1].1)).sum()
}

fn rate(curve: &CountCurve, from_s: f64, to_s: f64) -> Option<Estimate> {
    if curve.knots().len() < 2 {
        return None;
    }
    let rise = curve.at(to_s)? - curve.at(from_s)?;
    let u = if curve.is_exact() { EDGE_U * 2.0_f64.sqrt() } else { WHOLE_COUNT_U };
    let seconds = to_s - from_s;
    Some(Estimate::new(rise / seconds, u / seconds))
}

/// Rate of turn that is more than noise, degrees per second: between the mean directions of both
/// halves.
fn turn_deg_s(fixes: &[TimedFix], noise_m_s: f64, mean_m_s: f64, seconds: f64) -> f64 {
    let direction = |half: &[TimedFix]| -> Option<f64> {
        let tracks: Vec<f64> =
            half.iter().filter_map(|f| Some(f.fix.track_deg?.to_radians())).collect();
        let (sin, cos) = tracks.iter().fold((0.0, 0.0), |(s, c), t| (s + t.sin(), c + t.cos()));
        (!tracks.is_empty()).then(|| sin.atan2(cos))
    };
    let (first, second) = fixes.split_at(fixes.len() / 2);
    let (Some(a), Some(b)) = (direction(first), direction(second)) else { return 0.0 };
    let between = (b - a).sin().atan2((b - a).cos()).abs();
    // The noise of a direction is that of the speed across it; it is correlated, so not averaged.
    let noise = noise_m_s / mean_m_s.max(noise_m_s);
    (between - noise).max(0.0).to_degrees() / (seconds / 2.0)
}
