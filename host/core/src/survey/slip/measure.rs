//! One section: how far the axle went, how far the wheels turned.
//!
//! The axle's way is the integral of the antenna's speed along the heading, plus the offset to the
//! right times the clockwise change of heading (see `ride::axle`). Its error grows with time. The
//! positions show the displacement once more, with an error that does not (see `ride::fuse`):
//! where the speed went astray evenly, the length is off by that times the chord over the length,
//! so on a straight the better of the two speaks, and in a turn mostly the speed.

use super::counted::u_impulses;
use super::cut::Span;
use super::options::{ZeroSlip, by_figures};
use super::section::{Section, SectionFlag};
use crate::geodesy::Enu;
use crate::session::window::IncidentKind;
use crate::stats::fit::line::Estimate;
use crate::survey::ride::Ride;
use crate::survey::ride::axle::{Mounting, Trace, TraceStep};
use crate::survey::ride::fuse::carried;
use crate::survey::ride::noise::Noises;
use crate::survey::ride::parts::{PartKind, way_m};
use crate::survey::ride::scale::Scales;
use crate::survey::ride::slope::Profile;
use crate::survey::ride::sums::{Carry, Sums};
use crate::survey::ride::trust::Trust;
use std::f64::consts::TAU;
use trundle_protocol::units::Channel;

/// A longer hole in the counts near an end of a section is reported, seconds.
const GAP_S: f64 = 0.5;
/// Less sure than this (expanded) is unreliable.
const UNRELIABLE: f64 = 0.05;
/// Curvature is taken over this far, metres: short against a turn, long against heading noise.
const BEND_OVER_M: f64 = 2.0;
/// From point to point of the line drawn, metres.
const POINT_M: f64 = 1.0;

/// What all sections are measured with.
#[derive(Clone, Debug)]
pub struct Means {
    pub zero_slip: ZeroSlip,
    pub mounting: Mounting,
    /// The mounting was given, not guessed.
    pub known: bool,
    pub noises: Noises,
    pub scales: Scales,
    pub lag_s: Estimate,
}

/// A trace, and what all its sections need of it.
pub struct Driven<'t> {
    pub trace: &'t Trace,
    /// Metres along the heading up to each step.
    forward_m: Sums<'t>,
    /// East and north up to each step, by the integrated velocity.
    carry: Carry<'t>,
    profile: Profile<'t>,
    trust: Trust,
}

impl<'t> Driven<'t> {
    /// `before` is the trace before a gap, where there is one.
    pub fn new(before: Option<&Trace>, trace: &'t Trace, noises: &Noises) -> Self {
        let carry = Carry::new(trace);
        Self {
            trace,
            forward_m: Sums::forward_m(trace),
            profile: Profile::new(trace),
            trust: Trust::of(before, &carry, noises),
            carry,
        }
    }
}

/// Length of the axle's way.
struct Way {
    length_m: f64,
    /// By the receiver's noise.
    variance_m2: f64,
    /// What speed and positions part by beyond their noise.
    parted_m: f64,
    /// By one standard uncertainty of the antenna position, right and ahead, of a slope that is
    /// not known and of the scale of the receiver's speed, with its sign.
    shared_m: [f64; 4],
    turned_rad: f64,
}

