//! A window on one clock: count curves, timed fixes, how the tractor stood at the marks.

use super::rest::{Stance, stance};
use super::spikes::without_spikes;
use crate::flags::{Code, Flag};
use crate::geodesy::inverse;
use crate::session::marks::MarkTime;
use crate::session::window::{IncidentKind, MarkPoint, PassWindow, WindowClock};
use crate::timeline::counts::CountCurve;
use crate::timeline::lag::SpeedSpan;
use crate::timeline::timed_fix::TaggedFix;
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;

/// Left out after coming to rest, seconds: the frame still rocks, the receiver still settles.
pub const SETTLE_S: f64 = 1.0;
/// Pull of a tractor that moves off gently, m/s2; common practice, no source.
const CREEP_M_S2: f64 = 0.2;
/// Least and most time within a standstill in which it may creep unseen, seconds.
const CREEP_S: f64 = 0.3;
const CREEP_MAX_S: f64 = 4.0;

/// A pass ready to be measured. All times are board seconds since the window's first sample.
#[derive(Clone, Debug)]
pub struct Prepared<'a> {
    /// Where it came from.
    pub window: &'a PassWindow,
    /// Board time of second 0, microseconds.
    pub origin_us: u64,
    /// Running counts of each channel.
    pub curves: [CountCurve; CHANNELS],
    /// The channel that shows motion: wheel, or radar where there is no wheel sensor.
    pub motion: Channel,
    /// Fixes, rising in time.
    pub fixes: Vec<TaggedFix>,
    /// At the start mark.
    pub start: Stance,
    /// At the finish mark.
    pub finish: Stance,
    /// Metres from one impulse of the channel of motion to the next, about; 0 where unknown.
    pub spacing_m: f64,
    /// Seconds for which positions go on after the tractor has come to rest.
    pub settle_s: f64,
    /// What they go on by even after that, metres.
    pub unsettled_m: f64,
}

impl Prepared<'_> {
    /// Running counts of the channel that shows motion.
    #[must_use]
    pub fn motion_curve(&self) -> &CountCurve {
        &self.curves[self.motion.index()]
    }

    /// How long the tractor may creep within a standstill before the channel of motion shows it,
    /// seconds: the time for one impulse from rest.
    #[must_use]
    pub fn creep_s(&self) -> f64 {
        (2.0 * self.spacing_m / CREEP_M_S2).sqrt().clamp(CREEP_S, CREEP_MAX_S)
    }

    /// True where the receiver's positions run on after a stop, because it smooths them.
    #[must_use]
    pub fn is_smoothed(&self) -> bool {
        self.settle_s > SETTLE_S
    }

    /// The two speeds of this pass, for matching.
    #[must_use]
    pub fn speed_span(&self) -> SpeedSpan<'_> {
        let speeds = self.fixes.iter().filter_map(|f| Some((f.tag_s, f.fix.speed_m_s?))).collect();
        SpeedSpan { curve: self.motion_curve(), speeds }
    }
}

/// Bring a window on one clock, or state why it cannot be used at all.
///
/// # Errors
/// The flags that refuse the pass.
pub fn prepare(window: &PassWindow) -> Result<Prepared<'_>, Vec<Flag>> {
    let refusals = refusals(window);
    if !refusals.is_empty() {
        return Err(refusals);
    }
    let unknown = |what: &str| vec![Flag::pass(Code::CountUnknown, window.number, what)];
    let Some(first) = window.counts.first() else {
        return Err(unknown("the board sent no count near this pass"));
    };
    let origin_us = first.board_us;
    let curves = [0, 1, 2].map(|channel| CountCurve::of(window.counts.iter(), channel, origin_us));
    let moved = |c: Channel| curves[c.index()].knots().len() > 10;
    let Some(motion) = [Channel::Wheel, Channel::Radar].into_iter().find(|&c| moved(c)) else {
        let what = "neither wheel nor radar gave impulses";
        return Err(vec![Flag::pass(Code::NoImpulses, window.number, what)]);
    };
    let Some(finish) = window.finish else {
        return Err(unknown("no finish"));
    };
    let start_s = mark_s(window, &window.start, origin_us);
    let finish_s = mark_s(window, &finish, origin_us);
    let (Some(start_s), Some(finish_s)) = (start_s, finish_s) else {
        return Err(unknown("the marks cannot be placed on the board's clock"));
    };
    let curve = &curves[motion.index()];
    let known = curve.span_s().unwrap_or((0.0, 0.0));
    if start_s < known.0 - 1.0 || finish_s > known.1 + 1.0 || finish_s <= start_s {
        return Err(unknown("no counts were received at one of the marks"));
    }
    let start = stance(curve, start_s);
    let finish = stance(curve, finish_s);
    if finish.finish_s() <= start.start_s() {
        let what = "the tractor did not move between start and finish";
        return Err(vec![Flag::pass(Code::NoImpulses, window.number, what)]);
    }
    let fixes = window
        .clock
        .map_or_else(Vec::new, |clock| without_spikes(tagged(window, &clock, origin_us)));
    let spacing_m = spacing_m(curve, &fixes, start, finish).unwrap_or(0.0);
    Ok(Prepared {
        window,
        origin_us,
        curves,
        motion,
        fixes,
        start,
        finish,
        spacing_m,
        settle_s: SETTLE_S,
        unsettled_m: 0.0,
    })
}

