//! The satellite receiver: where its antenna is, what it thinks of it, and when it says so.
//!
//! The antenna's true place is a function of time (plan, path, lever arm, tilt); a lag of the
//! receiver's filter is therefore just an earlier look. The errors are white noise and
//! Gauss-Markov processes of unit variance, scaled by what the fix quality of the moment allows.

use crate::faults::Fault;
use crate::nmea::{self, Fix, Print};
use crate::prng::{Markov, Prng};
use crate::receiver::{Noise, Receiver};
use crate::scenario::Scenario;
use crate::vehicle::Vehicle;
use geographiclib_rs::{DirectGeodesic, Geodesic};

/// Below this speed the receiver gives no course, metres per second.
const LEAST_COURSE_M_S: f64 = 0.15;
/// Vertical errors against horizontal ones.
const VERTICAL: f64 = 1.5;

/// The ground: turns the course frame into latitude, longitude and height.
#[derive(Clone, Debug)]
struct Ground {
    geodesic: Geodesic,
    latitude_deg: f64,
    longitude_deg: f64,
    height_m: f64,
    heading_deg: f64,
}

impl Ground {
    /// Geodetic place of a point of the course frame; `above_m` is height over the ground.
    fn place(&self, [x_m, y_m, z_m]: [f64; 3], above_m: f64) -> [f64; 3] {
        let azimuth_deg = self.heading_deg - libm::atan2(y_m, x_m).to_degrees();
        // Radius of curvature of the ellipsoid in that azimuth (Euler): a metre of ground at
        // height h is R / (R + h) of a metre of the ellipsoid.
        let (a, f) = (self.geodesic.a, self.geodesic.f);
        let e2 = f * (2.0 - f);
        let (sin_lat, _) = libm::sincos(self.latitude_deg.to_radians());
        let w2 = 1.0 - e2 * sin_lat * sin_lat;
        let across = a / libm::sqrt(w2);
        let along = across * (1.0 - e2) / w2;
        let (sin_az, cos_az) = libm::sincos(azimuth_deg.to_radians());
        let radius = 1.0 / (cos_az * cos_az / along + sin_az * sin_az / across);
        let ground_m = self.height_m + z_m;
        let on_ellipsoid_m = libm::hypot(x_m, y_m) * radius / (radius + ground_m);
        let (latitude, longitude): (f64, f64) = self.geodesic.direct(
            self.latitude_deg,
            self.longitude_deg,
            azimuth_deg,
            on_ellipsoid_m,
        );
        [latitude, longitude, ground_m + above_m]
    }
}

/// The receiver with its state of noise.
#[derive(Clone, Debug)]
pub(crate) struct Gnss {
    scenario: Scenario,
    ground: Ground,
    /// East, north, up; fast and slow.
    fast: [Markov; 3],
    slow: [Markov; 3],
    doppler: [Markov; 2],
    tilt: [Markov; 2],
    tilt_rad: [f64; 2],
    tilt_s_m: f64,
    random: Prng,
    sway: Prng,
    before_s: f64,
    last_place: Option<[f64; 3]>,
}

impl Gnss {
    pub(crate) fn new(scenario: &Scenario, seed: u64) -> Self {
        let mut random = Prng::new(seed, "receiver");
        let mut sway = Prng::new(seed, "sway");
        let mut three = || std::array::from_fn(|_| Markov::new(&mut random));
        let (fast, slow) = (three(), three());
        let doppler = std::array::from_fn(|_| Markov::new(&mut random));
        let tilt = std::array::from_fn(|_| Markov::new(&mut sway));
        Self {
            scenario: scenario.clone(),
            ground: Ground {
                geodesic: Geodesic::wgs84(),
                latitude_deg: scenario.latitude_deg,
                longitude_deg: scenario.longitude_deg,
                height_m: scenario.ellipsoidal_height_m,
                heading_deg: scenario.heading_deg,
            },
            fast,
            slow,
            doppler,
            tilt,
            tilt_rad: [0.0; 2],
            tilt_s_m: f64::NEG_INFINITY,
            random,
            sway,
            before_s: 0.0,
            last_place: None,
        }
    }

    /// Fix quality at a time, and the noise that goes with it.
    fn quality(&self, now_s: f64) -> (u8, Noise) {
        let receiver = &self.scenario.receiver;
        let mut quality = receiver.quality;
        for fault in &self.scenario.faults {
            if let Fault::Quality { from_s, to_s, quality: other } = *fault
                && (from_s..to_s).contains(&now_s)
            {
                quality = other;
            }
        }
        let own = quality == receiver.quality;
        (quality, if own { receiver.noise } else { Noise::of_quality(quality) })
    }

    /// How far the positions lie off at a time, metres.
    fn jump(&self, now_s: f64) -> [f64; 2] {
        let by = |fault: &Fault| match *fault {
            Fault::FixJump { from_s, to_s, by_m } if (from_s..to_s).contains(&now_s) => Some(by_m),
            _ => None,
        };
        self.scenario.faults.iter().find_map(by).unwrap_or_default()
    }

