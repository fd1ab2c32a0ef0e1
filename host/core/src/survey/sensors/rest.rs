//! Counts at rest. That the tractor stands is shown by the other evidence, never by the sensor
//! that is judged: the satellite speed near zero, and the other sensor quiet.

use super::finding::{SensorRuling, SensorWarning};
use super::scene::{Scene, Second, driving_rate_hz, other};
use trundle_protocol::units::Channel;

/// Satellite speed below which the tractor may be standing, m/s: above the noise of a receiver
/// without corrections, below any speed that is driven.
pub const STILL_M_S: f64 = 0.15;
/// Shortest standstill that is judged, seconds.
pub const STANDSTILL_MIN_S: f64 = 10.0;
/// Seconds left out at either end of it, in which the tractor may still roll.
const MARGIN: usize = 1;
/// With satellite speed: the other sensor may make noise of its own up to this share of its
/// driving rate.
const OTHER_NOISE: f64 = 0.25;
/// Without: it may give this many impulses in a second, and no more than that in three.
const OTHER_QUIET: f64 = 1.0;
/// Both sensors count at rest in the proportion they have while driving, within this factor: then
/// the tractor crawls and does not stand.
const CREEP: f64 = 2.0;
/// Impulses of both from which a proportion can be determined.
const CREEP_COUNTS: f64 = 5.0;
/// Counts at rest that are let pass, impulses per second: 12 a minute add four impulses to a pass
/// with two rests of ten seconds, 0.03 % of 13 000.
const TOLERATED_HZ: f64 = 0.2;
/// Chance that a sensor at the tolerated rate is accused.
const ACCUSED_BY_CHANCE: f64 = 1e-4;

/// Judge the counts of a sensor at rest.
#[must_use]
pub fn judge(scenes: &[Scene<'_>], channel: Channel) -> SensorRuling {
    let beside = other(channel);
    let rates = (driving_rate_hz(scenes, channel), driving_rate_hz(scenes, beside));
    let (mut counts, mut seconds) = (0.0, 0.0);
    for scene in scenes {
        for (from_s, to_s) in standstills(scene, beside, rates.1) {
            let rise = scene.rise(channel.index(), from_s, to_s);
            let other_rise = scene.rise(beside.index(), from_s, to_s);
            if !creeps((rise, other_rise), rates) {
                counts += rise;
                seconds += to_s - from_s;
            }
        }
    }
    if seconds <= 0.0 {
        return SensorRuling::NotJudged(format!(
            "no standstill of {STANDSTILL_MIN_S:.0} s was seen by satellite speed and {}",
            beside.name()
        ));
    }
    if at_least(counts, TOLERATED_HZ * seconds) < ACCUSED_BY_CHANCE {
        return SensorRuling::Faulty(SensorWarning::NoiseAtRest { counts, seconds });
    }
    SensorRuling::Sound(format!("{counts:.0} impulses in {seconds:.0} s of standing still"))
}

/// From and to of each standstill, board seconds, by satellite speed and the other sensor.
fn standstills(scene: &Scene<'_>, beside: Channel, driving_hz: Option<f64>) -> Vec<(f64, f64)> {
    let index = beside.index();
    let still = |second: &Second| match (second.speed_m_s, driving_hz) {
        (Some(speed), rate) => {
            let noise = rate.map_or(f64::INFINITY, |rate| OTHER_NOISE * rate);
            speed < STILL_M_S && second.rise[index] <= noise
        }
        // An input that never gave an impulse says nothing by its silence.
        (None, None) => false,
        (None, Some(_)) => second.rise[index] <= OTHER_QUIET,
    };
    let runs = scene.seconds.chunk_by(|a, b| still(a) == still(b));
    runs.filter(|run| run.len() as f64 >= STANDSTILL_MIN_S && still(&run[0]))
        .filter_map(|run| {
            let inner = &run[MARGIN..run.len() - MARGIN];
            let total: f64 = inner.iter().map(|second| second.rise[index]).sum();
            let blind = inner.iter().all(|second| second.speed_m_s.is_none());
            let quiet = !blind || total <= OTHER_QUIET * inner.len() as f64 / 3.0;
            quiet.then(|| (inner[0].at_s, inner[inner.len() - 1].at_s + 1.0))
        })
        .collect()
}

fn creeps(rises: (f64, f64), rates: (Option<f64>, Option<f64>)) -> bool {
    let (Some(rate), Some(other_rate)) = rates else { return false };
    if rises.0 < CREEP_COUNTS || rises.1 < CREEP_COUNTS {
        return false;
    }
    let proportion = (rises.0 / rises.1) / (rate / other_rate);
    (1.0 / CREEP..CREEP).contains(&proportion)
}

/// Probability of `counts` or more of a Poisson number with this mean.
fn at_least(counts: f64, mean: f64) -> f64 {
    let mut term = (-mean).exp();
    let mut below = 0.0;
    let mut k = 0.0;
    while k < counts {
        below += term;
        k += 1.0;
        term *= mean / k;
    }
    (1.0 - below).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::at_least;

    #[test]
    fn poisson_tails_are_those_of_the_tables() {
        // Poisson table, mean 2: P(N <= 4) = 0.9473, P(N <= 0) = 0.1353 (from memory).
        assert!((1.0 - at_least(5.0, 2.0) - 0.9473).abs() < 5e-5);
        assert!((1.0 - at_least(1.0, 2.0) - 0.1353).abs() < 5e-5);
        assert!((at_least(0.0, 2.0) - 1.0).abs() < 1e-12);
    }
}
