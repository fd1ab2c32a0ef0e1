//! Do wheel, radar and satellite speed agree, and from which speed on?
//!
//! All three are compared over steady, straight runs. Nothing is said about which
//! of them is right: the gain against the satellite speed is the value, and what shows a fault
//! is an offset, a residual that grows at low speed, missing impulses, impulses at standstill.

pub mod angle;
mod ground;
mod least;
pub mod over_time;
mod pair;
mod refusal;
mod steady_run;

pub use angle::{ANGLE_DEG, AngleHint};
pub use least::{Bin, Least};
pub use pair::{Interval, PairFit, PairLine, STEADY_RUNS_MIN, fit_pair};
pub use refusal::{NoLine, SpeedsRefusal};
pub use steady_run::{STEADY_M_S2, STEADY_RUN_S, STRAIGHT_DEG_S, Standing, SteadyRun};

use crate::session::trail::Trail;
use crate::stats::fit::line::Estimate;
use crate::stats::fit::robust::upper_median;
use crate::stats::fit::york::Point;
use crate::survey::ride::{Rides, rides};

/// Fastest over slowest steady run: below this a gain cannot be determined from an offset. Gain and
/// offset are then so correlated that either alone says nothing.
pub const RANGE_MIN: f64 = 1.5;
/// Share of the rate that a sensor may be off by and still count as usable.
pub const SHARE: f64 = 0.05;
/// Chance that a sound sensor is said to have an offset.
pub const CHANCE_OF_ALARM: f64 = 0.001;
/// Satellite speeds of a whole capture below this are those of a standing tractor, m/s: twice the
/// noise of a poor receiver.
const DRIVEN_M_S: f64 = 0.2;
/// Rounds in which usable steady runs and line are found from each other.
const ROUNDS: usize = 6;

crate::units::words! {
    /// One of the speeds compared.
    pub enum Sensor {
        /// Wheel sensor, channel 0.
        Wheel = "wheel",
        /// The radar sensor, channel 1.
        Radar = "radar",
        /// The speed of the satellite receiver.
        Satellite = "satellite",
    }
}

/// The pairs, each as (second, first): gain is second over first.
pub const PAIRS: [(Sensor, Sensor); 3] = [
    (Sensor::Wheel, Sensor::Satellite),
    (Sensor::Radar, Sensor::Satellite),
    (Sensor::Wheel, Sensor::Radar),
];

/// How the speeds are compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedsOptions {
    /// Impulses per metre that the radar ought to give.
    pub radar_nominal_per_m: Option<f64>,
    /// Angle of its beam below the horizontal at which it ought to, degrees.
    pub radar_angle_deg: f64,
}

impl Default for SpeedsOptions {
    fn default() -> Self {
        Self { radar_nominal_per_m: None, radar_angle_deg: ANGLE_DEG }
    }
}

/// One sensor by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Single {
    /// From which speed on it can be used.
    pub least: Least,
    /// Residuals by speed, slowest first.
    pub bins: Vec<Bin>,
}

/// Everything that came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Speeds {
    /// Steady runs, straight on.
    pub steady_runs: Vec<SteadyRun>,
    /// In the order of [`PAIRS`].
    pub pairs: [Result<PairFit, NoLine>; 3],
    /// Wheel and radar, where they gave enough.
    pub singles: [Option<Single>; 2],
    /// What they did at standstill.
    pub standing: Standing,
    /// How far off the radar's beam would have to be.
    pub hint: Option<AngleHint>,
    /// The trail ends before the capture does.
    pub cut: bool,
}

impl Speeds {
    /// The bin of wheel or radar that deviates most, of those that can be judged and are used.
    #[must_use]
    pub fn worst(&self, channel: usize) -> Option<&Bin> {
        let single = self.singles[channel].as_ref()?;
        let from_m_s = match single.least {
            Least::BelowSlowest { slowest_m_s } => slowest_m_s,
            Least::From { speed_m_s, .. } => speed_m_s,
            Least::Never => return None,
        };
        let used = single.bins.iter().filter(|b| b.judged() && b.slowest_m_s >= from_m_s);
        used.max_by(|a, b| a.residual.abs().total_cmp(&b.residual.abs()))
    }

    /// Every pair has a line, and every line goes through zero.
    #[must_use]
    pub fn agree(&self) -> bool {
        self.pairs.iter().all(|pair| {
            let line = pair.as_ref().ok().and_then(|fit| fit.line.as_ref().ok());
            line.is_some_and(|line| !line.offset_differs)
        })
    }
}

