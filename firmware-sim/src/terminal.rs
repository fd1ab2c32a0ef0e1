//! The implement's terminal: what it makes of the impulses by the value that was keyed in, and
//! what its display shows of that.

use crate::prng::Prng;
use crate::vehicle::Vehicle;
use serde::Serialize;
use trundle_protocol::units::Channel;

/// A sensor that has been silent for so long stands, seconds.
const SILENT_S: f64 = 1.0;
/// The value that was in force before the right one was keyed in.
pub(crate) const OLD: Keyed = Keyed::Times(1.027);
/// Kilometres per hour in one metre per second.
const KM_H: f64 = 3.6;

/// The value that is in force in the terminal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Keyed {
    /// The right one for its sensor, to the nearest whole number.
    Right,
    /// So many times the right one: an old value, a doubled one, a slip of the decimal point.
    Times(f64),
    /// The right value of the other sensor.
    OfOtherSensor,
    /// This number of impulses per 100 m.
    Value(f64),
}

impl Keyed {
    /// Impulses per 100 m, where the sensor gives `own` and the other one `other`.
    pub(crate) fn per_100m(self, own: f64, other: f64) -> f64 {
        match self {
            Self::Right => libm::round(own),
            Self::Times(times) => libm::round(times * libm::round(own)),
            Self::OfOtherSensor => libm::round(other),
            Self::Value(value) => value,
        }
    }
}

/// A terminal as it was set up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terminal {
    /// The sensor that it goes by: wheel or radar.
    pub sensor: Channel,
    /// The value in force.
    pub keyed: Keyed,
    /// Last step of the distance shown, metres.
    pub distance_step_m: f64,
    /// The distance begins again at 0 when it comes to this, metres.
    pub wrap_m: f64,
    /// The distance at the start of the job, metres.
    pub start_m: f64,
    /// Last step of the speed shown, kilometres per hour.
    pub speed_step_km_h: f64,
    /// Time constant of the filter of the speed, seconds.
    pub filter_s: f64,
}

impl Default for Terminal {
    fn default() -> Self {
        Self {
            sensor: Channel::Wheel,
            keyed: Keyed::Right,
            distance_step_m: 0.1,
            wrap_m: 10_000.0,
            start_m: 1_234.0,
            speed_step_km_h: 0.1,
            filter_s: 0.5,
        }
    }
}

/// What whoever set a terminal up believes is in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeyedIn {
    /// The sensor that it goes by.
    pub sensor: Channel,
    /// The value keyed in, impulses per 100 m.
    pub now: f64,
    /// The value before, impulses per 100 m.
    pub before: f64,
}

impl std::fmt::Display for KeyedIn {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} for the {}, {} before", self.now, self.sensor.name(), self.before)
    }
}

/// One look at the display.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// When, microseconds since the start.
    pub sim_us: u64,
    /// The pass beside whose peg it stands, from 1; none on the move.
    pub pass: Option<u32>,
    /// Distance shown, metres.
    pub distance_m: f64,
    /// Speed shown, kilometres per hour.
    pub speed_km_h: f64,
}

/// The truth about a terminal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TruthTerminal {
    /// The sensor that it goes by.
    pub sensor: &'static str,
    /// The value in force, impulses per 100 m.
    pub value_per_100m: f64,
    /// What it shows of the true distance, at zero slip.
    pub ratio: f64,
    /// What was read off it: at each peg at standstill, and once in each steady run.
    pub shown: Vec<Shown>,
}

/// A terminal at work.
#[derive(Clone, Debug)]
pub(crate) struct Display {
    setup: Terminal,
    value_per_100m: f64,
    per_100m: f64,
    distance_m: f64,
    speed_m_s: f64,
    last_us: Option<f64>,
    shown: Vec<Shown>,
}

impl Display {
    pub(crate) fn new(setup: Terminal, vehicle: &Vehicle, seed: u64) -> Self {
        let [wheel, radar] = [vehicle.wheel_per_m(), vehicle.radar_per_m()].map(|n| 100.0 * n);
        let (per_100m, other) = match setup.sensor {
            Channel::Radar => (radar, wheel),
            Channel::Wheel | Channel::Pto => (wheel, radar),
        };
        let value_per_100m = setup.keyed.per_100m(per_100m, other);
        // Nobody knows how far the display is from its next digit.
        let phase = Prng::new(seed, "terminal").unit();
        let distance_m = setup.start_m + phase * setup.distance_step_m;
        let (speed_m_s, last_us, shown) = (0.0, None, Vec::new());
        Self { setup, value_per_100m, per_100m, distance_m, speed_m_s, last_us, shown }
    }

