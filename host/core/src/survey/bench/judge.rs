//! The verdict on an input from all runs of the signal while it was asked for.

use super::finding::BenchFinding;
use super::impulses::{self, Shown};
use super::runs::{Asked, PHASE_COUNT, Run, SHOWN_US};
use super::{Input, Now, RunState, commands, latched};
use crate::session::trail::Trail;
use crate::survey::sensors::check::{CheckLine, Mark};
use trundle_counter::test_signal::{MARKS, PHASES, SLOW, starts_us};
use trundle_protocol::message::Outcome;
use trundle_protocol::units::Channel;

/// Why a run is not judged when reports are missing.
pub(super) const FRAMES_LOST: &str = "reports of the board were lost on the line";
/// So long an input is asked for before silence is its verdict, nanoseconds: a person with a wire
/// in the hand needs half of it.
const PATIENCE_NS: u64 = 45_000_000_000;
/// Runs with the first part incomplete until that is the verdict: the bridge is set in a moment,
/// and a person sets it but once.
const PARTIAL_MAX: usize = 3;
/// Runs spoilt by line or computer until the input is given up as not tested.
const SPOILT_MAX: usize = 6;

/// One run, judged as far as it went.
enum Ruling {
    State(RunState),
    Judged(Shown),
}

/// The line of an input.
pub(super) fn line(input: Input, asked: &[Asked<'_>]) -> CheckLine {
    let line = |mark, what: String| CheckLine::new(input.word(), input.title(), mark, what);
    // The last time it was asked for counts.
    let Some(asked) = asked.iter().rev().find(|asked| asked.input == input) else {
        return line(Mark::NotSeen, "not asked for".to_owned()).next("Run the check to its end.");
    };
    let rulings: Vec<Ruling> = asked.runs.iter().map(|run| rule(run, input)).collect();
    if let Some(shown) = rulings.iter().find_map(|ruling| match ruling {
        Ruling::Judged(shown) => Some(shown),
        Ruling::State(_) => None,
    }) {
        return of_run(input, shown);
    }
    let states: Vec<&RunState> = rulings
        .iter()
        .filter_map(|ruling| match ruling {
            Ruling::State(state) => Some(state),
            Ruling::Judged(_) => None,
        })
        .collect();
    of_states(input, &states, asked.to_ns - asked.from_ns)
}

fn of_run(input: Input, shown: &Shown) -> CheckLine {
    let line = |mark, what: String| CheckLine::new(input.word(), input.title(), mark, what);
    if shown.findings.is_empty() {
        return line(Mark::Pass, shown.words.clone()).numbers(shown.numbers.clone());
    }
    failed(input, &shown.findings)
}

fn failed(input: Input, findings: &[BenchFinding]) -> CheckLine {
    let what: Vec<String> = findings.iter().map(BenchFinding::what).collect();
    let mut next: Vec<&str> = findings.iter().map(BenchFinding::next).collect();
    next.dedup();
    let numbers = findings.iter().flat_map(BenchFinding::numbers).collect();
    CheckLine::new(input.word(), input.title(), Mark::Fail, what.join("; "))
        .next(next.join(" "))
        .numbers(numbers)
}

/// No run could be judged whole: what that shows after so long, nanoseconds.
fn of_states(input: Input, states: &[&RunState], for_ns: u64) -> CheckLine {
    let unseen = |what: &str, next: &str| {
        CheckLine::new(input.word(), input.title(), Mark::NotSeen, what).next(next)
    };
    let partial: Vec<u64> = states
        .iter()
        .filter_map(|state| if let RunState::Partial(n) = state { Some(*n) } else { None })
        .collect();
    if let (Some(&counted), true) = (partial.last(), partial.len() >= PARTIAL_MAX) {
        let phase = PHASES[SLOW];
        return failed(input, &[BenchFinding::Counts { phase, counted, refused: 0 }]);
    }
    let spoilt: Vec<&str> = states
        .iter()
        .filter_map(|state| if let RunState::Spoilt(why) = state { Some(*why) } else { None })
        .collect();
    let last = states.iter().rev().find(|state| ***state != RunState::Going);
    match last {
        Some(RunState::Silent) if for_ns >= PATIENCE_NS => failed(input, &[BenchFinding::Silent]),
        Some(RunState::Elsewhere(others)) if for_ns >= PATIENCE_NS => {
            failed(input, &[BenchFinding::Elsewhere(others.clone())])
        }
        _ => match spoilt.last() {
            Some(why) => unseen(
                why,
                "Close other programs, use a short USB cable without a hub, and check again.",
            ),
            None => unseen("not bridged for long enough", "Leave the bridge until it is judged."),
        },
    }
}

/// What the input that was asked for last shows now.
pub(super) fn now(asked: &Asked<'_>) -> Now {
    let run = asked.runs.last();
    let state = run.map_or(RunState::Going, |run| match rule(run, asked.input) {
        Ruling::State(state) => state,
        Ruling::Judged(shown) => RunState::Judged(shown.findings.len()),
    });
    let run_from_us = run.map(|run| run.from_us);
    Now { input: asked.input, run_from_us, state, given_up: given_up(asked) }
}

/// Nothing more can come of this input: it was spoilt too often.
fn given_up(asked: &Asked<'_>) -> bool {
    let spoilt =
        |run: &&Run<'_>| matches!(rule(run, asked.input), Ruling::State(RunState::Spoilt(_)));
    asked.runs.iter().filter(spoilt).count() >= SPOILT_MAX
}

fn rule(run: &Run<'_>, input: Input) -> Ruling {
    let shown_us = run.from_us + starts_us(SLOW) + SHOWN_US;
    if run.seen_us < shown_us {
        return Ruling::State(RunState::Going);
    }
    let others = others(run, input);
    let over = run.seen_us >= run.boundary_us(PHASE_COUNT);
    let here = match (input.channel(), input.marks()) {
        (Some(channel), _) => run.so_far(channel) > 0,
        (_, Some(source)) => run.marks.iter().any(|mark| mark.source == source),
        // Reports follow the level only in the last part, a second into it.
        _ if over => run.level_changes() > 0,
        _ => return Ruling::State(elsewhere_or(others, RunState::Going)),
    };
    if !here {
        return Ruling::State(elsewhere_or(others, RunState::Silent));
    }
    if let Some(channel) = input.channel()
        && let Some((counted, _)) = run.rise(SLOW, channel)
        && counted != u64::from(PHASES[SLOW].impulses)
    {
        return Ruling::State(RunState::Partial(counted));
    }
    if !over {
        return Ruling::State(RunState::Present);
    }
    let shown = match (input.channel(), input.marks()) {
        (Some(channel), _) => impulses::judge(run, channel),
        (_, Some(source)) => latched::marks(run, source),
        _ => latched::level(run),
    };
    match shown {
        Err(why) => Ruling::State(RunState::Spoilt(why)),
        Ok(mut shown) => {
            if !others.is_empty() {
                shown.findings.push(BenchFinding::Also(others));
            }
            if let Some(times) = overruns(run).filter(|_| input.channel().is_some()) {
                shown.findings.push(BenchFinding::Overruns(times));
            }
            Ruling::Judged(shown)
        }
    }
}

fn elsewhere_or(others: Vec<Input>, state: RunState) -> RunState {
    if others.is_empty() { state } else { RunState::Elsewhere(others) }
}

/// Inputs other than this one on which anything came.
fn others(run: &Run<'_>, input: Input) -> Vec<Input> {
    let came = |other: &Input| match (other.channel(), other.marks()) {
        (Some(channel), _) => run.so_far(channel) > 0,
        (_, Some(source)) => run.marks.iter().any(|mark| mark.source == source),
        _ => run.seen_us >= run.boundary_us(MARKS) && run.level_changes() > 0,
    };
    Input::ALL.into_iter().filter(|other| *other != input).filter(came).collect()
}

fn overruns(run: &Run<'_>) -> Option<u32> {
    let (first, last) = (run.before(0)?, run.before(PHASE_COUNT)?);
    let times = last.overruns.wrapping_sub(first.overruns);
    (times > 0).then_some(times)
}

/// Are the input filters as they were before?
pub(super) fn filters(trail: &Trail) -> CheckLine {
    let line = |mark, what: &str| CheckLine::new("filters", "input filters", mark, what);
    let groups = [commands::FILTER_OFF, commands::FILTER_ON, commands::FILTER_BACK];
    let last = |channel: Channel| {
        let place = channel.index() as u8;
        let of_channel = trail.replies.iter().rev().find(|(_, reply)| {
            let ours = groups.iter().any(|group| group + place == reply.request);
            ours && reply.outcome == Outcome::Done
        });
        of_channel.map(|(_, reply)| reply.request - place)
    };
    let states: Vec<(Channel, u8)> =
        Channel::ALL.into_iter().filter_map(|channel| Some((channel, last(channel)?))).collect();
    if states.is_empty() {
        return line(Mark::NotSeen, "not touched").optional();
    }
    let left: Vec<&str> = states
        .iter()
        .filter(|(_, group)| *group != commands::FILTER_BACK)
        .map(|(channel, _)| channel.name())
        .collect();
    if left.is_empty() {
        return line(Mark::Pass, "set back to what they were before the check");
    }
    // No fault of the board: the check was broken off.
    let what = format!("whether they were set back on {} is not known", left.join(" and "));
    line(Mark::NotSeen, &what)
        .next("Unplug the board and plug it in again: it then starts with its own filters.")
}
