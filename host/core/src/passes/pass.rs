//! One pass, measured: impulses of each channel, length by satellite, and what was wrong.

use super::prepare::{Prepared, between_marks};
use super::pulses;
use super::rest::{Stance, standing_count};
use super::satellite::{End, ReceiverNoise, SatelliteLength, driven_m, end, measure};
use crate::flags::{Code, Flag};
use crate::geodesy::inverse;
use crate::session::window::IncidentKind;
use crate::stats::fit::line::Estimate;
use crate::timeline::counts::WHOLE_COUNT_U;
use crate::timeline::receiver_clock::{same_step, step_words};
use crate::wire::board::CountSample;
use crate::wire::fix::Quality;
use crate::wire::fix::quality_words;
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;

/// Standard uncertainty of a sample's time in a table, as a share of the step from one to the next;
/// common practice, no source.
const SAMPLE_TIME: f64 = 0.05;
/// A frame gap longer than this is reported, seconds.
const LINK_GAP_S: f64 = 0.5;
/// Or longer than this many usual steps, for tables with few lines.
const LINK_GAP_STEPS: f64 = 2.5;
/// Share of refused edges above which an input counts as noisy.
const NOISY_SHARE: f64 = 0.001;
/// Share of missing or false impulses above which a sensor is called sick.
const FAULTY_SHARE: f64 = 0.001;
/// Longer than this many times the straight line, and this many metres more, is no straight pass:
/// steering adds per mille, and a standalone receiver's slow error some metres.
const DETOUR_SHARE: f64 = 1.1;
const DETOUR_M: f64 = 6.0;
/// How far from the instant meant a hand presses on the move, seconds, half-width; common
/// practice, no source.
const HAND_S: f64 = 0.2;

crate::units::words! {
    /// Way along the course.
    pub enum Direction {
        /// As the first pass.
        Out = "out",
        /// Against the first pass.
        Back = "back",
    }
}

/// Impulses of one channel over one pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassImpulses {
    /// Impulses between the two marks.
    pub impulses: f64,
    /// Standard uncertainty of reading the two counts, impulses. How well the tractor stood
    /// beside the pegs is not in it.
    pub standard_uncertainty: f64,
}

/// A pass after it was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPass {
    /// From 1, in the order of the starts.
    pub number: u32,
    /// UTC of the count instants, nanoseconds since 1970, where a fix shows it.
    pub utc_ns: Option<(i64, i64)>,
    /// Board seconds from start to finish.
    pub duration_s: f64,
    /// Impulses by channel; `None` where the channel gave none.
    pub impulses: [Option<PassImpulses>; CHANNELS],
    /// Positions at the marks.
    pub ends: Option<(End, End)>,
    /// By satellite, where it can be determined. Filled in once the rise of the course is known.
    pub satellite: Option<SatelliteLength>,
    /// Both marks at rest.
    pub standing: bool,
    /// Half-width of the instant of a hand's mark on the move times the speed there, metres.
    pub hand_m: f64,
    /// Findings about this pass.
    pub flags: Vec<Flag>,
}

impl MeasuredPass {
    /// True when a flag takes the pass out of every value.
    #[must_use]
    pub fn refused(&self) -> bool {
        self.flags.iter().any(|flag| flag.code.refuses())
    }
}

