//! What slip is worked with.

use crate::survey::ride::axle::Mounting;

/// The wheel's zero-slip value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZeroSlip {
    /// Impulses per 100 m.
    pub per_100m: f64,
    /// Standard uncertainty, impulses per 100 m.
    pub standard_uncertainty: f64,
}

/// How to work slip out.
#[derive(Clone, Debug, PartialEq)]
pub struct SlipOptions {
    /// Value without slip; there is no result without one.
    pub zero_slip: Option<ZeroSlip>,
    /// Where the antenna is; without it, turns are unreliable and say so.
    pub mounting: Option<Mounting>,
    /// Length of a section, metres.
    pub section_m: f64,
    /// Slower than this there is no result, m/s.
    pub least_speed_m_s: f64,
    /// Slips of which the share of distance above is stated.
    pub thresholds: Vec<f64>,
}

impl Default for SlipOptions {
    fn default() -> Self {
        Self {
            zero_slip: None,
            mounting: None,
            section_m: 15.0,
            least_speed_m_s: 0.5,
            // The good working range on soil is 8 to 15 %: common practice, from memory.
            thresholds: vec![0.08, 0.15],
        }
    }
}

/// Slip by two values: the one without slip and the one counted under load, both in impulses per
/// 100 m of ground.
#[must_use]
pub fn by_figures(zero_slip_per_100m: f64, loaded_per_100m: f64) -> f64 {
    1.0 - zero_slip_per_100m / loaded_per_100m
}
