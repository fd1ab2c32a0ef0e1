//! From which speed on a sensor can be used.

use super::SHARE;
use super::stretch::Stretch;

/// A stretch that ought to hold this many impulses and holds less than half of them lacks some.
const EXPECTED_MIN: f64 = 10.0;
/// Bins for each doubling of the speed.
const BINS_PER_DOUBLING: f64 = 2.0;
/// A bin is judged by twice the doubt of its mean.
const DOUBTS: f64 = 2.0;

/// One bin of speeds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Mean satellite speed, metres per second.
    pub speed_m_s: f64,
    /// Slowest stretch in it, metres per second.
    pub slowest_m_s: f64,
    /// Stretches in it.
    pub stretches: usize,
    /// Mean residual, as a share of what the line says.
    pub residual: f64,
    /// Twice the standard uncertainty of that mean.
    pub doubt: f64,
    /// Impulses are missing.
    pub lacks: bool,
}

impl Bin {
    /// The satellite speed is sure enough in it to judge the residual.
    #[must_use]
    pub fn judged(&self) -> bool {
        self.doubt <= SHARE
    }

    fn good(&self) -> bool {
        !self.lacks && (!self.judged() || self.residual.abs() - self.doubt <= SHARE)
    }
}

/// The least usable speed of a sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Least {
    /// It never failed: usable down to the slowest stretch that could be judged, and maybe below.
    BelowSlowest {
        /// That stretch, metres per second.
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
pub(super) fn bins(stretches: &[Stretch], channel: usize, line: &dyn Fn(f64) -> f64) -> Vec<Bin> {
    let mut rows: Vec<(i32, f64, f64, f64, bool)> = stretches
        .iter()
        .filter_map(|stretch| {
            let rate = stretch.rates_hz[channel]?;
            let speed = stretch.speed_m_s;
            let expected = line(speed.value);
            if speed.value <= 0.0 || expected <= 0.0 {
                return None;
            }
            let u_speed = speed.standard_uncertainty / speed.value;
            let doubt = u_speed.hypot(rate.standard_uncertainty / expected);
            let seconds = stretch.to_s - stretch.from_s;
            let lacks = expected * seconds >= EXPECTED_MIN && rate.value < expected / 2.0;
            // Where the speed itself may be half wrong, a missing impulse proves nothing.
            let lacks = lacks && u_speed < 0.25;
            let bin = (BINS_PER_DOUBLING * speed.value.log2()).floor() as i32;
            Some((bin, speed.value, rate.value / expected - 1.0, doubt, lacks))
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
                stretches: rows.len(),
                residual: mean(|row| row.2),
                doubt: DOUBTS * (mean(|row| row.3 * row.3) / n).sqrt(),
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