/// Count the impulses and place the ends.
#[must_use]
pub fn count(pass: &Prepared<'_>, lag_s: Estimate) -> MeasuredPass {
    let number = pass.window.number;
    let mut flags = line_flags(pass);
    let from_s = pass.start.start_s();
    let to_s = pass.finish.finish_s();
    let standing = pass.start.is_standing() && pass.finish.is_standing();
    let mut report = |code: Code, what: &str| flags.push(Flag::pass(code, number, what));
    if !standing {
        report(Code::RollingMark, "a mark was given on the move");
    }
    for stance in [pass.start, pass.finish] {
        if let Stance::Standing { moved: true, .. } = stance {
            let what = "a mark was given a moment before or after the standstill beside the peg";
            report(Code::MarkMoved, what);
        }
    }
    let impulses = std::array::from_fn(|channel| impulses(pass, channel));
    let start = end(pass, pass.start, true, lag_s.value);
    let finish = end(pass, pass.finish, false, lag_s.value);
    let ends = start.zip(finish);
    let stepped = receiver_step_s(pass);
    if let Some(step_s) = stepped {
        let what = format!("the receiver's clock was set {}", step_words(step_s));
        report(Code::ReceiverClockStep, &what);
    } else if ends.is_none() && pass.fixes.is_empty() {
        report(Code::NoFix, "no usable fix was received");
    } else if ends.is_none() {
        report(Code::ShortRest, "too few fixes at a mark to determine the position");
    }
    if pass.window.unsure && ends.is_none() {
        let what = "the board had restarted, and nothing shows which marks are start and finish";
        flags.push(Flag::pass(Code::MarksUnsure, number, what));
    }
    if let Some((a, b)) = &ends {
        flags.extend(detour(pass, a, b, lag_s.value));
    }
    let by_hand = pass.window.start.time == crate::session::marks::MarkTime::Host;
    let speed_m_s = ends.map_or(0.0, |(a, b)| a.speed_m_s.max(b.speed_m_s));
    MeasuredPass {
        number,
        utc_ns: utc(pass, from_s, to_s, lag_s.value),
        duration_s: to_s - from_s,
        impulses,
        ends,
        satellite: None,
        standing,
        hand_m: if by_hand && !standing { HAND_S * speed_m_s } else { 0.0 },
        flags,
    }
}

/// By how much the receiver's clock was set between the marks, seconds. Where the wall clock of the
/// computer shows the same, it is the computer that stood still.
fn receiver_step_s(pass: &Prepared<'_>) -> Option<f64> {
    let by_host = |step_s: f64| {
        between_marks(pass.window).any(|kind| match kind {
            IncidentKind::ClockStep(wall_s) => same_step(wall_s, step_s),
            _ => false,
        })
    };
    between_marks(pass.window).find_map(|kind| match kind {
        IncidentKind::ReceiverClock(step_s) if !by_host(step_s) => Some(step_s),
        _ => None,
    })
}

/// A pass that did not run straight from mark to mark: a turn lies in it, so that start and finish
/// were marked at the wrong ends.
fn detour(pass: &Prepared<'_>, start: &End, finish: &End, lag_s: f64) -> Option<Flag> {
    let straight_m = inverse(start.lat_lon_deg, finish.lat_lon_deg).length_m;
    let driven_m = driven_m(pass, lag_s)?;
    if driven_m <= DETOUR_SHARE * straight_m + DETOUR_M {
        return None;
    }
    let what = format!("it drove {driven_m:.0} m between marks that lie {straight_m:.0} m apart");
    Some(Flag::pass(Code::PegElsewhere, pass.window.number, what))
}

/// Add the satellite length, now that the rise of the course is known. `rise_m` is signed along
/// this pass.
pub fn add_satellite(
    measured: &mut MeasuredPass,
    pass: &Prepared<'_>,
    noise: &ReceiverNoise,
    rise_m: f64,
    lag_s: Estimate,
) {
    let Some(ends) = &measured.ends else { return };
    let frozen = between_marks(pass.window).any(|kind| kind == IncidentKind::FixFrozen);
    if frozen {
        let what = "the position stood still while the tractor moved";
        measured.flags.push(Flag::pass(Code::FixFrozen, measured.number, what));
        return;
    }
    let counted = measured.impulses[pass.motion.index()].map(|count| count.impulses);
    let length = measure(pass, ends, counted, noise, rise_m, lag_s);
    if let Some(track) = length.track.filter(|track| track.uneven && !measured.refused()) {
        let what = format!(
            "counts and positions part by {:.2} m inside the pass, which its ends do not show",
            track.departure_m
        );
        measured.flags.push(Flag::pass(Code::Uneven, measured.number, what));
    }
    let uneven = length.track.is_some_and(|track| track.uneven);
    let parts = length.parts.filter(|parts| parts.contradict);
    if let Some(parts) = parts.filter(|_| !uneven && !measured.refused()) {
        let what = format!(
            "the positions at the marks contradict those between them by {:.2} m",
            parts.apart_m
        );
        measured.flags.push(Flag::pass(Code::FixRejected, measured.number, what));
    }
    if length.doppler.is_none() {
        let what = "speeds by satellite are missing between the marks";
        measured.flags.push(Flag::pass(Code::FixGap, measured.number, what));
    }
    measured.satellite = Some(length);
}

