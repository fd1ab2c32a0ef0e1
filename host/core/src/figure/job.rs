//! The whole job worked: clock, noise, passes, values, flags. Live and replay end here alike.

use super::channel::{ChannelFigures, Shared, figures};
use super::found::as_found;
use super::job_flags::{job_flags, lag_flags, smoothed};
use super::pegs::{directions, fair_rise_m, flag_missed_pegs, rise_m};
use super::rolling::rolling;
use super::second_opinion::second_opinion;
use crate::course::tape::{CourseSpec, course_length};
use crate::flags::{Code, Flag};
use crate::passes::noise::learn;
use crate::passes::pass::{Direction, MeasuredPass, add_satellite, count};
use crate::passes::prepare::{Prepared, prepare};
use crate::passes::reconcile::reconcile;
use crate::passes::satellite::Length;
use crate::passes::{settle, weave};
use crate::session::Totals;
use crate::session::window::PassWindow;
use crate::stats::budget::Sources;
use crate::stats::fit::line::Estimate;
use crate::timeline::lag::{Lag, SpeedSpan, match_speeds};
use crate::wire::sky::SkyTotals;
use trundle_protocol::units::Channel;

/// Lag taken where none can be determined, seconds, and its standard uncertainty: receivers answer
/// within 20 to 300 ms; common practice, no source.
const LAG_UNSEEN_S: Estimate = Estimate::new(0.15, 0.1);
/// The same where the clocks are combined without any delay, by pulses or by UTC in the tables: a
/// receiver's own filter, common practice, no source.
const FILTER_UNSEEN_S: Estimate = Estimate::new(0.05, 0.05);
/// Standard uncertainty of a pulse edge against UTC, seconds: receivers hold a microsecond, the
/// board's time stamps resolve one; common practice, no source.
const PULSE_U_S: f64 = 2e-6;

/// What is to be worked.
#[derive(Clone, Copy, Debug)]
pub struct Job<'a> {
    /// The passes as they were recorded.
    pub passes: &'a [PassWindow],
    /// Totals of the capture.
    pub totals: &'a Totals,
    /// The capture has its end record, or is still growing.
    pub whole: bool,
}

/// How a job is calculated.
#[derive(Clone, Debug, Default)]
pub struct WorkOptions {
    /// The course; without it there is no tape value.
    pub course: Option<CourseSpec>,
    /// Trials of the Monte Carlo check; none without.
    pub monte_carlo: Option<usize>,
    /// Value found in the terminal.
    pub as_found: Option<f64>,
    /// Rate the implement was set to, litres per hectare.
    pub rate_l_per_ha: Option<f64>,
    /// Impulses of one turn of the wheel.
    pub impulses_per_turn: Option<f64>,
    /// Rolling circumference by the tyre's data, metres.
    pub circumference_m: Option<f64>,
}

/// How the clocks were combined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockSummary {
    /// UTC minus board time, seconds since 1970 minus seconds since the board's boot.
    pub offset_s: f64,
    /// Its standard uncertainty, in seconds.
    pub standard_uncertainty_s: f64,
    /// The receiver's lag behind the least arrival delay, seconds.
    pub lag_s: f64,
    /// Standard uncertainty of the lag, seconds.
    pub lag_standard_uncertainty_s: f64,
    /// `pulse per second`, `UTC in the tables`, `speed matching` or `arrival times`.
    pub method: &'static str,
}

/// One pass, for tables.
#[derive(Clone, Debug, PartialEq)]
pub struct PassSummary {
    /// As measured; `None` when it was refused before it could be measured.
    pub measured: Option<MeasuredPass>,
    /// Number of the pass, from 1.
    pub number: u32,
    /// Way along the course.
    pub direction: Option<Direction>,
    /// Findings, those that refused it included.
    pub flags: Vec<Flag>,
}

impl PassSummary {
    /// `valid`, `flagged` or `refused`.
    #[must_use]
    pub fn state(&self) -> &'static str {
        if self.measured.is_none() || self.flags.iter().any(|f| f.code.refuses()) {
            "refused"
        } else if self.flags.iter().any(|f| !f.code.is_remark()) {
            "flagged"
        } else {
            "valid"
        }
    }
}

