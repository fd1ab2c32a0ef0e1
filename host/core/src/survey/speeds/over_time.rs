//! The three speeds against time, for the eye: nothing is judged by it.

use crate::session::trail::Trail;
use crate::survey::ride::{GROUND, Ride, rides};
use crate::units::KM_H_PER_M_S;

/// Half of the time a rate is taken over, seconds: a person sees a second, not an impulse.
const HALF_S: f64 = 0.5;
/// Slower than this a moment says nothing of a sensor's scale, m/s.
const MOVING_M_S: f64 = 0.5;

/// The speeds at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Seconds since the first moment; between two boots of the board, one second.
    pub at_s: f64,
    /// By satellite, km/h.
    pub satellite_km_h: f64,
    /// By wheel and radar, km/h, each scaled so that it agrees with the satellite over the whole
    /// drive; `None` where the sensor gave nothing.
    pub sensors_km_h: [Option<f64>; GROUND],
}

/// The speeds of a trail at no more than about `most` moments, evenly in time; nothing where
/// sensors and satellites cannot be laid on one clock.
#[must_use]
pub fn over_time(trail: &Trail, most: usize) -> Vec<Moment> {
    let Ok(rides) = rides(trail) else { return Vec::new() };
    let span_s: f64 = rides.rides.iter().map(span_s).sum();
    let step_s = (span_s / most.max(1) as f64).max(2.0 * HALF_S);
    let mut out = Vec::new();
    let mut from_s = 0.0;
    for ride in &rides.rides {
        moments(ride, from_s, step_s, &mut out);
        from_s += span_s_of_gap(ride);
    }
    scaled(&mut out);
    out
}

fn span_s(ride: &Ride<'_>) -> f64 {
    let mut fixes = ride.fixes.iter();
    let first_s = fixes.next().map(|fix| fix.at_s);
    let last_s = fixes.last().map(|fix| fix.at_s);
    first_s.zip(last_s).map_or(0.0, |(first_s, last_s)| last_s - first_s)
}

fn span_s_of_gap(ride: &Ride<'_>) -> f64 {
    span_s(ride) + 2.0 * HALF_S
}

/// One fix for each step, with the rates beside it; rates are impulses a second as yet.
fn moments(ride: &Ride<'_>, offset_s: f64, step_s: f64, out: &mut Vec<Moment>) {
    let mut rates: [_; GROUND] = std::array::from_fn(|n| ride.curves[n].rates(HALF_S));
    let mut first_s = None;
    let mut next_s = f64::NEG_INFINITY;
    for fix in ride.fixes.iter() {
        let Some(speed_m_s) = fix.fix.speed_m_s.filter(|_| fix.at_s >= next_s) else { continue };
        next_s = fix.at_s + step_s;
        let begin_s = *first_s.get_or_insert(fix.at_s);
        out.push(Moment {
            at_s: offset_s + fix.at_s - begin_s,
            satellite_km_h: speed_m_s * KM_H_PER_M_S,
            sensors_km_h: std::array::from_fn(|n| rates[n].at(fix.at_s)),
        });
    }
}

/// Rates to speeds: over the whole drive a sensor goes as far as the satellites say.
fn scaled(moments: &mut [Moment]) {
    for n in 0..GROUND {
        let moving = |moment: &&Moment| moment.satellite_km_h > MOVING_M_S * KM_H_PER_M_S;
        let both = moments
            .iter()
            .filter(moving)
            .filter_map(|moment| Some((moment.sensors_km_h[n]?, moment.satellite_km_h)));
        let (rate, km_h) = both.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        let scale = (rate > 0.0).then_some(km_h / rate);
        for moment in moments.iter_mut() {
            let rate = moment.sensors_km_h[n];
            moment.sensors_km_h[n] = rate.zip(scale).map(|(rate, scale)| rate * scale);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_sensor_is_scaled_to_the_satellites_over_the_whole_drive() {
        let moment = |at_s: f64, km_h: f64| Moment {
            at_s,
            satellite_km_h: km_h,
            sensors_km_h: [Some(17.0 * km_h), None],
        };
        let mut moments = [moment(0.0, 4.0), moment(1.0, 8.0), moment(2.0, 0.0)];
        scaled(&mut moments);
        for moment in moments {
            let wheel = moment.sensors_km_h[0].unwrap_or(f64::NAN);
            assert!((wheel - moment.satellite_km_h).abs() < 1e-9, "{moment:?}");
            assert_eq!(moment.sensors_km_h[1], None);
        }
    }

    #[test]
    fn nothing_recorded_is_nothing_drawn() {
        assert_eq!(over_time(&Trail::default(), 100), Vec::new());
    }
}