fn impulses(pass: &Prepared<'_>, channel: usize) -> Option<PassImpulses> {
    let curve = &pass.curves[channel];
    // On the move an edge time shows the fraction of an impulse; at rest nothing does.
    let read = |stance: Stance, is_start: bool| match stance {
        Stance::Standing { from_s, to_s, .. } => standing_count(curve, from_s, to_s, is_start),
        Stance::Rolling { at_s } => curve.at(at_s),
    };
    // Before the first edge known the count is that edge's own.
    let from = read(pass.start, true).or_else(|| curve.knots().first().map(|k| k.1))?;
    let to = read(pass.finish, false)?;
    if to <= from {
        return None;
    }
    let rolling = !pass.start.is_standing() && !pass.finish.is_standing();
    let standard_uncertainty = match (rolling, curve.is_exact()) {
        // Between two edges the turning is even to a few per cent of an impulse.
        (true, true) => 0.05,
        // The count is right at the instant of a sample, which its time tells to some of a step.
        (true, false) => WHOLE_COUNT_U.hypot(SAMPLE_TIME * curve.mean_step()),
        (false, _) => WHOLE_COUNT_U,
    };
    Some(PassImpulses { impulses: to - from, standard_uncertainty })
}

fn utc(pass: &Prepared<'_>, from_s: f64, to_s: f64, lag_s: f64) -> Option<(i64, i64)> {
    let clock = pass.window.clock?;
    let origin_s = pass.origin_us as f64 * 1e-6;
    let at = |s: f64| clock.utc_ns_of_board(origin_s + s, lag_s);
    Some((at(from_s), at(to_s)))
}

fn line_flags(pass: &Prepared<'_>) -> Vec<Flag> {
    let number = pass.window.number;
    let mut flags = Vec::new();
    let mut report = |code: Code, what: String| flags.push(Flag::pass(code, number, what));
    let mut lost = 0;
    let mut rejected_fixes = 0;
    for kind in between_marks(pass.window) {
        match kind {
            IncidentKind::FramesLost(frames) => lost += frames,
            IncidentKind::FixRejected => rejected_fixes += 1,
            IncidentKind::ClockStep(step_s) => {
                report(Code::ClockStep, format!("the wall clock was stepped by {step_s:.1} s"));
            }
            IncidentKind::CaptureDamaged(bytes) => {
                report(Code::CaptureDamaged, format!("{bytes} bytes of the capture are damaged"));
            }
            _ => {}
        }
    }
    if between_marks(pass.window).any(|kind| kind == IncidentKind::FixSimulated) {
        report(Code::Simulated, "the receiver says that its fixes are simulated".to_owned());
    }
    if lost > 0 {
        report(Code::FramesLost, format!("{lost} frames of the board are missing"));
    }
    if rejected_fixes > 0 {
        report(
            Code::FixRejected,
            format!("{rejected_fixes} fixes were contradictory or impossible"),
        );
    }
    let (usual_s, gap_s) = steps_s(pass);
    if gap_s > LINK_GAP_S.max(LINK_GAP_STEPS * usual_s) {
        report(Code::LinkGap, format!("the board was silent for {gap_s:.1} s"));
    }
    sensor_flags(pass, &mut flags);
    quality_flag(pass, &mut flags);
    flags
}

