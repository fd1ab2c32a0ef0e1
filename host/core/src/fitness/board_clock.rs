//! How much the board's clock runs fast or slow against satellite time.
//!
//! With the receiver's pulse per second wired, its edges are stamped by the board's own clock and
//! the answer is exact within seconds. Without, both the board's reports and the receiver's
//! sentences are laid on the computer's clock by the bottom of their delays; what the two lines
//! differ by is the error of the board's clock, whatever the computer's does meanwhile.
//!
//! An impulse count does not care for the clock. It places the marks among the fixes, and speeds
//! and revolutions per minute are off by the same share.

use crate::capture::Arrival;
use crate::session::trail::{Spell, Trail};
use crate::timeline::envelope::Envelope;

/// More than this is no crystal, parts per million: crystals are within 100 ppm with their age and
/// the cold (common practice, no source), one made for a processor within 30; a ceramic resonator
/// is within 5000. In a pass of a minute and a half at walking pace 100 ppm move a mark by 1 cm
/// among the fixes, a tenth of a per mille of 100 m; and more than 300 ppm is not followed by the
/// timeline at all ([`crate::wire::gate::DRIFT_MAX`]).
pub const LIMIT_PPM: f64 = 100.0;
/// Pulses it takes, seconds from the first to the last.
const PULSES_MIN_S: f64 = 10.0;
/// An interval of pulses may be off a whole number of seconds by this share, else it is none.
const WHOLE_SHARE: f64 = 0.01;
/// Resolution of a time stamp, microseconds.
const STAMP_US: f64 = 1.0;
/// The bottom of the delays is missed by up to so many times its median height above the line.
const MISSED: f64 = 2.0;
/// Least height that is believed, seconds: how evenly a computer hands on what a line brings.
const HEIGHT_MIN_S: f64 = 0.5e-3;
/// The sum over ends and lines, microseconds in a second.
const PPM: f64 = 1e6;

crate::units::words! {
    /// By what the clock was seen.
    pub enum ClockBy {
        /// The receiver's pulse per second, wired to the board.
        Pulses = "pulses",
        /// The times in the receiver's sentences.
        Sentences = "sentences",
    }
}

/// The error of the board's clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockRate {
    /// Fast by so much, parts per million; negative: slow.
    pub ppm: f64,
    /// Half-width of its interval (95 %), parts per million.
    pub u95_ppm: f64,
    /// By what it was seen.
    pub by: ClockBy,
    /// For how long, seconds.
    pub span_s: f64,
}

impl ClockRate {
    /// Surely within the limit, surely beyond it, or not to be told yet.
    #[must_use]
    pub fn is_sound(&self) -> Option<bool> {
        if self.ppm.abs() + self.u95_ppm <= LIMIT_PPM {
            return Some(true);
        }
        (self.ppm.abs() - self.u95_ppm > LIMIT_PPM).then_some(false)
    }
}

/// The rate of the board's clock, as well as the trail shows it; `None` where there was too little.
#[must_use]
pub fn rate(trail: &Trail) -> Option<ClockRate> {
    by_pulses(trail).or_else(|| {
        // Arrival times that were put together at import show nothing of any clock.
        let measured = trail.arrival == Arrival::Measured;
        let seen = trail.spells.iter().filter(|_| measured).filter_map(by_sentences);
        seen.min_by(|a, b| a.u95_ppm.total_cmp(&b.u95_ppm))
    })
}

/// The longest run of pulses without a hole or a restart.
fn by_pulses(trail: &Trail) -> Option<ClockRate> {
    // Seconds since the first pulse of a run, by the board and by the receiver.
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut last: Option<(u32, u64)> = None;
    for (_, edge) in &trail.pulses {
        let (boot, at_us) = (edge.stamp.boot_id.0, edge.stamp.board_us.0);
        let step = last.replace((boot, at_us)).and_then(|(before, from_us)| {
            let apart_s = at_us.checked_sub(from_us)? as f64 * 1e-6;
            let whole_s = apart_s.round();
            let is_whole = whole_s >= 1.0 && (apart_s - whole_s).abs() <= WHOLE_SHARE * whole_s;
            (before == boot && is_whole).then_some((apart_s, whole_s))
        });
        let end = runs.last().and_then(|run| run.last()).copied();
        match (step.zip(end), runs.last_mut()) {
            (Some(((apart_s, whole_s), (board_s, true_s))), Some(run)) => {
                run.push((board_s + apart_s, true_s + whole_s));
            }
            _ => runs.push(vec![(0.0, 0.0)]),
        }
    }
    let of = |run: &Vec<(f64, f64)>| run.last().map_or(0.0, |end| end.1);
    let run = runs.iter().max_by(|a, b| of(a).total_cmp(&of(b)))?;
    let &(board_s, span_s) = run.last().filter(|end| end.1 >= PULSES_MIN_S)?;
    let rate = board_s / span_s;
    let off_us = run.iter().map(|(board_s, true_s)| ((board_s - true_s * rate) * PPM).abs());
    let u95_ppm = MISSED * off_us.fold(STAMP_US, f64::max) / span_s;
    Some(ClockRate { ppm: (rate - 1.0) * PPM, u95_ppm, by: ClockBy::Pulses, span_s })
}

/// Reports and sentences of the same stretch of the computer's clock.
fn by_sentences(spell: &Spell) -> Option<ClockRate> {
    let (first, fix) = (spell.counts.first()?, spell.fixes.first()?);
    let (last, last_fix) = (spell.counts.last()?, spell.fixes.last()?);
    let common = first.host_ns.max(fix.host_ns)..=last.host_ns.min(last_fix.host_ns);
    let from_ns = *common.start();
    let host_s = |host_ns: u64| (host_ns - from_ns) as f64 * 1e-9;
    let (mut board, mut receiver) = (Envelope::default(), Envelope::default());
    for sample in spell.counts.iter().filter(|sample| common.contains(&sample.host_ns)) {
        let since_us = sample.board_us.saturating_sub(first.board_us);
        board.add(since_us as f64 * 1e-6, host_s(sample.host_ns));
    }
    for seen in spell.fixes.iter().filter(|seen| common.contains(&seen.host_ns)) {
        receiver.add((seen.utc_ns - fix.utc_ns) as f64 * 1e-9, host_s(seen.host_ns));
    }
    let (slow, span_s, height_s) = board.growth()?;
    let (receiver_slow, receiver_span_s, receiver_height_s) = receiver.growth()?;
    // Host seconds for one of the source: 1 + growth.
    let ppm = ((1.0 + receiver_slow) / (1.0 + slow) - 1.0) * PPM;
    let of = |height_s: f64, span_s: f64| MISSED * height_s.max(HEIGHT_MIN_S) / span_s * PPM;
    let u95_ppm = of(height_s, span_s).hypot(of(receiver_height_s, receiver_span_s));
    Some(ClockRate { ppm, u95_ppm, by: ClockBy::Sentences, span_s: span_s.min(receiver_span_s) })
}
