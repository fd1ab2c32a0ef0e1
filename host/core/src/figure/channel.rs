//! The values of one channel: by tape, by satellite, combined; their agreement; the whole number
//! to enter.

use super::found::{AsFound, FoundFault};
use super::line::{COVERAGE, PassLine};
use super::pool::{ASSUMED_DOF, LEARNED_DOF, Pooled, Scatter, pool};
use super::rolling::{Rolling, RollingFault};
use super::shared_error::{Sharing, inflation};
use super::sources::{
    SATELLITE_SCATTER, TAPE_SCATTER, path_over_line, slope_over_level, speed_over_true,
    unchecked_receiver, whole_impulses,
};
use super::suspects::suspects;
use super::verdict::{TwoScatters, USELESS, join};
use crate::course::tape::{CourseLength, CourseSpec, course_length};
use crate::flags::{Code, Flag};
use crate::passes::pass::{Direction, MeasuredPass, PassImpulses};
use crate::passes::satellite::{ReceiverNoise, SWAY_M, worse};
use crate::stats::budget::monte_carlo::Propagated;
use crate::stats::budget::rounding::value_to_enter;
use crate::stats::budget::{Quantity, Source, Sources, cover};
use crate::stats::fit::agreement::Agreement;
use crate::stats::fit::line::Estimate;
use trundle_protocol::units::Channel;

/// How far from a peg a careful driver stops, metres, half-width; common practice, no source.
/// Only the starting point for the scatter: what the passes show replaces it.
pub(super) const STOP_M: f64 = 0.05;
/// The same where a gate or button marks on the move, metres of latch and trigger.
const TRIGGER_M: f64 = 0.02;
/// Standard deviation of a radar's own impulses from pass to pass, as a share; common practice, no
/// source. Only the starting point, too.
const RADAR_SCATTER: f64 = 5e-4;
/// Fewer passes than this leave the scatter hardly known.
pub const PASSES_GOOD: usize = 4;

/// The values of one channel. Quantities are impulses per 100 m.
#[derive(Clone, Debug, Default)]
pub struct ChannelFigures {
    /// The sensor, `wheel` or `radar`.
    pub name: &'static str,
    /// Its place among the board's inputs.
    pub index: usize,
    /// Every source of uncertainty that the quantities know of.
    pub sources: Sources,
    /// The value by tape, if any.
    pub tape: Option<Quantity>,
    /// The value by satellite, if any.
    pub satellite: Option<Quantity>,
    /// Both combined by what they are worth; only when they agree.
    pub combined: Option<Quantity>,
    /// The best value by model and scatter blended: what a result takes that stands on few passes
    /// and holds an error limit of its own beside them. Not given by itself.
    pub blended: Option<Quantity>,
    /// Agreement of tape and satellite.
    pub agreement: Option<Agreement>,
    /// The whole number to key into the implement's terminal.
    pub value_to_enter: Option<i64>,
    /// The best value's interval by Monte Carlo, where it was asked for.
    pub monte_carlo: Option<Propagated>,
    /// What the value found in the terminal did, where one was given.
    pub found: Option<Result<AsFound, FoundFault>>,
    /// The rolling circumference implied, where the impulses of a turn were given.
    pub rolling: Option<Result<Rolling, RollingFault>>,
    /// The passes that were used.
    pub passes: Vec<PassLine>,
    /// Findings about this channel.
    pub flags: Vec<Flag>,
}

impl ChannelFigures {
    /// The best value there is: combined, or the only one.
    #[must_use]
    pub fn best(&self) -> Option<&Quantity> {
        let only = self.tape.as_ref().xor(self.satellite.as_ref());
        self.combined.as_ref().or(only)
    }
}

/// One pass as far as one channel is concerned.
struct Used<'a> {
    pass: &'a MeasuredPass,
    way: Option<Direction>,
    count: PassImpulses,
    /// What the sensor itself scatters from pass to pass, as a share.
    sensor: f64,
}

/// What all channels of a job share.
#[derive(Clone, Copy, Debug)]
pub struct Shared<'a> {
    /// Height difference of the pegs, metres.
    pub rise_m: Estimate,
    /// Share by which the wheel's path is longer than the straight line.
    pub weave: Estimate,
    /// Scale of the receiver's speed, less one, where it is in the distances.
    pub speed_scale: Estimate,
    /// The receiver's errors.
    pub noise: &'a ReceiverNoise,
}

