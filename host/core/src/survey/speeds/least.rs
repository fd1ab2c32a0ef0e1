//! From which speed on a sensor can be used.

use super::SHARE;
use super::steady_run::SteadyRun;

/// A steady run that ought to hold this many impulses and holds less than half of them lacks some.
const EXPECTED_MIN: f64 = 10.0;
/// Bins for each doubling of the speed.
const BINS_PER_DOUBLING: f64 = 2.0;
/// A bin is judged by twice the uncertainty of its mean.
const HALF_WIDTHS: f64 = 2.0;

/// One bin of speeds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Mean satellite speed, metres per second.
    pub speed_m_s: f64,
    /// Slowest steady run in it, metres per second.
    pub slowest_m_s: f64,
    /// Steady runs in it.
    pub steady_runs: usize,
    /// Mean residual, as a share of what the line says.
    pub residual: f64,
    /// Twice the standard uncertainty of that mean.
    pub uncertainty: f64,
    /// Whether impulses are missing there.
    pub lacks: bool,
}

impl Bin {
    /// The satellite speed is sure enough in it to judge the residual.
    #[must_use]
    pub fn judged(&self) -> bool {
        self.uncertainty <= SHARE
    }

    fn good(&self) -> bool {
        !self.lacks && (!self.judged() || self.residual.abs() - self.uncertainty <= SHARE)
    }
}

/// The least usable speed of a sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Least {
    /// It never failed: usable down to the slowest steady run that could be judged, and maybe
    /// below.
    BelowSlowest {
        /// That steady run, metres per second.
        slowest_m_s: f64,
    },
    /// It failed in the bin below.
    From {
        /// Usable from here on, metres per second.
        speed_m_s: f64,
        /// Mean speed of the bin in which it fails, metres per second.
        fails_at_m_s: f64,
    },
    /// It fails at all speeds.
    Never,
}

/// Bins of one sensor, slowest first. `line`: impulses per second at a speed.
pub(super) fn bins(
    steady_runs: &[SteadyRun],
    channel: usize,
    line: &dyn Fn(f64) -> f64,
) -> Vec<Bin> {
    let mut rows: Vec<(i32, f64, f64, f64, bool)> = steady_runs
        .iter()
        .filter_map(|steady_run| {
            let rate = steady_run.rates_hz[channel]?;
            let speed = steady_run.speed_m_s;
            let expected = line(speed.value);
            if speed.value <= 0.0 || expected <= 0.0 {
                return None;
            }
            let u_speed = speed.standard_uncertainty / speed.value;
            let uncertainty = u_speed.hypot(rate.standard_uncertainty / expected);
            let seconds = steady_run.to_s - steady_run.from_s;
            let lacks = expected * seconds >= EXPECTED_MIN && rate.value < expected / 2.0;
            // Where the speed itself may be half wrong, a missing impulse proves nothing.
            let lacks = lacks && u_speed < 0.25;
            let bin = (BINS_PER_DOUBLING * speed.value.log2()).floor() as i32;
            Some((bin, speed.value, rate.value / expected - 1.0, uncertainty, lacks))
        })
        .collect();
    rows.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    rows.chunk_by(|a, b| a.0 == b.0)
        .map(|rows| {
            let n = rows.len() as f64;
            let mean = |pick: fn(&(i32, f64, f64, f64, bool)) -> f64| {
                rows.iter().map(pick).sum::<f64>() / n
            };
            Bin {
                speed_m_s: mean(|row| row.1),
                slowest_m_s: rows.iter().map(|row| row.1).fold(f64::INFINITY, f64::min),
                steady_runs: rows.len(),
                residual: mean(|row| row.2),
                uncertainty: HALF_WIDTHS * (mean(|row| row.3 * row.3) / n).sqrt(),
                lacks: rows.iter().any(|row| row.4),
            }
        })
        .collect()
}

/// The least usable speed by the bins.
pub(super) fn least(bins: &[Bin]) -> Least {
    let bad = bins.iter().rposition(|bin| !bin.good());
    let usable = &bins[bad.map_or(0, |bad| bad + 1)..];
    let slowest = usable.iter().find(|bin| bin.judged()).map(|bin| bin.slowest_m_s);
    match (bad, slowest) {
        (_, None) => Least::Never,
        (None, Some(slowest_m_s)) => Least::BelowSlowest { slowest_m_s },
        (Some(bad), Some(speed_m_s)) => {
            Least::From { speed_m_s, fails_at_m_s: bins[bad].speed_m_s }
        }
    }
}
