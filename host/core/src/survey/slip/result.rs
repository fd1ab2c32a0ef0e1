//! The result: sections, and what they add up to.

use super::options::ZeroSlip;
use super::places::SlipPlace;
use super::section::Section;
use super::totals::{PartTotal, ShareAbove, Total};
use crate::stats::fit::line::Estimate;
use crate::survey::ride::axle::Mounting;
use crate::survey::ride::noise::MotionNoise;

/// The slip of one capture.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// The zero-slip value that was used.
    pub zero_slip: ZeroSlip,
    /// Where the antenna was taken to be; `None`: not known.
    pub mounting: Option<Mounting>,
    /// Length of a section that was asked for, metres.
    pub section_m: f64,
    /// Slower than this nothing was given, m/s.
    pub least_speed_m_s: f64,
    /// In order of time.
    pub sections: Vec<Section>,
    /// Over all sections; over those on passes, in turns, and in work, where there are any.
    pub totals: Totals,
    /// Totals of passes and turns.
    pub parts: Vec<PartTotal>,
    /// Totals of squares of ground.
    pub places: Vec<SlipPlace>,
    /// Share of the distance above each threshold.
    pub share_above: Vec<ShareAbove>,
    /// Metres driven that no section holds: too slow, backwards, or between gaps.
    pub withheld_m: f64,
    /// What the receiver was like.
    pub noise: MotionNoise,
    /// Its lag, and the standard uncertainty of that, seconds.
    pub lag_s: Estimate,
}

/// Totals of the sections, by what they have in common.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Totals {
    /// Total of all sections.
    pub all: Total,
    /// Total of the passes, if any.
    pub passes: Option<Total>,
    /// Total of the turns, if any.
    pub turns: Option<Total>,
    /// With the implement in work.
    pub in_work: Option<Total>,
}
