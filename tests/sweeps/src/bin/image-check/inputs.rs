//! Every input of the board but its rate: marks with the counts of their instant, the pulse per
//! second, implement in work, supply, trains of edges; and that all their times fit together.

use crate::rig::{Rig, START, Subject};
use crate::stamps::Stamps;
use trundle_bench::Stimulus;
use trundle_protocol::message::{AskEdgeTrain, MarkSource, ToBoard, ToHost};
use trundle_protocol::units::{Channel, Fixed16};

/// How long all of it takes, seconds.
const SECONDS: u64 = 6;
/// Impulses of the three inputs, nanoseconds from one to the next: no common multiple soon.
const PERIODS_NS: [u64; 3] = [731_123, 1_913_377, 5_077_919];
/// One of each a second, this far into it, microseconds.
const BUTTON_US: u64 = 310_007;
const GATE_US: u64 = 640_211;
const PPS_US: u64 = 500_003;
const WORKING_US: u64 = 850_517;
/// Two steps of the converter at 12 V and its divider, and the divider's rounding, millivolts.
const SUPPLY_ERROR_MV: u16 = 30;
/// Furthest from the truth that an interval between two edges may be, microseconds.
const INTERVAL_US: f64 = 2.0;

/// What was played, and what came of it.
#[derive(Default)]
struct Seen {
    stamps: Stamps,
    marks: u64,
    seconds: u64,
    intervals: u64,
    wrong: Vec<String>,
}

/// The findings.
pub fn check(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut rig = Rig::connected(subject, &START)?;
    let from_us = rig.now_us;
    let mut seen = Seen::default();
    let mut changes = 0;
    for second in 0..SECONDS {
        let begin_us = from_us + 1_000_000 * second;
        let mut due = impulses(1_000 * (begin_us - from_us), 1_000_000_000);
        let in_work = second % 2 == 0;
        due.extend([
            (1_000 * BUTTON_US, Stimulus::Mark(MarkSource::Button)),
            (1_000 * GATE_US, Stimulus::Mark(MarkSource::Gate)),
            (1_000 * PPS_US, Stimulus::Pps),
            (1_000 * WORKING_US, Stimulus::Working(in_work)),
        ]);
        due.sort_by_key(|(at_ns, _)| *at_ns);
        due.into_iter().for_each(|(at_ns, it)| rig.play_ns(1_000 * begin_us + at_ns, it));
        changes += 1;
        let channel = Channel::ALL[second as usize % 3];
        let (request, intervals) = (second as u8, Fixed16(32));
        rig.ask(ToBoard::AskEdgeTrain(AskEdgeTrain { request, channel, intervals }));
        rig.run_to(begin_us + 1_000_000)?;
        hear(&mut rig, from_us, &mut seen);
    }
    rig.run(200_000)?;
    hear(&mut rig, from_us, &mut seen);
    let mut findings = judge(&rig, seen, changes);
    if rig.heard.broken > 0 {
        findings.push(format!("{} frames broken or out of order", rig.heard.broken));
    }
    Ok(findings)
}

/// The impulses of all inputs in a stretch of time, nanoseconds from its beginning.
fn impulses(from_ns: u64, span_ns: u64) -> Vec<(u64, Stimulus)> {
    let of = |(channel, period_ns): (Channel, u64)| {
        let first = from_ns.div_ceil(period_ns);
        let times = (first..).map(move |n| n * period_ns - from_ns);
        times.take_while(move |ns| *ns < span_ns).map(move |ns| (ns, Stimulus::Edge(channel)))
    };
    Channel::ALL.into_iter().zip(PERIODS_NS).flat_map(of).collect()
}

/// Time of the n-th impulse of a channel, from 1, nanoseconds since the rig's start.
fn impulse_ns(from_us: u64, channel: usize, number: u64) -> u64 {
    1_000 * from_us + (number - 1) * PERIODS_NS[channel]
}

