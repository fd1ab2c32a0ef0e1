//! One section: how far the axle went, how far the wheels turned.
//!
//! The axle's way is the integral of the antenna's speed along the heading, plus the offset to the
//! right times the clockwise change of heading (see `ride::axle`). Its error grows with time. The
//! positions at both ends show the displacement once more, with an error that does not: where the
//! speed went astray evenly, the length is off by that times the chord over the length, so on a
//! straight the better of the two speaks, and in a turn mostly the speed.

use super::cut::Span;
use super::options::{ZeroSlip, by_figures};
use super::section::{Section, SectionFlag};
use crate::geodesy::Enu;
use crate::session::window::IncidentKind;
use crate::stats::fit::line::Estimate;
use crate::survey::ride::Ride;
use crate::survey::ride::axle::{Mounting, Trace, TraceStep};
use crate::survey::ride::noise::{MotionNoise, carried_m, forward_m};
use crate::survey::ride::parts::{PartKind, way_m};
use crate::timeline::counts::{CountCurve, WHOLE_COUNT_U};
use std::f64::consts::TAU;
use trundle_protocol::units::Channel;

/// Positions this long either side of an end are averaged, carried there by the speed, seconds.
const AROUND_S: f64 = 1.0;
/// A longer hole in the counts near an end of a section is reported, seconds.
const GAP_S: f64 = 0.5;
/// Less sure than this (expanded) is unreliable.
const UNRELIABLE: f64 = 0.05;
/// Standard uncertainty of one fractional count between edge times, impulses: turning is even to a
/// few per cent of an impulse.
const EDGE_U: f64 = 0.05;
/// Vertical errors of a receiver against horizontal ones; common practice, no source.
const VERTICAL: f64 = 1.5;
/// Curvature is taken over this far, metres: short against a turn, long against heading noise.
const BEND_OVER_M: f64 = 2.0;
/// From point to point of the line drawn, metres.
const POINT_M: f64 = 1.0;

/// What all sections are measured with.
#[derive(Clone, Copy, Debug)]
pub struct Means {
    pub zero_slip: ZeroSlip,
    pub mounting: Mounting,
    /// The mounting was given, not guessed.
    pub known: bool,
    pub noise: MotionNoise,
    pub lag_s: Estimate,
}

/// Length of the axle's way.
struct Way {
    length_m: f64,
    /// By the receiver's noise.
    variance_m2: f64,
    /// By one standard uncertainty of the antenna position, right and ahead, with its sign.
    arm_m: [f64; 2],
    turned_rad: f64,
}

/// Measure a span; `None` where the counts do not reach, or nothing turned.
pub fn section(ride: &Ride<'_>, trace: &Trace, span: &Span, means: &Means) -> Option<Section> {
    let steps = &trace.steps[span.from..=span.to];
    let (first, last) = (steps.first()?, steps.last()?);
    let curve = &ride.curves[Channel::Wheel.index()];
    let impulses = curve.at(last.at_s)? - curve.at(first.at_s)?;
    let (known_from, known_to) = curve.span_s()?;
    if impulses < 1.0 || first.at_s < known_from || last.at_s > known_to {
        return None;
    }
    let way = way(trace, span, means);
    if way.length_m <= 0.0 {
        return None;
    }
    let lasted_s = last.at_s - first.at_s;
    let u_impulses = u_impulses(curve, impulses, lasted_s, ride);
    let u_timing_m = (last.speed_m_s - first.speed_m_s) * means.lag_s.standard_uncertainty;
    let u_own_m = way.variance_m2.sqrt().hypot(u_timing_m);
    let u_length_m = u_own_m.hypot(way.arm_m[0]).hypot(way.arm_m[1]);
    let zero = means.zero_slip;
    let slip = by_figures(zero.per_100m, 100.0 * impulses / way.length_m);
    let relative = (u_length_m / way.length_m)
        .hypot(u_impulses / impulses)
        .hypot(zero.standard_uncertainty / zero.per_100m);
    let standard_uncertainty = (1.0 - slip) * relative;
    let mut flags = flags(ride, trace, span, means.known);
    if 2.0 * standard_uncertainty > UNRELIABLE {
        flags.push(SectionFlag::Unreliable);
    }
    let boot_s = ride.origin_us as f64 * 1e-6;
    let heading = f64::midpoint(first.heading_rad, last.heading_rad).rem_euclid(TAU);
    Some(Section {
        utc_ns: ride.utc_ns(f64::midpoint(first.at_s, last.at_s), means.lag_s.value)?,
        board_s: (boot_s + first.at_s, boot_s + last.at_s),
        line: line(trace, steps, &means.mounting),
        length_m: way.length_m,
        u_length_m,
        arm_m: way.arm_m,
        impulses,
        ground_speed_m_s: way.length_m / lasted_s,
        slip,
        standard_uncertainty,
        heading_deg: heading.to_degrees(),
        turned_rad: way.turned_rad,
        kind: span.kind,
        part: span.part,
        in_work: span.in_work,
        flags,
    })
}