    /// An impulse of a sensor.
    pub(crate) fn edge(&mut self, at_us: f64, channel: Channel) {
        if channel != self.setup.sensor {
            return;
        }
        let step_m = 100.0 / self.value_per_100m;
        self.distance_m += step_m;
        if self.distance_m >= self.setup.wrap_m {
            self.distance_m -= self.setup.wrap_m;
        }
        if let Some(last_us) = self.last_us.replace(at_us) {
            let apart_s = ((at_us - last_us) * 1e-6).max(1e-6);
            let raw_m_s = if apart_s > SILENT_S { 0.0 } else { step_m / apart_s };
            self.speed_m_s += (raw_m_s - self.speed_m_s) * self.share(apart_s);
        }
    }

    /// How far the filter comes in a time.
    fn share(&self, seconds: f64) -> f64 {
        if self.setup.filter_s > 0.0 {
            1.0 - libm::exp(-seconds / self.setup.filter_s)
        } else {
            1.0
        }
    }

    /// What it shows at a time.
    pub(crate) fn now(&self, sim_us: u64, pass: Option<u32>) -> Shown {
        let silent_s = self.last_us.map_or(f64::INFINITY, |us| (sim_us as f64 - us) * 1e-6);
        let fallen = if silent_s > SILENT_S { 1.0 - self.share(silent_s - SILENT_S) } else { 1.0 };
        let (step_m, step_km_h) = (self.setup.distance_step_m, self.setup.speed_step_km_h);
        Shown {
            sim_us,
            pass,
            // A counter shows the steps that are full, a speed is rounded.
            distance_m: step_m * libm::floor(self.distance_m / step_m),
            speed_km_h: step_km_h * libm::round(KM_H * self.speed_m_s * fallen / step_km_h),
        }
    }

    /// What it shows at a time, in words.
    pub(crate) fn words(&self, sim_us: u64) -> String {
        self.now(sim_us, None).words(&self.setup)
    }

    /// What whoever keyed it in believes, impulses per 100 m: the value that is now in force, and
    /// the one before.
    pub(crate) fn keyed_in(&self) -> KeyedIn {
        let value = |keyed: Keyed| keyed.per_100m(self.per_100m, self.per_100m);
        KeyedIn { sensor: self.setup.sensor, now: value(Keyed::Right), before: value(OLD) }
    }

    /// Read it off.
    pub(crate) fn look(&mut self, sim_us: u64, pass: Option<u32>) {
        let shown = self.now(sim_us, pass);
        self.shown.push(shown);
    }

    pub(crate) fn truth(&self) -> TruthTerminal {
        TruthTerminal {
            sensor: self.setup.sensor.name(),
            value_per_100m: self.value_per_100m,
            ratio: self.per_100m / self.value_per_100m,
            shown: self.shown.clone(),
        }
    }
}

impl Shown {
    /// What it shows, in words.
    #[must_use]
    pub fn words(&self, setup: &Terminal) -> String {
        let distance = self.distance_text(setup.distance_step_m);
        let speed = self.speed_text(setup.speed_step_km_h);
        format!("the terminal shows {distance} m, {speed} km/h")
    }

    /// The distance with the decimals that the display has.
    #[must_use]
    pub fn distance_text(&self, step_m: f64) -> String {
        digits(self.distance_m, step_m)
    }

    /// The speed with the decimals that the display has, kilometres per hour.
    #[must_use]
    pub fn speed_text(&self, step_km_h: f64) -> String {
        digits(self.speed_km_h, step_km_h)
    }
}

/// A number with as many decimals as its step has.
fn digits(value: f64, step: f64) -> String {
    let places = libm::ceil(-libm::log10(step) - 1e-9).clamp(0.0, 6.0) as usize;
    format!("{value:.places$}")
}