    /// Roll and pitch come from the ground under the wheels: they change with distance, and at
    /// rest they stay.
    fn draw_tilt(&mut self, s_m: f64) {
        let moved_m = (s_m - self.tilt_s_m).abs();
        if moved_m > 1e-9 {
            let (sd, length_m) = (self.scenario.sway_deg.to_radians(), self.scenario.sway_length_m);
            for (tilt, angle) in self.tilt.iter_mut().zip(&mut self.tilt_rad) {
                *angle = sd * tilt.advance(moved_m.min(1e6), length_m, &mut self.sway);
            }
            self.tilt_s_m = s_m;
        }
    }

    /// The true place of the antenna in the course frame, and its velocity (along, left).
    fn antenna(&mut self, vehicle: &Vehicle, time_s: f64) -> ([f64; 3], f64, [f64; 2]) {
        let motion = vehicle.drive.at(time_s);
        let pose = vehicle.path.at(motion.s_m);
        self.draw_tilt(motion.s_m);
        let (arm, slope) = (self.scenario.lever_arm, self.scenario.slope);
        let (sin, cos) = libm::sincos(pose.heading_rad);
        let [roll, nod] = self.tilt_rad;
        let pitch = nod + libm::atan(slope * cos);
        let roll = roll + libm::atan(slope * sin);
        let (sin_pitch, cos_pitch) = libm::sincos(pitch);
        let (sin_roll, cos_roll) = libm::sincos(roll);
        // Nose up moves the antenna back; left side up moves it to the right.
        let ahead_m = arm.ahead_m * cos_pitch - arm.height_m * sin_pitch;
        let right_m = arm.right_m * cos_roll + arm.height_m * sin_roll;
        let above_m =
            arm.height_m * cos_pitch * cos_roll + arm.ahead_m * sin_pitch - arm.right_m * sin_roll;
        let x_m = pose.x_m + ahead_m * cos + right_m * sin;
        let y_m = pose.y_m + ahead_m * sin - right_m * cos;
        let yaw_rad_s = motion.v_m_s * pose.curvature_per_m;
        let forward = motion.v_m_s * pose.stretch + yaw_rad_s * arm.right_m;
        let left = yaw_rad_s * arm.ahead_m;
        let velocity = [forward * cos - left * sin, forward * sin + left * cos];
        // Heights are over the ground under the axle.
        ([x_m, y_m, slope * pose.x_m], above_m, velocity)
    }

    /// What the receiver knows at an epoch.
    pub(crate) fn epoch(&mut self, vehicle: &Vehicle, now_us: u64, utc_ns: i64) -> Fix {
        let now_s = now_us as f64 * 1e-6;
        let (quality, noise) = self.quality(now_s);
        let receiver_lag_s = self.scenario.receiver.tag_lag_s;
        let (mut point, above_m, velocity) = self.antenna(vehicle, now_s - receiver_lag_s);
        let step_s = now_s - self.before_s;
        self.before_s = now_s;
        let random = &mut self.random;
        let mut errors = [0.0; 3];
        for (axis, error) in errors.iter_mut().enumerate() {
            *error = noise.white_m * random.normal()
                + noise.markov_m * self.fast[axis].advance(step_s, noise.markov_s, random)
                + noise.slow_m * self.slow[axis].advance(step_s, noise.slow_s, random);
        }
        let jump = self.jump(now_s);
        point[0] += errors[0] + jump[0];
        point[1] += errors[1] + jump[1];
        let fresh = self.ground.place(point, above_m + VERTICAL * errors[2]);
        let frozen = self.scenario.faults.iter().any(|fault| {
            matches!(*fault, Fault::FrozenFix { from_s, to_s }
                if (from_s..to_s).contains(&now_s))
        });
        let place = if frozen { self.last_place.unwrap_or(fresh) } else { fresh };
        self.last_place = Some(place);
        let [along, left] = std::array::from_fn(|axis| {
            let error = self.doppler[axis].advance(step_s, noise.doppler_s, &mut self.random);
            velocity[axis] + noise.doppler_m_s * error
        });
        let speed_m_s = libm::hypot(along, left);
        let course = self.scenario.heading_deg - libm::atan2(left, along).to_degrees();
        let correlated_m = libm::hypot(noise.markov_m, noise.slow_m);
        Fix {
            utc_ns,
            place: (quality != 0).then_some(place),
            quality,
            satellites: 14,
            hdop: 0.78,
            speed_m_s,
            course_deg: (speed_m_s > LEAST_COURSE_M_S && quality != 0)
                .then_some(course.rem_euclid(360.0)),
            claimed_m: libm::hypot(noise.white_m, correlated_m),
        }
    }

    /// The text of an epoch.
    pub(crate) fn text(&self, fix: &Fix) -> Vec<u8> {
        let Receiver { sentences, slow_sentences, .. } = &self.scenario.receiver;
        let print = Print {
            minute_decimals: self.scenario.receiver.minute_decimals,
            speed_decimals: self.scenario.receiver.speed_decimals,
            geoid_separation_m: self.scenario.geoid_separation_m,
        };
        let mut out = Vec::with_capacity(512);
        for sentence in sentences {
            nmea::write(&mut out, *sentence, fix, &print);
        }
        if fix.utc_ns.rem_euclid(1_000_000_000) == 0 {
            for sentence in slow_sentences {
                nmea::write(&mut out, *sentence, fix, &print);
            }
        }
        out
    }
}