fn u_impulses(curve: &CountCurve, impulses: f64, lasted_s: f64, ride: &Ride<'_>) -> f64 {
    if curve.is_exact() {
        return EDGE_U * 2.0_f64.sqrt();
    }
    // Knots at sampling instants are late by up to one interval, both ends alike on average.
    let samples = ride.spell.counts.len().max(2) as f64;
    let apart_s = curve.span_s().map_or(0.0, |span| (span.1 - span.0) / (samples - 1.0));
    WHOLE_COUNT_U * (1.0 + impulses / lasted_s * apart_s)
}

fn way(trace: &Trace, span: &Span, means: &Means) -> Way {
    let (first, last) = (&trace.steps[span.from], &trace.steps[span.to]);
    // Around the span as far as the positions at its ends are averaged.
    let reach = (AROUND_S / trace.interval_s).ceil() as usize;
    let (low, high) =
        (span.from.saturating_sub(reach), (span.to + reach).min(trace.steps.len() - 1));
    let part = Trace {
        steps: trace.steps[low..=high].to_vec(),
        interval_s: trace.interval_s,
        plane: trace.plane,
    };
    let (from, to) = (span.from - low, span.to - low);
    let forward = forward_m(&part);
    let carried = carried_m(&part);
    let mounting = &means.mounting;
    let turned_rad = last.heading_rad - first.heading_rad;
    let by_speed_m = forward[to] - forward[from] + mounting.right_m * turned_rad;
    let lasted_s = last.at_s - first.at_s;
    let noise = &means.noise;
    let (a, b) = (anchor(&part, &carried, from), anchor(&part, &carried, to));
    let speed_m2 = noise.speed_walk_m2_s * lasted_s;
    let place_m2 = noise.white_m2 * (1.0 / a.fixes + 1.0 / b.fixes) + noise.walk_m2_s * lasted_s;
    let (east_m, north_m) = (b.at.east_m - a.at.east_m, b.at.north_m - a.at.north_m);
    let off_east_m = carried[to].0 - carried[from].0 - east_m;
    let off_north_m = carried[to].1 - carried[from].1 - north_m;
    let length_m = by_speed_m.max(0.1);
    let weight = speed_m2 / (speed_m2 + place_m2);
    let along_m = (east_m * off_east_m + north_m * off_north_m) / length_m;
    let level_m = by_speed_m - weight * along_m;
    let share = ((east_m * east_m + north_m * north_m) / (length_m * length_m)).min(1.0);
    let variance_m2 =
        share * speed_m2 * place_m2 / (speed_m2 + place_m2) + (1.0 - share) * speed_m2;
    let ahead_m = u_ahead_m(mounting, bend_squared_m(&trace.steps[span.from..=span.to]));
    let arm_m = [mounting.u_right_m * turned_rad, ahead_m];
    // Heights are noisier, and noise only ever adds to a square: its variance is taken off.
    let rise_m2 = match (a.height_m, b.height_m) {
        (Some(a_m), Some(b_m)) => ((b_m - a_m).powi(2) - VERTICAL * VERTICAL * place_m2).max(0.0),
        _ => 0.0,
    };
    let slope = (1.0 + rise_m2 / (length_m * length_m)).sqrt();
    Way { length_m: level_m * slope, variance_m2, arm_m, turned_rad }
}

/// Uncertainty by how far ahead the antenna is, metres: in a bend of curvature c its speed along
/// the heading is short by c2 a2/2. `bend_squared_m` is c2 along the way.
fn u_ahead_m(mounting: &Mounting, bend_squared_m: f64) -> f64 {
    let by_slope = mounting.ahead_m.abs() * mounting.u_ahead_m;
    bend_squared_m * by_slope.hypot(mounting.u_ahead_m.powi(2) / 2.0)
}