/// Measure a span; `None` where the counts do not reach, or nothing turned.
pub fn section(
    ride: &Ride<'_>,
    driven: &Driven<'_>,
    span: &Span,
    means: &Means,
) -> Option<Section> {
    let trace = driven.trace;
    let steps = &trace.steps[span.from..=span.to];
    let (first, last) = (steps.first()?, steps.last()?);
    let curve = &ride.curves[Channel::Wheel.index()];
    let impulses = curve.at(last.at_s)? - curve.at(first.at_s)?;
    let (known_from, known_to) = curve.span_s()?;
    if impulses < 1.0 || first.at_s < known_from || last.at_s > known_to {
        return None;
    }
    let way = way(driven, span, means);
    if way.length_m <= 0.0 {
        return None;
    }
    let lasted_s = last.at_s - first.at_s;
    let u_impulses = u_impulses(curve, (first.at_s, last.at_s));
    let u_timing_m = (last.speed_m_s - first.speed_m_s) * means.lag_s.standard_uncertainty;
    let u_own_m = way.variance_m2.sqrt().hypot(u_timing_m).hypot(way.parted_m);
    let u_length_m = way.shared_m.iter().fold(u_own_m, |u, shared| u.hypot(*shared));
    let zero = means.zero_slip;
    let slip = by_figures(zero.per_100m, 100.0 * impulses / way.length_m);
    let relative = (u_length_m / way.length_m)
        .hypot(u_impulses / impulses)
        .hypot(zero.standard_uncertainty / zero.per_100m);
    let standard_uncertainty = (1.0 - slip) * relative;
    let mut flags = flags(ride, driven, span, means.known, &way);
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
        shared_m: way.shared_m,
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

fn way(driven: &Driven<'_>, span: &Span, means: &Means) -> Way {
    let steps = &driven.trace.steps;
    let (first, last) = (&steps[span.from], &steps[span.to]);
    let mounting = &means.mounting;
    let noise = means.noises.over(&steps[span.from..=span.to]);
    let turned_rad = last.heading_rad - first.heading_rad;
    let forward = |at: usize| driven.forward_m.at(at);
    let by_speed_m = forward(span.to) - forward(span.from) + mounting.right_m * turned_rad;
    let off = carried(&driven.carry, (span.from, span.to), &noise);
    let (from, to) = (driven.carry.at(span.from), driven.carry.at(span.to));
    let east_m = to.0 - from.0 - off.off_m.0;
    let north_m = to.1 - from.1 - off.off_m.1;
    let length_m = by_speed_m.max(0.1);
    let along_m = (east_m * off.off_m.0 + north_m * off.off_m.1) / length_m;
    let share = ((east_m * east_m + north_m * north_m) / (length_m * length_m)).min(1.0);
    let ends_m2 = noise.ends.at_m2(first.speed_m_s) + noise.ends.at_m2(last.speed_m_s);
    let variance_m2 = share * off.left_m2 + (1.0 - share) * off.alone_m2 + ends_m2;
    let slope = driven.profile.slope((span.from, span.to), &means.noises);
    let u_slope_m = length_m * slope.standard_uncertainty;
    let (own_slope_m, shared_slope_m) =
        if slope.unknown { (0.0, u_slope_m) } else { (u_slope_m, 0.0) };
    let u_scale = means.scales.at(first.quality).standard_uncertainty;
    let ahead_m = u_ahead_m(mounting, bend_squared_m(&steps[span.from..=span.to]));
    Way {
        length_m: (by_speed_m - along_m) * slope.factor,
        variance_m2: variance_m2 + own_slope_m * own_slope_m,
        parted_m: driven.trust.parted_m(first.at_s, last.at_s),
        shared_m: [mounting.u_right_m * turned_rad, ahead_m, shared_slope_m, length_m * u_scale],
        turned_rad,
    }
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

fn flags(
    ride: &Ride<'_>,
    driven: &Driven<'_>,
    span: &Span,
    known: bool,
    way: &Way,
) -> Vec<SectionFlag> {
    let all = &driven.trace.steps;
    let steps = &all[span.from..=span.to];
    let (from_s, to_s) = (steps[0].at_s, steps[steps.len() - 1].at_s);
    let boot_s = ride.origin_us as f64 * 1e-6;
    let rejected = ride.spell.incidents.iter().any(|incident| {
        let bad = matches!(incident.kind, IncidentKind::FixRejected | IncidentKind::FixFrozen);
        bad && ride.spell.clock.is_some_and(|clock| {
            (from_s..=to_s).contains(&(clock.board_s_of_host(incident.host_ns) - boot_s))
        })
    });
    let changed = steps.iter().any(|step| step.quality != steps[0].quality)
        || driven.trust.lost(from_s, to_s);
    let flags = [
        (span.kind == PartKind::Turn && !known, SectionFlag::MountingUnknown),
        (hole_s(ride, from_s).max(hole_s(ride, to_s)) > GAP_S, SectionFlag::LinkGap),
        (changed, SectionFlag::FixQualityChanged),
        (rejected || way.parted_m > 0.0, SectionFlag::FixUnreliable),
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
            let antenna = trace.antenna(step);
            let at = Enu {
                east_m: antenna.east_m - mounting.ahead_m * sin - mounting.right_m * cos,
                north_m: antenna.north_m - mounting.ahead_m * cos + mounting.right_m * sin,
            };
            out.push(trace.plane.lat_lon_deg(at));
            since_m = 0.0;
        }
        since_m += step.speed_m_s * trace.interval_s;
    }
    out
}