fn hear(rig: &mut Rig, from_us: u64, seen: &mut Seen) {
    for message in std::mem::take(&mut rig.heard.said) {
        match message {
            ToHost::Counts(counts) => {
                for (n, channel) in counts.channels.iter().enumerate() {
                    if channel.impulses.0 > 0 {
                        let true_ns = impulse_ns(from_us, n, channel.impulses.0);
                        seen.stamps.add(true_ns, channel.last_edge_us.0);
                    }
                }
                let working = counts.working;
                if let Some(before) = u64::from(working.changes.0).checked_sub(1) {
                    let at_us = from_us + 1_000_000 * before + WORKING_US;
                    seen.stamps.add(1_000 * at_us, working.last_change_us.0);
                }
            }
            ToHost::Mark(mark) => {
                let second = seen.marks / 2;
                let (source, offset_us) = match seen.marks % 2 {
                    0 => (MarkSource::Button, BUTTON_US),
                    _ => (MarkSource::Gate, GATE_US),
                };
                seen.marks += 1;
                let at_ns = 1_000_000_000 * second + 1_000 * offset_us;
                seen.stamps.add(1_000 * from_us + at_ns, mark.stamp.board_us.0);
                // Impulse 1 comes at the very start.
                let truth = PERIODS_NS.map(|period_ns| at_ns / period_ns + 1);
                let counts = mark.impulses.map(|count| count.0);
                if mark.source != source
                    || counts != truth
                    || u64::from(mark.number.0) != seen.marks
                {
                    seen.wrong.push(format!("{mark:?} is not {source:?} with {truth:?}"));
                }
            }
            ToHost::PpsEdge(edge) => {
                let at_us = from_us + 1_000_000 * seen.seconds + PPS_US;
                seen.stamps.add(1_000 * at_us, edge.stamp.board_us.0);
                seen.seconds += 1;
                if u64::from(edge.number.0) != seen.seconds {
                    seen.wrong.push(format!("{edge:?} is not number {}", seen.seconds));
                }
            }
            ToHost::EdgeTrain(train) => {
                let period_us = PERIODS_NS[train.channel.index()] as f64 / 1e3;
                let used = train.intervals_us.iter().take(train.used.into());
                for interval in used {
                    seen.intervals += 1;
                    if (f64::from(interval.0) - period_us).abs() > INTERVAL_US {
                        seen.wrong.push(format!("an interval of {} us, {period_us}", interval.0));
                    }
                }
            }
            _ => {}
        }
    }
}

fn judge(rig: &Rig, seen: Seen, changes: u32) -> Vec<String> {
    let Seen { stamps, marks, seconds, intervals, wrong } = seen;
    println!(
        "inputs in {SECONDS} s: {marks} marks, {seconds} seconds, {changes} changes, {intervals} \
         intervals; {} time stamps, {} us apart in their errors",
        stamps.count,
        stamps.words(),
    );
    let mut out = wrong;
    out.extend(stamps.judge());
    if marks != 2 * SECONDS || seconds != SECONDS || intervals < 32 {
        out.push(format!("{marks} marks, {seconds} seconds, {intervals} intervals came"));
    }
    let span_ns = 1_000_000_000 * SECONDS;
    let truth = PERIODS_NS.map(|period_ns| (span_ns - 1) / period_ns + 1);
    if rig.heard.impulses() != truth {
        out.push(format!("{:?} counted of {truth:?}", rig.heard.impulses()));
    }
    let working = rig.heard.counts.map(|counts| counts.working.changes.0);
    if working != Some(changes) {
        out.push(format!("{working:?} changes of the implement, {changes} were"));
    }
    let supply_mv = rig.heard.supply_mv;
    println!("supply {supply_mv:?} of {} mV", START.supply_mv);
    if supply_mv.is_none_or(|mv| mv.abs_diff(START.supply_mv) > SUPPLY_ERROR_MV) {
        out.push(format!("a supply of {supply_mv:?}, not of {} mV", START.supply_mv));
    }
    out
}