/// The steady, straight runs of rides, each with its satellite speed and the rates of the sensors.
#[must_use]
pub fn steady_runs(rides: &Rides<'_>) -> Vec<SteadyRun> {
    steady_run::cut(rides).steady_runs
}

/// Compare the speeds of a trail.
///
/// # Errors
/// A [`SpeedsRefusal`] when nothing can be compared.
pub fn speeds(trail: &Trail, options: SpeedsOptions) -> Result<Speeds, SpeedsRefusal> {
    let seen = trail.spells.iter().flat_map(|spell| &spell.fixes).filter_map(|f| f.speed_m_s);
    let fastest_m_s = seen.fold(0.0, f64::max);
    if fastest_m_s < DRIVEN_M_S && trail.spells.iter().any(|spell| !spell.fixes.is_empty()) {
        return Err(SpeedsRefusal::Stationary { fastest_m_s });
    }
    let rides = rides(trail).map_err(SpeedsRefusal::Ride)?;
    let steady_run::Cut { steady_runs, standing } = steady_run::cut(&rides);
    let found = steady_runs.iter().filter(|steady_run| steady_run.clear).count();
    if found < STEADY_RUNS_MIN {
        return Err(SpeedsRefusal::NoSteady { found, need: STEADY_RUNS_MIN });
    }
    let (mut wheel, wheel_from) = against_satellite(&steady_runs, 0);
    let (mut radar, radar_from) = against_satellite(&steady_runs, 1);
    let shared_u = steady_runs.iter().map(|run| run.shared_u).sum::<f64>();
    let shared_u = shared_u / steady_runs.len() as f64;
    for fit in [&mut wheel, &mut radar].into_iter().flatten() {
        fit.widen(shared_u);
    }
    let both = both(&steady_runs, wheel_from.max(radar_from));
    let singles = [&wheel, &radar].map(|fit| fit.as_ref().ok());
    let single = |channel: usize| {
        let fit = singles[channel]?;
        let bins = least::bins(&steady_runs, channel, &|speed_m_s| fit.at(speed_m_s));
        Some(Single { least: least::least(&bins), bins })
    };
    let hint = options
        .radar_nominal_per_m
        .zip(singles[1])
        .map(|(nominal, fit)| angle::hint(fit.gain().value, nominal, options.radar_angle_deg));
    let singles = [single(0), single(1)];
    Ok(Speeds { steady_runs, pairs: [wheel, radar, both], singles, standing, hint, cut: trail.cut })
}

/// A sensor against the satellite speed, over the steady runs in which it can be used, and the
/// speed from which that is.
fn against_satellite(steady_runs: &[SteadyRun], channel: usize) -> (Result<PairFit, NoLine>, f64) {
    let points = |from_m_s: f64| {
        points(steady_runs, from_m_s, &|s| Some((s.speed_m_s, s.rates_hz[channel]?)))
    };
    let clear = steady_runs.iter().filter(|s| s.clear).map(|s| s.speed_m_s.value).collect();
    let mut from_m_s = upper_median(clear).unwrap_or(0.0);
    let mut fitted = fit_pair(&points(from_m_s));
    for _ in 0..ROUNDS {
        let Ok(fit) = &fitted else { break };
        let bins = least::bins(steady_runs, channel, &|speed_m_s| fit.at(speed_m_s));
        let next_m_s = match least::least(&bins) {
            Least::BelowSlowest { .. } => 0.0,
            Least::From { speed_m_s, .. } => speed_m_s,
            Least::Never => break,
        };
        if (next_m_s - from_m_s).abs() < f64::EPSILON {
            break;
        }
        from_m_s = next_m_s;
        fitted = fit_pair(&points(from_m_s));
    }
    (fitted, from_m_s)
}

/// Wheel against radar, over the steady runs in which both can be used.
fn both(steady_runs: &[SteadyRun], from_m_s: f64) -> Result<PairFit, NoLine> {
    let rates =
        |s: &SteadyRun| Some((s.rates_hz[1].filter(|rate| rate.value > 0.0)?, s.rates_hz[0]?));
    fit_pair(&points(steady_runs, from_m_s, &rates))
}

/// Clear steady runs from a speed on, as points of what is picked of each.
fn points(
    steady_runs: &[SteadyRun],
    from_m_s: f64,
    pick: &dyn Fn(&SteadyRun) -> Option<(Estimate, Estimate)>,
) -> Vec<Point> {
    let clear = steady_runs.iter().filter(|s| s.clear && s.speed_m_s.value >= from_m_s);
    let point = |(x, y): (Estimate, Estimate)| {
        Point::new(x.value, y.value, x.standard_uncertainty, y.standard_uncertainty)
    };
    clear.filter_map(pick).map(point).collect()
}