/// Samples between the marks.
fn samples(pass: &Prepared<'_>) -> Vec<CountSample> {
    let us = |s: f64| pass.origin_us.saturating_add((s.max(0.0) * 1e6) as u64);
    let (from_us, to_us) = (us(pass.start.start_s()), us(pass.finish.finish_s()));
    let counts = &pass.window.counts;
    let from = counts.partition_point(|sample| sample.board_us < from_us).saturating_sub(1);
    let to = counts.partition_point(|sample| sample.board_us <= to_us);
    // In an imported table times may go back, and the places found need not be in order.
    counts.from(from).take((to + 1).saturating_sub(from)).collect()
}

/// Usual and longest time from one sample of the counts to the next, seconds.
fn steps_s(pass: &Prepared<'_>) -> (f64, f64) {
    let mut steps_us: Vec<u64> =
        samples(pass).windows(2).map(|w| w[1].board_us.saturating_sub(w[0].board_us)).collect();
    steps_us.sort_unstable();
    let seconds = |us: Option<&u64>| us.map_or(0.0, |us| *us as f64 * 1e-6);
    (seconds(steps_us.get(steps_us.len() / 2)), seconds(steps_us.last()))
}

fn sensor_flags(pass: &Prepared<'_>, flags: &mut Vec<Flag>) {
    let number = pass.window.number;
    let samples = samples(pass);
    let (Some(first), Some(last)) = (samples.first(), samples.last()) else { return };
    for channel in Channel::ALL {
        let i = channel.index();
        let counted = last.impulses[i].saturating_sub(first.impulses[i]) as f64;
        let rejected = f64::from(last.rejected[i].saturating_sub(first.rejected[i]));
        if rejected > NOISY_SHARE * counted && rejected > 1.0 {
            let what = format!("{rejected} edges were refused as bounce, {counted} counted");
            flags.push(Flag::pass(Code::NoisyInput, number, what).on(channel.name()));
        }
    }
    pulse_flags(pass, flags);
    if last.overruns > first.overruns {
        let times = last.overruns - first.overruns;
        let what = format!("edges came too fast for the board {times} times");
        flags.push(Flag::pass(Code::RateLimit, number, what));
    }
}

fn pulse_flags(pass: &Prepared<'_>, flags: &mut Vec<Flag>) {
    let number = pass.window.number;
    let (from_s, to_s) = (pass.start.start_s(), pass.finish.finish_s());
    for channel in [Channel::Wheel, Channel::Radar] {
        let curve = &pass.curves[channel.index()];
        let Some(found) = pulses::judge(curve, from_s, to_s) else { continue };
        for (code, count, word) in [
            (Code::MissingPulses, found.missing, "missing"),
            (Code::ExtraPulses, found.extra, "too many"),
        ] {
            let share = count / found.judged.max(1.0);
            if count >= 3.0 && share > FAULTY_SHARE {
                let what = format!("about {count:.0} impulses are {word} ({:.2} %)", 100.0 * share);
                flags.push(Flag::pass(code, number, what).on(channel.name()));
            }
        }
    }
}

fn quality_flag(pass: &Prepared<'_>, flags: &mut Vec<Flag>) {
    let (from_s, to_s) = (pass.start.start_s(), pass.finish.finish_s());
    let during = pass.fixes.iter().filter(|f| (from_s..=to_s).contains(&f.tag_s));
    let mut seen: Vec<Quality> = Vec::new();
    for fix in during {
        if !seen.contains(&fix.fix.quality) {
            seen.push(fix.fix.quality);
        }
    }
    if seen.len() > 1 {
        let names: Vec<&str> = seen.iter().map(|q| quality_words(*q)).collect();
        let what = format!("fix quality changed: {}", names.join(", "));
        flags.push(Flag::pass(Code::FixQualityChanged, pass.window.number, what));
    }
}
