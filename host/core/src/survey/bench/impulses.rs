//! One whole run on an impulse input: counts, time stamps, input filter.

use super::commands;
use super::finding::BenchFinding;
use super::runs::Run;
use crate::survey::sensors::trains::assemble;
use trundle_counter::test_signal::{BOUNCE, FAST, FASTEST, PHASES, SLOW, starts_us};
use trundle_protocol::message::{EdgeTrain, Outcome};
use trundle_protocol::units::Channel;

/// Time stamps of an even signal may wander by so much, microseconds. What a pass needs is far less
/// (2 us at 10 m/s are 0.02 mm); what wanders more is no clean edge.
pub(super) const TIMES_US: u64 = 2;
/// Fewest intervals by which time stamps are judged, in the slow and in the fastest part.
const INTERVALS_MIN: [usize; 2] = [100, 16];
/// A part of the signal may begin so late, microseconds: a board changes over in software.
const LATE_US: u64 = 300_000;

/// What a run showed: findings, or why it cannot be judged; and the numbers.
pub(super) struct Shown {
    pub findings: Vec<BenchFinding>,
    pub words: String,
    pub numbers: Vec<(&'static str, f64)>,
}

/// Judge a run that was seen to its end.
pub(super) fn judge(run: &Run<'_>, channel: Channel) -> Result<Shown, &'static str> {
    let mut findings = Vec::new();
    let mut sum = 0;
    for phase in [SLOW, FAST, FASTEST] {
        let (counted, refused) = run.rise(phase, channel).ok_or(super::judge::FRAMES_LOST)?;
        sum += counted;
        if counted != u64::from(PHASES[phase].impulses) || refused != 0 {
            findings.push(BenchFinding::Counts { phase: PHASES[phase], counted, refused });
        }
    }
    filter_was_off(run, channel)?;
    filter_came_in_time(run, channel)?;
    let (counted, refused) = run.rise(BOUNCE, channel).ok_or(super::judge::FRAMES_LOST)?;
    let bounce = &PHASES[BOUNCE];
    let given = u64::from(bounce.impulses);
    let bounces = u64::from(bounce.falls()) - given;
    if (counted, refused) != (given, bounces) {
        findings.push(BenchFinding::Filter { counted, refused, given, bounces });
    }
    let mut numbers = vec![
        ("impulses", sum as f64),
        ("filter_counted", counted as f64),
        ("filter_refused", refused as f64),
    ];
    let spread = match spread_us(run, channel) {
        Ok(spread_us) => Some(spread_us),
        // With impulses missing, edge times show nothing more.
        Err(_) if !findings.is_empty() => None,
        Err(why) => return Err(why),
    };
    if let Some(spread_us) = spread {
        numbers.push(("times_spread_us", spread_us as f64));
        if spread_us > TIMES_US && findings.is_empty() {
            findings.push(BenchFinding::Times { spread_us });
        }
    }
    let words = format!(
        "{sum} impulses exact at 500 Hz, 5 kHz and 20 kHz, time stamps within {} us, filter acts \
         ({counted} counted, {refused} bounces refused)",
        spread.unwrap_or(0).max(1)
    );
    Ok(Shown { findings, words, numbers })
}

/// The answer last given to a command for this input's filter, at a board time.
fn filter_at(run: &Run<'_>, channel: Channel, at_us: u64) -> Option<u8> {
    let place = channel.index() as u8;
    let groups = [commands::FILTER_OFF, commands::FILTER_ON, commands::FILTER_BACK];
    let of_filter = run.replies.iter().rev().find(|reply| {
        let ours = groups.iter().any(|group| group + place == reply.request);
        ours && reply.stamp.board_us.0 <= at_us && reply.outcome == Outcome::Done
    });
    of_filter.map(|reply| reply.request - place)
}

fn filter_was_off(run: &Run<'_>, channel: Channel) -> Result<(), &'static str> {
    let start_us = run.from_us + starts_us(SLOW);
    let end_us = run.from_us + starts_us(FASTEST) + PHASES[FASTEST].length_us();
    let off = |at_us| filter_at(run, channel, at_us) == Some(commands::FILTER_OFF);
    if off(start_us) && off(end_us) { Ok(()) } else { Err("the input filter was not switched off") }
}

fn filter_came_in_time(run: &Run<'_>, channel: Channel) -> Result<(), &'static str> {
    let start_us = run.from_us + starts_us(BOUNCE);
    let end_us = start_us + PHASES[BOUNCE].length_us();
    let on = |at_us| filter_at(run, channel, at_us) == Some(commands::FILTER_ON);
    if on(start_us) && on(end_us) {
        return Ok(());
    }
    Err("the command for the input filter came too late; the computer or its line was too busy")
}

/// Latest time stamp against the earliest, each against the even signal, microseconds.
fn spread_us(run: &Run<'_>, channel: Channel) -> Result<u64, &'static str> {
    let asked = [(SLOW, commands::SLOW_TIMES), (FASTEST, commands::FASTEST_TIMES)];
    let mut widest = 0;
    for ((phase, request), least) in asked.into_iter().zip(INTERVALS_MIN) {
        let from_us = run.from_us + starts_us(phase);
        let within = from_us - 1_000..from_us + LATE_US + PHASES[phase].length_us();
        let parts: Vec<EdgeTrain> = run
            .trains
            .iter()
            .filter(|part| part.request == request && within.contains(&part.start_us.0))
            .map(|part| **part)
            .collect();
        let trains = assemble(&parts, channel);
        let intervals = trains.iter().max_by_key(|train| train.len());
        let Some(intervals) = intervals.filter(|intervals| intervals.len() >= least) else {
            return Err("the board's edge times did not arrive");
        };
        widest = widest.max(wander_us(intervals, PHASES[phase].period_us));
        if let Some(off_us) = last_off_us(run, channel, phase, &parts) {
            widest = widest.max(off_us);
        }
    }
    Ok(widest)
}

fn wander_us(intervals: &[u32], period_us: u32) -> u64 {
    let (mut off_us, mut least, mut most) = (0_i64, 0_i64, 0_i64);
    for interval in intervals {
        off_us += i64::from(*interval) - i64::from(period_us);
        (least, most) = (least.min(off_us), most.max(off_us));
    }
    (most - least).unsigned_abs()
}

/// How far the last edge of a phase is off its place after the first, microseconds; `None` where
/// the train did not begin with the first.
fn last_off_us(run: &Run<'_>, channel: Channel, phase: usize, parts: &[EdgeTrain]) -> Option<u64> {
    let it = &PHASES[phase];
    let first = parts.iter().find(|part| part.first.0 == 0)?.start_us.0;
    let last = run.before(phase + 1)?.last_edge_us[channel.index()]?;
    let due = first + u64::from(it.impulses - 1) * u64::from(it.period_us);
    // A train that was asked for too late begins with a later edge: a whole period or more.
    let off_us = last.abs_diff(due);
    (off_us < u64::from(it.period_us) / 2).then_some(off_us)
}