/// Straight distance over impulses: good to some per cent.
fn spacing_m(
    curve: &CountCurve,
    fixes: &[TaggedFix],
    start: Stance,
    finish: Stance,
) -> Option<f64> {
    let near = |at_s: f64| {
        let after = fixes.partition_point(|f| f.tag_s < at_s).min(fixes.len().checked_sub(1)?);
        let fix = fixes[after].fix;
        Some((fix.lat_deg, fix.lon_deg))
    };
    let apart_m = inverse(near(start.start_s())?, near(finish.finish_s())?).length_m;
    let impulses = curve.at(finish.finish_s())? - curve.at(start.start_s())?;
    (impulses > 0.0).then(|| apart_m / impulses)
}

fn tagged(window: &PassWindow, clock: &WindowClock, origin_us: u64) -> Vec<TaggedFix> {
    window.fixes.iter().map(|fix| clock.tag(fix, origin_us)).collect()
}

fn mark_s(window: &PassWindow, mark: &MarkPoint, origin_us: u64) -> Option<f64> {
    match mark.time {
        MarkTime::Board { board_us } => Some((board_us as f64 - origin_us as f64) * 1e-6),
        MarkTime::Host => {
            let board_s = window.board_clock?.source_s(mark.host_ns as f64 * 1e-9);
            Some(board_s - origin_us as f64 * 1e-6)
        }
    }
}

fn refusals(window: &PassWindow) -> Vec<Flag> {
    let number = window.number;
    let mut flags = Vec::new();
    let mut report = |code: Code, what: &str| flags.push(Flag::pass(code, number, what));
    if let Some(reason) = &window.rejected {
        let code = if window.finish.is_none() { Code::Unfinished } else { Code::Rejected };
        report(code, reason);
    } else if window.finish.is_none() && !is_cut(window) {
        report(Code::Unfinished, "no finish was marked");
    }
    if window.too_long {
        report(Code::PassTooLong, "it lasted longer than a quarter of an hour");
    }
    for incident in between_marks(window) {
        match incident {
            IncidentKind::BoardReset => {
                report(Code::BoardReset, "the board restarted between the marks");
            }
            IncidentKind::CountWentBack => {
                report(Code::CountWentBack, "a count went down between the marks");
            }
            IncidentKind::Slept(seconds) => {
                let what = format!("the computer slept for {seconds:.0} s between the marks");
                report(Code::ComputerSlept, &what);
            }
            _ => {}
        }
    }
    flags.dedup_by_key(|flag| flag.code);
    flags
}

/// It ended with a restart of the board.
fn is_cut(window: &PassWindow) -> bool {
    between_marks(window).any(|kind| kind == IncidentKind::BoardReset)
}

/// What happened from the start mark to the finish mark, by host time.
pub fn between_marks(window: &PassWindow) -> impl Iterator<Item = IncidentKind> + '_ {
    let from_ns = window.start.host_ns;
    let to_ns = window.finish.map_or(u64::MAX, |mark| mark.host_ns);
    window.incidents.iter().filter(move |i| (from_ns..=to_ns).contains(&i.host_ns)).map(|i| i.kind)
}