/// The result of the work.
#[derive(Clone, Debug)]
pub struct Work {
    /// The course, where one was given.
    pub course: Option<Length>,
    /// What was assumed about the tape, in sentences.
    pub assumptions: Vec<String>,
    /// The clock, where the receiver gave one.
    pub clock: Option<ClockSummary>,
    /// Satellites, signal and dilution over the whole capture.
    pub sky: SkyTotals,
    /// Wheel and radar, as far as present.
    pub channels: Vec<ChannelFigures>,
    /// All passes of the job.
    pub passes: Vec<PassSummary>,
    /// Findings about the job and its channels; those of passes stand with the passes.
    pub flags: Vec<Flag>,
}

impl Work {
    /// Every finding: job, channels, passes.
    pub fn all_flags(&self) -> impl Iterator<Item = &Flag> {
        let channels = self.channels.iter().flat_map(|c| &c.flags);
        let passes = self.passes.iter().flat_map(|p| &p.flags);
        self.flags.iter().chain(channels).chain(passes)
    }

    /// True when nothing but remarks was found and there is a value.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.all_flags().all(|flag| flag.code.is_remark())
            && self.channels.iter().any(|c| c.value_to_enter.is_some())
    }
}

/// Calculate the result of a job.
#[must_use]
pub fn work(job: &Job<'_>, options: &WorkOptions) -> Work {
    let mut prepared: Vec<Prepared<'_>> = Vec::new();
    let mut refused: Vec<(u32, Vec<Flag>)> = Vec::new();
    for window in job.passes {
        match prepare(window) {
            Ok(pass) => prepared.push(pass),
            Err(flags) => refused.push((window.number, flags)),
        }
    }
    let spans: Vec<SpeedSpan<'_>> = prepared.iter().map(Prepared::speed_span).collect();
    let seen = match_speeds(&spans);
    let lag_s = seen.map_or(unseen(job, &prepared), |lag| lag.estimate_s());
    let settling = settle::measure(&prepared, lag_s.value);
    for pass in &mut prepared {
        (pass.settle_s, pass.unsettled_m) = (settling.settle_s, settling.left_m);
    }
    let noise = learn(&prepared, lag_s.value, seen.as_ref().ok());
    let mut measured: Vec<MeasuredPass> = prepared.iter().map(|p| count(p, lag_s)).collect();
    let weave = winding(&prepared, &mut measured, lag_s.value);
    flag_missed_pegs(&mut measured);
    let ways = directions(&measured);
    let rise_m = course_rise(options.course.as_ref(), &measured, &ways);
    for ((pass, window), way) in measured.iter_mut().zip(&prepared).zip(&ways) {
        let signed = if *way == Some(Direction::Back) { -rise_m.value } else { rise_m.value };
        add_satellite(pass, window, &noise, signed, lag_s);
    }
    let mut flags = job_flags(job, options, &measured);
    lag_flags(&seen, &measured, &mut flags);
    flags.extend(smoothed(&settling));
    let speed_scale = reconcile(&mut measured, &mut flags);
    let shared = Shared { rise_m, weave, speed_scale, noise: &noise };
    let mut channels = channels(options, &measured, &ways, &shared);
    channels.iter_mut().for_each(|channel| answer(channel, options));
    let (course, assumptions) = course_summary(options.course.as_ref(), &mut flags);
    let clock = clock(job, &prepared, lag_s, seen.as_ref().ok());
    Work {
        course,
        assumptions,
        clock,
        sky: job.totals.receiver.sky,
        channels,
        passes: summaries(measured, &ways, refused),
        flags,
    }
}

fn unseen(job: &Job<'_>, prepared: &[Prepared<'_>]) -> Estimate {
    let by_pulse = prepared.iter().any(|p| p.window.clock.is_some_and(|c| c.pulse.is_some()));
    if by_pulse || job.totals.derived_clock { FILTER_UNSEEN_S } else { LAG_UNSEEN_S }
}