/// Work out one channel from the passes that may be used.
#[must_use]
pub fn figures(
    channel: Channel,
    passes: &[MeasuredPass],
    ways: &[Option<Direction>],
    course: Option<&CourseSpec>,
    shared: &Shared<'_>,
) -> ChannelFigures {
    let (name, index) = (channel.name(), channel.index());
    let sensor = if channel == Channel::Radar { RADAR_SCATTER } else { 0.0 };
    let mut sources = Sources::new();
    let used: Vec<Used<'_>> = passes
        .iter()
        .zip(ways)
        .filter(|(pass, _)| !pass.refused())
        .filter_map(|(pass, &way)| Some(Used { pass, way, count: pass.impulses[index]?, sensor }))
        .collect();
    let length = course.and_then(|spec| course_length(spec, &mut sources).ok());
    let Estimate { value, standard_uncertainty } = shared.weave;
    let weave = path_over_line(1.0 + value, standard_uncertainty, &mut sources);
    let all: Vec<&Used<'_>> = used.iter().collect();
    let tape = length.as_ref().and_then(|l| by_tape(&all, l, &weave, &mut sources));
    let satellite = by_satellite(&used, shared, &weave, tape.is_some(), &mut sources);
    let mut out = ChannelFigures {
        name,
        index,
        passes: used.iter().map(|u| line(u, length.as_ref())).collect(),
        sources,
        tape: tape.as_ref().map(|t| t.observed.clone()),
        satellite: satellite.as_ref().map(|s| s.observed.clone()),
        ..ChannelFigures::default()
    };
    join(&mut out, tape.as_ref(), satellite.as_ref(), course);
    let sick = used
        .iter()
        .flat_map(|u| &u.pass.flags)
        .any(|flag| flag.code.withholds() && flag.channel.is_none_or(|channel| channel == name));
    if !sick {
        to_enter(&mut out);
    }
    pass_flags(&mut out, &used, tape.as_ref().map(|t| &t.pooled));
    out
}

/// The whole number to enter, unless the value is too uncertain to be of use.
fn to_enter(out: &mut ChannelFigures) {
    let Some(best) = out.best() else { return };
    let half = cover(best, &out.sources, COVERAGE).expanded_uncertainty / best.value();
    if half > USELESS {
        let what = format!("the value has an uncertainty of ±{:.1} %", 100.0 * half);
        out.flags.push(Flag::job(Code::TooUncertain, what).on(out.name));
    } else {
        out.value_to_enter = value_to_enter(best.value()).map(i64::from);
    }
}

fn line(used: &Used<'_>, length: Option<&CourseLength>) -> PassLine {
    let impulses = used.count.impulses;
    PassLine {
        number: used.pass.number,
        impulses,
        tape: length.map(|l| 100.0 * impulses / l.length.value()),
        satellite: used.pass.satellite.map(|s| 100.0 * impulses / s.joined.length_m),
    }
}

