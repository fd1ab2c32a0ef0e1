//! Flags of a job as a whole: the lines, the capture, the receiver's delay and its filter.

use super::job::{Job, WorkOptions};
use crate::flags::{Code, Flag};
use crate::passes::pass::MeasuredPass;
use crate::passes::prepare::SETTLE_S;
use crate::passes::settle::Settling;
use crate::timeline::lag::{Lag, LagRefusal};
use crate::timeline::receiver_clock::step_words;

/// A delay above this is reported, seconds.
const LARGE_LAG_S: f64 = 0.25;
/// Lost frames above this share make the line noisy.
const NOISY_LINE: f64 = 0.01;

/// What is said of the capture and the job as a whole.
pub(super) fn job_flags(
    job: &Job<'_>,
    options: &WorkOptions,
    measured: &[MeasuredPass],
) -> Vec<Flag> {
    let totals = job.totals;
    let mut flags = Vec::new();
    let mut report = |code: Code, what: String| flags.push(Flag::job(code, what));
    if options.course.is_none() {
        report(Code::NoCourse, "no course was given".to_owned());
    }
    if measured.iter().all(MeasuredPass::refused) {
        let what = match job.passes.len() {
            0 => "no pass was recorded".to_owned(),
            1 => "the one pass that was recorded cannot be used".to_owned(),
            n => format!("of {n} passes none can be used"),
        };
        report(Code::NoPass, what);
    }
    let due = totals.board.frames + totals.board.lost;
    let share = totals.board.lost as f64 / due.max(1) as f64;
    if share > NOISY_LINE {
        report(Code::LinkNoisy, format!("{:.1} % of the board's frames were lost", 100.0 * share));
    }
    if totals.receiver_steps > 0 {
        let words = step_words(totals.receiver_step_s);
        let often = match totals.receiver_steps {
            1 => String::new(),
            n => format!("{n} times, the last time "),
        };
        let what = format!("the receiver's clock was set {often}{words}");
        report(Code::ReceiverClockStep, what);
    }
    if let Some(clock) = totals.receiver.clock {
        report(Code::ClocksDiffer, clock.to_string());
    }
    if totals.damaged_bytes > 0 {
        let what = format!("{} bytes of the capture are damaged", totals.damaged_bytes);
        report(Code::CaptureDamaged, what);
    }
    if !job.whole {
        report(Code::CaptureCut, "the capture ends without its end record".to_owned());
    }
    if totals.receiver.is_entangled() {
        let share = 100.0 * totals.receiver.entangled();
        let what = format!("{share:.0} sentences in 100 moments came twice or out of their time");
        report(Code::TwoReceivers, what);
    }
    for (count, code, what) in [
        (u64::from(totals.lost_marks), Code::MarkLost, "presses of the button never arrived"),
        (u64::from(totals.passes_overflow), Code::TooManyPasses, "passes found no room"),
        (totals.bad_import_lines, Code::BadImportLine, "lines of the tables could not be used"),
    ] {
        if count > 0 {
            report(code, format!("{count} {what}"));
        }
    }
    flags
}

/// What is said of the receiver's delay.
pub(super) fn lag_flags(
    seen: &Result<Lag, LagRefusal>,
    measured: &[MeasuredPass],
    flags: &mut Vec<Flag>,
) {
    if let Ok(lag) = seen
        && lag.lag_s > LARGE_LAG_S
    {
        let what = format!("the receiver has a delay of {:.0} ms", 1000.0 * lag.lag_s);
        flags.push(Flag::job(Code::LargeLag, what));
    }
    let rolling = measured.iter().any(|pass| !pass.standing && pass.ends.is_some());
    let Some(refusal) = seen.as_ref().err().filter(|_| rolling) else { return };
    let what = match refusal {
        LagRefusal::TooFew { points } => {
            format!("only {points} satellite speeds can be held against the counts")
        }
        LagRefusal::NoAcceleration { .. } => "the speed hardly changed".to_owned(),
        LagRefusal::OutOfRange => "the two speeds match nowhere within the search".to_owned(),
    };
    flags.push(Flag::job(Code::LagUnknown, what));
}

/// A receiver that shows the tractor rolling on after its stops.
pub(super) fn smoothed(settling: &Settling) -> Option<Flag> {
    (settling.settle_s > SETTLE_S).then(|| {
        let seconds = settling.settle_s;
        let what =
            format!("the receiver's positions go on for about {seconds:.0} s after each stop");
        Flag::job(Code::Smoothed, what)
    })
}