/// How much longer than the straight line the wheel's path was, over all passes. Those that did not
/// run straight are flagged, and so refused.
fn winding(prepared: &[Prepared<'_>], measured: &mut [MeasuredPass], lag_s: f64) -> Estimate {
    let driven: Vec<_> = prepared
        .iter()
        .zip(measured.iter())
        .map(|(pass, m)| (pass, m.ends.filter(|_| !m.refused())))
        .collect();
    let found = weave::measure(&driven, lag_s);
    for (pass, excess) in measured.iter_mut().zip(found.of_passes) {
        let Some(excess) = excess.filter(|excess| weave::is_bent(*excess)) else { continue };
        let what = if excess.is_finite() {
            let percent = 100.0 * excess;
            format!("the path driven is {percent:.1} % longer than the line between the marks")
        } else {
            "it turned well away from the line between the marks".to_owned()
        };
        pass.flags.push(Flag::pass(Code::NotStraight, pass.number, what));
    }
    found.excess
}

fn course_rise(
    course: Option<&CourseSpec>,
    measured: &[MeasuredPass],
    ways: &[Option<Direction>],
) -> Estimate {
    if let Some((spec, rise_m)) = course.and_then(|spec| Some((spec, spec.height_difference_m?))) {
        return Estimate::new(rise_m, spec.height_difference_u_m);
    }
    let rise = rise_m(measured, ways);
    Estimate { value: fair_rise_m(rise).copysign(rise.value), ..rise }
}

fn channels(
    options: &WorkOptions,
    measured: &[MeasuredPass],
    ways: &[Option<Direction>],
    shared: &Shared<'_>,
) -> Vec<ChannelFigures> {
    // The shaft's impulses follow the engine, not the ground: there is no such value for it.
    [Channel::Wheel, Channel::Radar]
        .into_iter()
        .filter(|c| measured.iter().any(|pass| pass.impulses[c.index()].is_some()))
        .map(|c| figures(c, measured, ways, options.course.as_ref(), shared))
        .collect()
}

/// What was asked beside the value itself.
fn answer(channel: &mut ChannelFigures, options: &WorkOptions) {
    if let Some(trials) = options.monte_carlo {
        channel.monte_carlo = second_opinion(channel, trials);
    }
    // A value that is withheld is no measure of another one.
    if channel.value_to_enter.is_none() {
        return;
    }
    let Some(best) = channel.best().cloned() else { return };
    if channel.name == Channel::Wheel.name() {
        let rate = options.rate_l_per_ha;
        channel.found =
            options.as_found.map(|found| as_found(found, &best, &channel.sources, rate));
        let tyre_m = options.circumference_m;
        channel.rolling =
            options.impulses_per_turn.map(|n| rolling(&best, &channel.sources, n, tyre_m));
    }
}

fn course_summary(
    course: Option<&CourseSpec>,
    flags: &mut Vec<Flag>,
) -> (Option<Length>, Vec<String>) {
    let Some(spec) = course else { return (None, Vec::new()) };
    match course_length(spec, &mut Sources::new()) {
        Ok(length) => {
            let summary = Length {
                length_m: length.length.value(),
                standard_uncertainty_m: length.length.standard_uncertainty(),
            };
            (Some(summary), length.assumptions)
        }
        Err(refusal) => {
            flags.push(Flag::job(Code::NoCourse, refusal.to_string()));
            (None, Vec::new())
        }
    }
}

fn clock(
    job: &Job<'_>,
    prepared: &[Prepared<'_>],
    lag: Estimate,
    seen: Option<&Lag>,
) -> Option<ClockSummary> {
    let (pass, clock) = prepared.iter().find_map(|p| Some((p, p.window.clock?)))?;
    let board_s = pass.origin_us as f64 * 1e-6;
    let utc_ns = clock.utc_ns_of_board(board_s, lag.value);
    let arrivals_s = clock.board.residual_s.hypot(clock.fix.residual_s);
    let (method, standard_uncertainty_s) = match (clock.pulse, seen) {
        (Some(pulse), _) => ("pulse per second", pulse.residual_s.max(PULSE_U_S)),
        (None, _) if job.totals.utc_in_tables => ("UTC in the tables", lag.standard_uncertainty),
        (None, Some(_)) => ("speed matching", lag.standard_uncertainty.hypot(arrivals_s)),
        (None, None) => ("arrival times", lag.standard_uncertainty.hypot(arrivals_s)),
    };
    Some(ClockSummary {
        offset_s: utc_ns as f64 * 1e-9 - board_s,
        standard_uncertainty_s,
        lag_s: lag.value,
        lag_standard_uncertainty_s: lag.standard_uncertainty,
        method,
    })
}

fn summaries(
    measured: Vec<MeasuredPass>,
    ways: &[Option<Direction>],
    refused: Vec<(u32, Vec<Flag>)>,
) -> Vec<PassSummary> {
    let mut all: Vec<PassSummary> = measured
        .into_iter()
        .zip(ways)
        .map(|(pass, &direction)| PassSummary {
            number: pass.number,
            direction,
            flags: pass.flags.clone(),
            measured: Some(pass),
        })
        .collect();
    all.extend(refused.into_iter().map(|(number, flags)| PassSummary {
        measured: None,
        number,
        direction: None,
        flags,
    }));
    all.sort_by_key(|pass| pass.number);
    all
}
