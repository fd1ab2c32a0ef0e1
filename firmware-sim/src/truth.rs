//! What really happened: what a measurement of the simulated job is judged against.

use crate::scenario::LeverArm;
use crate::terminal::TruthTerminal;
use serde::Serialize;

/// The truth of a simulated job, as far as it has been simulated.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Truth {
    /// Name of the scenario.
    pub scenario: String,
    /// The seed.
    pub seed: u64,
    /// UTC at simulated time 0, Unix nanoseconds.
    pub start_utc_ns: i64,
    /// When the job ends, microseconds since the start.
    pub end_us: u64,
    /// Wheel impulses per 100 m of slope path at zero slip, faulty teeth included.
    pub wheel_impulses_per_100m: f64,
    /// Radar impulses per 100 m of slope path.
    pub radar_impulses_per_100m: f64,
    /// PTO impulses per revolution.
    pub pto_per_rev: u32,
    /// Mean PTO speed, revolutions per minute.
    pub pto_rpm: f64,
    /// Slope length from peg to peg, metres.
    pub course_m: f64,
    /// Height difference between the pegs, metres.
    pub height_difference_m: f64,
    /// Rise per horizontal metre in the outward direction.
    pub slope: f64,
    /// Outward direction, degrees clockwise from true north.
    pub heading_deg: f64,
    /// Place of the antenna.
    pub lever_arm: LeverArm,
    /// Lag of the receiver's content behind its time tag, seconds.
    pub tag_lag_s: f64,
    /// Gain of the board's clock at the start, parts per million.
    pub board_drift_ppm: f64,
    /// Identity of the board.
    pub board_id: u64,
    /// The implement's terminal, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub terminal: Option<TruthTerminal>,
    /// The passes finished so far.
    pub passes: Vec<TruthPass>,
}

/// The truth of one pass.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TruthPass {
    /// From 1.
    pub number: u32,
    /// `out` or `back`.
    pub direction: &'static str,
    /// Instant that begins the pass: the mark at standstill, or the axle passing the peg.
    pub start_us: u64,
    /// Instant that ends it.
    pub finish_us: u64,
    /// When the board's mark input fired at the start peg, if it did.
    pub start_mark_us: Option<u64>,
    /// When it fired at the finish peg, if it did.
    pub finish_mark_us: Option<u64>,
    /// Slope length of the path the middle of the axle took, metres.
    pub wheel_path_m: f64,
    /// Straight slope distance between the places of the axle at both instants, metres.
    pub chord_m: f64,
    /// Teeth (and for the radar, cycles and stray ones) that passed between the instants:
    /// wheel, radar, PTO. Bounces do not count; impulses the sensor missed do.
    pub impulses: [u64; 3],
    /// 1 - actual / theoretical travel of the wheels between the instants.
    pub slip: f64,
}

/// What the tractor had really done by an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TruthSample {
    /// Microseconds since the start.
    pub sim_us: u64,
    /// Path of the middle of the rear axle over the ground so far, metres.
    pub travelled_m: f64,
    /// What the wheels turned so far, as metres at zero slip.
    pub theoretical_m: f64,
    /// Place of the axle along the course, metres from the start peg.
    pub x_m: f64,
    /// Place to the left of the course, metres.
    pub y_m: f64,
}

impl Truth {
    /// The truth as JSON text with a line end.
    ///
    /// # Errors
    ///
    /// When a number is not finite, which no scenario gives.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}