/// The square of the curvature added up along the way, 1/metre.
fn bend_squared_m(steps: &[TraceStep]) -> f64 {
    let way = way_m(steps);
    let (mut sum, mut from) = (0.0, 0);
    for to in 1..steps.len() {
        let apart_m = way[to] - way[from];
        if apart_m >= BEND_OVER_M {
            sum += (steps[to].heading_rad - steps[from].heading_rad).powi(2) / apart_m;
            from = to;
        }
    }
    sum
}

/// A position with the noise of single fixes averaged out.
struct Anchor {
    at: Enu,
    height_m: Option<f64>,
    fixes: f64,
}

fn anchor(part: &Trace, carried: &[(f64, f64)], at: usize) -> Anchor {
    let middle_s = part.steps[at].at_s;
    let near = |step: &TraceStep| (step.at_s - middle_s).abs() <= AROUND_S;
    let (mut east_m, mut north_m, mut fixes) = (0.0, 0.0, 0.0);
    let mut heights = (0.0, 0.0);
    for (step, way) in part.steps.iter().zip(carried).filter(|(step, _)| near(step)) {
        east_m += step.antenna.east_m - (way.0 - carried[at].0);
        north_m += step.antenna.north_m - (way.1 - carried[at].1);
        fixes += 1.0;
        if let Some(height_m) = step.height_m {
            heights = (heights.0 + height_m, heights.1 + 1.0);
        }
    }
    Anchor {
        at: Enu { east_m: east_m / fixes, north_m: north_m / fixes },
        height_m: (heights.1 > 0.0).then(|| heights.0 / heights.1),
        fixes,
    }
}

fn flags(ride: &Ride<'_>, trace: &Trace, span: &Span, known: bool) -> Vec<SectionFlag> {
    let steps = &trace.steps[span.from..=span.to];
    let (from_s, to_s) = (steps[0].at_s, steps[steps.len() - 1].at_s);
    let boot_s = ride.origin_us as f64 * 1e-6;
    let unreliable = ride.spell.incidents.iter().any(|incident| {
        let bad = matches!(incident.kind, IncidentKind::FixRejected | IncidentKind::FixFrozen);
        bad && ride.spell.clock.is_some_and(|clock| {
            (from_s..=to_s).contains(&(clock.board_s_of_host(incident.host_ns) - boot_s))
        })
    });
    let changed = steps.iter().any(|step| step.quality != steps[0].quality);
    let flags = [
        (span.kind == PartKind::Turn && !known, SectionFlag::MountingUnknown),
        (hole_s(ride, from_s).max(hole_s(ride, to_s)) > GAP_S, SectionFlag::LinkGap),
        (changed, SectionFlag::FixQualityChanged),
        (unreliable, SectionFlag::FixUnreliable),
    ];
    flags.into_iter().filter(|(raised, _)| *raised).map(|(_, flag)| flag).collect()
}

/// Time between the count samples before and after an instant, seconds.
fn hole_s(ride: &Ride<'_>, at_s: f64) -> f64 {
    let counts = &ride.spell.counts;
    let seconds = |board_us: u64| (board_us - ride.origin_us) as f64 * 1e-6;
    let after = counts.partition_point(|sample| seconds(sample.board_us) <= at_s);
    match (after.checked_sub(1).and_then(|i| counts.get(i)), counts.get(after)) {
        (Some(a), Some(b)) => seconds(b.board_us) - seconds(a.board_us),
        _ => 0.0,
    }
}

/// The axle's way for drawing.
fn line(trace: &Trace, steps: &[TraceStep], mounting: &Mounting) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    let mut since_m = f64::INFINITY;
    for (i, step) in steps.iter().enumerate() {
        if since_m >= POINT_M || i + 1 == steps.len() {
            let (sin, cos) = step.heading_rad.sin_cos();
            let at = Enu {
                east_m: step.antenna.east_m - mounting.ahead_m * sin - mounting.right_m * cos,
                north_m: step.antenna.north_m - mounting.ahead_m * cos + mounting.right_m * sin,
            };
            out.push(trace.plane.lat_lon_deg(at));
            since_m = 0.0;
        }
        since_m += step.speed_m_s * trace.interval_s;
    }
    out
}