fn by_tape(
    used: &[&Used<'_>],
    length: &CourseLength,
    weave: &Quantity,
    sources: &mut Sources,
) -> Option<TwoScatters> {
    let length_m = length.length.value();
    let values: Vec<Estimate> = used
        .iter()
        .map(|u| {
            let PassImpulses { impulses, standard_uncertainty } = u.count;
            let u_stop = stop_m(u.pass) * impulses / length_m;
            let u = standard_uncertainty.hypot(u_stop).hypot(u.sensor * impulses);
            Estimate::new(impulses, u)
        })
        .collect();
    let pooled = pool(&values, ASSUMED_DOF)?;
    let square: f64 = used.iter().map(|u| u.count.standard_uncertainty.powi(2)).sum();
    let counting = square.sqrt() / used.len() as f64;
    let path = &length.length * weave;
    Some(twofold(TAPE_SCATTER, used, pooled, counting, sources, |impulses| {
        (impulses / &path).scaled(100.0)
    }))
}

/// Both kinds of scatter of one pooled value, each carried to the value. `counting` is the standard
/// uncertainty of the mean by whole counts alone, in the unit of the pooled values.
fn twofold(
    (key, name): (&str, &str),
    used: &[&Used<'_>],
    pooled: Pooled,
    counting: f64,
    sources: &mut Sources,
    figure: impl Fn(&Quantity) -> Quantity,
) -> TwoScatters {
    let mut with = |key: &str, scatter: Scatter| {
        let Scatter { standard_uncertainty, degrees_of_freedom } = scatter;
        let source = Source::type_a(key, name, standard_uncertainty, degrees_of_freedom);
        let whole = whole_impulses(key, counting, standard_uncertainty, sources);
        figure(&(&sources.quantity(pooled.mean, source) + &whole))
    };
    let observed = with(key, pooled.observed);
    let blended = with(&format!("{key}_judged"), pooled.blended);
    let without_scatter = figure(&Quantity::exact(pooled.mean));
    let scale = without_scatter.value() / pooled.mean;
    TwoScatters {
        observed,
        blended,
        parts: used.iter().zip(&pooled.parts).map(|(u, p)| (u.pass.number, scale * p)).collect(),
        scatter: scale * pooled.observed.standard_uncertainty,
        judged: scale * pooled.blended.standard_uncertainty,
        counting: scale * counting,
        without_scatter,
        pooled,
    }
}

/// How far the distance driven may differ from peg to peg, both ends, metres.
fn stop_m(pass: &MeasuredPass) -> f64 {
    let half_m = if pass.standing { STOP_M } else { TRIGGER_M.max(pass.hand_m) };
    half_m / 3.0_f64.sqrt() * 2.0_f64.sqrt()
}

fn by_satellite(
    used: &[Used<'_>],
    shared: &Shared<'_>,
    weave: &Quantity,
    is_checked: bool,
    sources: &mut Sources,
) -> Option<TwoScatters> {
    let mut seen: Vec<&Used<'_>> = Vec::new();
    let (mut values, mut sharing) = (Vec::new(), Vec::new());
    let (mut total_m, mut by_speed, mut counting2) = (0.0, 0.0, 0.0);
    for u in used {
        let Some(satellite) = u.pass.satellite else { continue };
        let length = satellite.joined;
        if length.length_m <= 1.0 {
            continue;
        }
        let value = 100.0 * u.count.impulses / length.length_m;
        let u_length_m = length.standard_uncertainty_m.hypot(SWAY_M * 2.0_f64.sqrt());
        let relative =
            (u.count.standard_uncertainty / u.count.impulses).hypot(u_length_m / length.length_m);
        let relative = relative.hypot(u.sensor);
        values.push(Estimate::new(value, value * relative));
        counting2 += (value * u.count.standard_uncertainty / u.count.impulses).powi(2);
        total_m += length.length_m;
        by_speed += 1.0 - satellite.position_share;
        sharing.push(Sharing { pass: u.pass, way: u.way, u_length_m });
        seen.push(u);
    }
    let n = seen.len() as f64;
    let pooled = pool(&values, LEARNED_DOF)?.inflated(inflation(&sharing, shared.noise));
    let speed_u = shared.speed_scale.standard_uncertainty * by_speed / n;
    let slope = slope_over_level(shared.rise_m, total_m / n, sources);
    let mut path = &(&slope * weave) * &speed_over_true(speed_u, sources);
    if !is_checked {
        let ends = seen.iter().filter_map(|u| u.pass.ends).flat_map(|(a, b)| [a, b]);
        let quality = ends.map(|end| end.quality).reduce(worse)?;
        path = &path * &unchecked_receiver(quality, sources);
    }
    let counting = counting2.sqrt() / n;
    Some(twofold(SATELLITE_SCATTER, &seen, pooled, counting, sources, |figure| figure / &path))
}

fn pass_flags(out: &mut ChannelFigures, used: &[Used<'_>], counted: Option<&Pooled>) {
    let name = out.name;
    if used.is_empty() {
        return;
    }
    if used.len() < PASSES_GOOD {
        let what = match used.len() {
            1 => "only 1 pass can be used".to_owned(),
            n => format!("only {n} passes can be used"),
        };
        out.flags.push(Flag::job(Code::FewPasses, what).on(name));
    }
    let mine: Vec<Option<Direction>> = used.iter().map(|u| u.way).collect();
    let seen: Vec<Direction> = mine.iter().copied().flatten().collect();
    if seen.len() > 1 && seen.iter().all(|way| *way == seen[0]) {
        let what = "all passes ran in the same direction";
        out.flags.push(Flag::job(Code::OneDirection, what).on(name));
    }
    out.flags.extend(suspects(name, &out.passes, &mine, counted));
}
