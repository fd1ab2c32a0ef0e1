//! Passes made by hand: no noise but what the test asks for.

use trundle_core::geodesy::{Enu, LocalPlane, inverse};
use trundle_core::session::marks::MarkTime;
use trundle_core::session::window::{MarkPoint, PassWindow, WindowClock};
use trundle_core::timeline::envelope::ClockLine;
use trundle_core::wire::board::CountSample;
use trundle_core::wire::fix::{Fix, Quality};

/// Host minus board clock, seconds.
const HOST_OFFSET_S: f64 = 3.0;
/// UTC at board time zero, nanoseconds since 1970.
const UTC_NS: i64 = 1_777_622_400_000_000_000;
/// Rest beside each peg, cruise and acceleration: every change of motion falls on a fix.
const REST_S: f64 = 10.0;
const CRUISE_M_S: f64 = 2.0;
const ACCELERATION_M_S2: f64 = 0.5;
const HEIGHT_M: f64 = 62.0;

/// A pass to be made.
#[derive(Clone, Copy, Debug)]
pub struct Pass {
    /// From 1; odd ones run out, even ones back.
    pub number: u32,
    /// Impulses per metre.
    pub per_m: f64,
    /// How far it really drove, metres.
    pub driven_m: f64,
    /// Direction of the way out, degrees.
    pub azimuth_deg: f64,
    /// Make fixes too.
    pub fixes: bool,
}

/// Metres driven at a time after moving off, and the speed there.
fn motion(driven_m: f64, t: f64) -> (f64, f64) {
    let ramp_s = CRUISE_M_S / ACCELERATION_M_S2;
    let ramp_m = CRUISE_M_S * ramp_s / 2.0;
    let cruise_s = (driven_m - 2.0 * ramp_m) / CRUISE_M_S;
    let left_s = 2.0 * ramp_s + cruise_s - t;
    if t <= 0.0 {
        (0.0, 0.0)
    } else if left_s <= 0.0 {
        (driven_m, 0.0)
    } else if t < ramp_s {
        (ACCELERATION_M_S2 * t * t / 2.0, ACCELERATION_M_S2 * t)
    } else if left_s < ramp_s {
        (driven_m - ACCELERATION_M_S2 * left_s * left_s / 2.0, ACCELERATION_M_S2 * left_s)
    } else {
        (ramp_m + CRUISE_M_S * (t - ramp_s), CRUISE_M_S)
    }
}

/// Time after moving off at which a distance is reached.
fn reached_s(driven_m: f64, at_m: f64) -> f64 {
    let ramp_s = CRUISE_M_S / ACCELERATION_M_S2;
    let ramp_m = CRUISE_M_S * ramp_s / 2.0;
    let whole_s = 2.0 * ramp_s + (driven_m - 2.0 * ramp_m) / CRUISE_M_S;
    if at_m < ramp_m {
        (2.0 * at_m / ACCELERATION_M_S2).sqrt()
    } else if driven_m - at_m < ramp_m {
        whole_s - (2.0 * (driven_m - at_m) / ACCELERATION_M_S2).sqrt()
    } else {
        ramp_s + (at_m - ramp_m) / CRUISE_M_S
    }
}

/// The window of a pass.
pub fn window(pass: &Pass) -> PassWindow {
    let begin_s = 100.0 * f64::from(pass.number);
    let moves_s = begin_s + REST_S;
    let stops_s = moves_s + reached_s(pass.driven_m, pass.driven_m);
    let end_s = stops_s + REST_S;
    let mark = |board_s: f64| MarkPoint {
        host_ns: ((board_s + HOST_OFFSET_S) * 1e9) as u64,
        time: MarkTime::Board { board_us: (board_s * 1e6) as u64 },
    };
    let line = ClockLine { origin_s: 0.0, offset_s: HOST_OFFSET_S, drift: 0.0, residual_s: 0.0 };
    let clock = WindowClock { board: line, fix: line, fix_origin_ns: UTC_NS, pulse: None };
    PassWindow {
        number: pass.number,
        start: mark(moves_s - 4.0),
        finish: Some(mark(stops_s + 6.0)),
        counts: counts(pass, begin_s, moves_s, end_s).into_iter().collect(),
        fixes: fixes(pass, begin_s, moves_s, end_s).into_iter().filter(|_| pass.fixes).collect(),
        incidents: Vec::new(),
        rejected: None,
        unsure: false,
        too_long: false,
        board_clock: Some(line),
        clock: pass.fixes.then_some(clock),
    }
}

/// Reports every 20 ms. The n-th impulse comes (n - 1/2) pitches from the start.
fn counts(pass: &Pass, begin_s: f64, moves_s: f64, end_s: f64) -> Vec<CountSample> {
    let before = 1000 * u64::from(pass.number);
    let steps = ((end_s - begin_s) / 0.02).round() as u64;
    let sample = |step: u64| {
        let board_us = (begin_s * 1e6) as u64 + 20_000 * step;
        let (at_m, _) = motion(pass.driven_m, board_us as f64 * 1e-6 - moves_s);
        let impulses = (at_m * pass.per_m + 0.5).floor() as u64;
        let edge_m = (impulses as f64 - 0.5) / pass.per_m;
        let edge_us = ((moves_s + reached_s(pass.driven_m, edge_m.max(0.0))) * 1e6).round() as u64;
        let last_us = if impulses == 0 { (begin_s * 1e6) as u64 } else { edge_us.min(board_us) };
        CountSample {
            host_ns: board_us * 1000 + (HOST_OFFSET_S * 1e9) as u64,
            board_us,
            impulses: [before + impulses, 0, 0],
            last_edge_us: [Some(last_us), None, None],
            rejected: [0; 3],
            in_work: false,
            overruns: 0,
        }
    };
    (0..steps).map(sample).collect()
}

/// Fixes every 100 ms, exact in place, time and speed.
fn fixes(pass: &Pass, begin_s: f64, moves_s: f64, end_s: f64) -> Vec<Fix> {
    let plane = LocalPlane::new(52.2, 0.1, HEIGHT_M);
    let (sin, cos) = pass.azimuth_deg.to_radians().sin_cos();
    let place =
        |along_m: f64| plane.lat_lon_deg(Enu { east_m: along_m * sin, north_m: along_m * cos });
    let back = pass.number.is_multiple_of(2);
    let (from, to) = (place(0.0), place(pass.driven_m));
    let way = if back { inverse(to, from) } else { inverse(from, to) };
    let steps = ((end_s - begin_s) / 0.1).round() as u64;
    let fix = |step: u64| {
        let board_us = (begin_s * 1e6) as u64 + 100_000 * step;
        let (at_m, speed_m_s) = motion(pass.driven_m, board_us as f64 * 1e-6 - moves_s);
        let (lat_deg, lon_deg) = place(if back { pass.driven_m - at_m } else { at_m });
        Fix {
            utc_ns: UTC_NS + board_us as i64 * 1000,
            host_ns: board_us * 1000 + (HOST_OFFSET_S * 1e9) as u64,
            lat_deg,
            lon_deg,
            height_m: Some(HEIGHT_M),
            quality: Quality::RtkFixed,
            satellites: Some(14),
            hdop: Some(0.7),
            speed_m_s: Some(speed_m_s),
            track_deg: Some(way.azimuth_deg),
            gst: None,
            speed_quantum_m_s: 0.0,
            position_quantum_m: 0.0,
        }
    };
    (0..steps).map(fix).collect()
}
