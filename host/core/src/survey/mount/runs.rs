//! The traces of all rides, cut into parts, with the wheel's counts beside them.

use crate::survey::ride::axle::{Mounting, Trace, traces};
use crate::survey::ride::parts::{Part, parts};
use crate::survey::ride::{Ride, Rides};
use crate::timeline::counts::CountCurve;
use trundle_protocol::units::Channel;

/// Antenna position ahead of the axle with which the parts are cut, metres: the middle of what
/// tractors have. The cuts hardly depend on it.
pub(super) const AHEAD_FIRST_M: f64 = 1.5;
/// Knots a curve must have before it shows motion.
const KNOTS_MIN: usize = 10;

/// One trace with its counts.
#[derive(Clone, Debug)]
pub struct Run<'r> {
    /// The steps of the tractor.
    pub trace: Trace,
    /// Straights and turns of the trace.
    pub parts: Vec<Part>,
    /// Counts of the wheel, where it gave any.
    pub wheel: Option<&'r CountCurve>,
    /// Board second 0 of the ride, seconds since the first fix of the capture.
    offset_s: f64,
}

impl Run<'_> {
    /// Seconds since the first fix of the capture, of a board second of the ride.
    #[must_use]
    pub fn since_s(&self, at_s: f64) -> f64 {
        at_s + self.offset_s
    }
}

/// All runs, the heading carried along for an antenna `ahead_m` ahead of the axle.
pub(super) fn runs<'r>(rides: &'r Rides<'_>, ahead_m: f64) -> Vec<Run<'r>> {
    let mounting = Mounting { ahead_m, ..Mounting::default() };
    let Some(begin_ns) = rides.rides.iter().find_map(|ride| start_ns(ride, rides)) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for ride in &rides.rides {
        let Some(start_ns) = start_ns(ride, rides) else { continue };
        let curve = &ride.curves[Channel::Wheel.index()];
        let wheel = (curve.knots().len() > KNOTS_MIN).then_some(curve);
        let offset_s = (start_ns - begin_ns) as f64 * 1e-9;
        for trace in traces(ride, &mounting) {
            out.push(Run { parts: parts(&trace), trace, wheel, offset_s });
        }
    }
    out
}

fn start_ns(ride: &Ride<'_>, rides: &Rides<'_>) -> Option<i64> {
    ride.utc_ns(0.0, rides.lag.lag_s)
}
