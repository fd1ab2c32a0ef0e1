//! Edges as fast as can be: none lost up to the rates that are promised, and beyond them never
//! a count that is short in silence. The time of each last edge must be right as well.

use crate::rig::{Rig, START, Subject};
use crate::stamps::Stamps;
use trundle_bench::{Account, Start, Stimulus};
use trundle_protocol::message::{AskEdgeTrain, Counts, HelloRequest, ToBoard, ToHost};
use trundle_protocol::units::{Channel, Fixed16, Fixed32};

/// Time that goes out to the image at once, microseconds.
const PART_US: u64 = 20_000;
/// Rest after the last edge, so that a report tells of it, microseconds.
const REST_US: u64 = 100_000;
/// The host asks this often, microseconds.
const ASKING_US: u64 = 100_000;

/// What is to come of a run.
#[derive(Clone, Copy, PartialEq)]
enum Wanted {
    /// Every edge counts and nothing is flagged.
    Whole,
    /// Every edge counts, or the board says that it missed some.
    Honest,
    /// Too fast for this processor: the board says so.
    Flagged,
}

struct Run {
    name: &'static str,
    /// Edges a second: wheel, radar, PTO; all three begin together.
    hz: [u64; 3],
    millis: u64,
    /// The host asks for something ten times a second.
    asked: bool,
    wanted: Wanted,
}

/// The promised rates, with a little more, so that no edge falls together with a microsecond.
const RUNS: [Run; 11] = [
    run("one at 20 kHz", [20_011, 0, 0], 2_000, false, Wanted::Whole),
    run("all at 5 kHz", [5_003, 5_009, 5_021], 2_000, false, Wanted::Whole),
    run("one at 20 kHz, host asking", [20_011, 0, 0], 1_000, true, Wanted::Whole),
    run("all at 5 kHz, host asking", [5_003; 3], 1_000, true, Wanted::Whole),
    run("one at 50 kHz", [50_000, 0, 0], 500, false, Wanted::Honest),
    run("all at 20 kHz", [20_000; 3], 500, false, Wanted::Honest),
    run("one at 125 kHz", [125_000, 0, 0], 500, false, Wanted::Honest),
    run("one at 240 kHz", [240_000, 0, 0], 200, false, Wanted::Honest),
    run("one at 430 kHz", [430_000, 0, 0], 200, false, Wanted::Honest),
    run("one at 970 kHz", [970_000, 0, 0], 200, false, Wanted::Honest),
    run("all at 500 kHz", [500_000; 3], 100, false, Wanted::Flagged),
];

const fn run(name: &'static str, hz: [u64; 3], millis: u64, asked: bool, wanted: Wanted) -> Run {
    Run { name, hz, millis, asked, wanted }
}

/// What came of a run.
struct Outcome {
    sent: [u64; 3],
    last: Counts,
    account: Account,
    frames: u64,
    /// Frames damaged or out of sequence.
    broken: u64,
    stamps: Stamps,
    /// Reports for which there was no room while the host listened.
    dropped: u32,
    /// Reports that lack an edge that is older than they are.
    behind: u64,
    /// All that the host would have read.
    bytes: Vec<u8>,
}

/// All runs; the findings.
pub fn check(subject: Subject<'_>) -> Result<Vec<String>, String> {
    println!(
        "{:27} {:>8} {:>8} {:>7} {:>5} {:>6} {:>7} {:>9} {:>5} {:>6}",
        "edges",
        "sent",
        "counted",
        "flagged",
        "busy",
        "queue",
        "late us",
        "stamps us",
        "stack",
        "wall s",
    );
    let mut findings = Vec::new();
    for run in &RUNS {
        findings.extend(told(subject, run, &START)?);
    }
    findings.extend(repeated(subject)?);
    findings.extend(bad_wire(subject)?);
    Ok(findings)
}

/// The rates that are promised, a second of each.
pub fn short(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut findings = Vec::new();
    for run in RUNS.iter().take(4) {
        let run = Run { millis: 500, ..*run };
        findings.extend(told(subject, &run, &START)?);
    }
    Ok(findings)
}

fn told(subject: Subject<'_>, run: &Run, start: &Start) -> Result<Vec<String>, String> {
    let began = std::time::Instant::now();
    let outcome = drive(subject, run, start).map_err(|error| format!("{}: {error}", run.name))?;
    let counted = outcome.last.channels.map(|channel| channel.impulses.0);
    let (sent, got) = (outcome.sent.iter().sum::<u64>(), counted.iter().sum::<u64>());
    let Account { stack_bytes, queue_most, late_ns, .. } = outcome.account;
    let (flagged, busy) = (outcome.last.overruns.0, 100.0 * outcome.account.busy_share());
    let wall_s = began.elapsed().as_secs_f64();
    let (late_us, stamps) = (late_ns as f64 / 1e3, outcome.stamps.words());
    println!(
        "{:27} {sent:8} {got:8} {flagged:7} {busy:4.0}% {queue_most:6} {late_us:7.2} \
         {stamps:>9} {stack_bytes:5} {wall_s:6.1}",
        run.name,
    );
    Ok(judge(run, &outcome).into_iter().map(|f| format!("{}: {f}", run.name)).collect())
}

/// Time inside is counted in cycles, and stands still while the bench is waited for: the same
/// edges must bring the same bytes, whatever else the computer does.
fn repeated(subject: Subject<'_>) -> Result<Option<String>, String> {
    let run = run("again", [7_000, 3_000, 900], 300, false, Wanted::Whole);
    let [first, again] =
        [drive(subject, &run, &START)?, drive(subject, &run, &START)?].map(|it| it.bytes);
    println!("the same edges again: {} and {} bytes", first.len(), again.len());
    Ok((first != again).then(|| "the same edges brought other bytes".to_owned()))
}

/// A wire that loses each thousandth edge: whoever does not notice has not looked.
fn bad_wire(subject: Subject<'_>) -> Result<Option<String>, String> {
    let run = run("each 1000th edge lost", [20_000, 0, 0], 500, false, Wanted::Whole);
    let findings = told(subject, &run, &Start { drop_every: 1_000, ..START })?;
    Ok(findings.is_empty().then(|| "a wire that loses each 1000th edge passes".to_owned()))
}

fn judge(run: &Run, outcome: &Outcome) -> Vec<String> {
    let Outcome { sent, last, account, frames, broken, .. } = outcome;
    let mut out = Vec::new();
    let counted = last.channels.map(|channel| channel.impulses.0);
    let flagged = last.overruns.0;
    if sent.iter().zip(counted).any(|(sent, counted)| counted > *sent) {
        out.push(format!("{counted:?} counted of {sent:?}: more than came"));
    }
    if counted != *sent && flagged == 0 {
        out.push(format!("{counted:?} counted of {sent:?}, and no overrun told"));
    }
    if run.wanted == Wanted::Whole && (counted != *sent || flagged > 0 || account.dropped > 0) {
        out.push(format!("{counted:?} counted of {sent:?}, {flagged} overruns: not whole"));
    }
    if run.wanted == Wanted::Flagged && (counted == *sent || flagged == 0) {
        out.push(format!("{counted:?} counted of {sent:?}, {flagged} overruns: not too fast"));
    }
    if run.wanted == Wanted::Whole && outcome.dropped > 0 {
        out.push(format!("{} reports dropped", outcome.dropped));
    }
    // A flood of edges may keep the main loop from its reports while it lasts, and is flagged.
    let too_few = run.wanted == Wanted::Whole && *frames < 40 * run.millis / 1_000;
    if *broken > 0 || too_few {
        out.push(format!("{frames} frames, {broken} of them broken or out of order"));
    }
    // What was not measured is not nothing.
    if account.queue_most == 0 || account.late_ns == 0 || account.stack_bytes == 0 {
        out.push(format!("queue, lateness or stack was not measured: {account:?}"));
    }
    if run.wanted == Wanted::Whole {
        out.extend(outcome.stamps.judge());
        if outcome.behind > 0 {
            out.push(format!("{} reports lack an edge that is older than they", outcome.behind));
        }
    }
    out
}

fn drive(subject: Subject<'_>, run: &Run, start: &Start) -> Result<Outcome, String> {
    let fastest = run.hz.iter().max().copied().unwrap_or(1);
    // Half of the time high, half low, as the signal socket's are at best.
    let start = Start { pulse_ns: (500_000_000 / fastest) as u32, ..*start };
    let mut rig = Rig::connected(subject, &start)?;
    let (from_us, mut sent) = (rig.now_us, [0; 3]);
    let (mut stamps, mut reports) = (Stamps::default(), Vec::new());
    let frames_before = rig.heard.frames;
    // Before a host listens, reports have nowhere to go.
    let dropped_before = rig.heard.counts.map_or(0, |counts| counts.dropped_frames.0);
    for part in 0..run.millis * 1_000 / PART_US {
        let span_us = part * PART_US..(part + 1) * PART_US;
        for (at_ns, channel) in edges(run.hz, &span_us) {
            rig.play_ns(1_000 * from_us + at_ns, Stimulus::Edge(channel));
            sent[channel.index()] += 1;
        }
        if run.asked && span_us.start.is_multiple_of(ASKING_US) {
            questions(span_us.start / ASKING_US).into_iter().for_each(|it| rig.ask(it));
        }
        rig.run_to(from_us + span_us.end)?;
        hear(&mut rig, run.hz, from_us, &mut stamps, &mut reports);
    }
    rig.run(REST_US)?;
    hear(&mut rig, run.hz, from_us, &mut stamps, &mut reports);
    let account = rig.account()?;
    let last = rig.heard.counts.ok_or("no counts came")?;
    let (frames, broken) = (rig.heard.frames - frames_before, rig.heard.broken);
    let behind = behind(&reports, run.hz, sent, from_us, &stamps);
    let dropped = last.dropped_frames.0 - dropped_before;
    let bytes = rig.heard.bytes;
    Ok(Outcome { sent, last, account, frames, broken, stamps, dropped, behind, bytes })
}

/// The n-th edge comes at n / hz seconds, cut to the nanosecond.
const fn edge_ns(n: u64, hz: u64) -> u64 {
    n * 1_000_000_000 / hz
}

/// The edges in a stretch of time, the channels' together, in order of time.
fn edges(hz: [u64; 3], span_us: &std::ops::Range<u64>) -> Vec<(u64, Channel)> {
    let mut out = Vec::new();
    for (channel, hz) in Channel::ALL.into_iter().zip(hz).filter(|(_, hz)| *hz > 0) {
        let first = (span_us.start * hz).div_ceil(1_000_000);
        let times = (first..).map(|n| edge_ns(n, hz)).take_while(|ns| *ns < 1_000 * span_us.end);
        out.extend(times.map(|at_ns| (at_ns, channel)));
    }
    out.sort_by_key(|(at_ns, channel)| (*at_ns, channel.index()));
    out
}

/// Takes what was said, and holds the time of each last edge against the edge it must be.
fn hear(rig: &mut Rig, hz: [u64; 3], from_us: u64, stamps: &mut Stamps, reports: &mut Vec<Counts>) {
    for message in rig.heard.said.drain(..) {
        let ToHost::Counts(counts) = message else { continue };
        reports.push(counts);
        for (channel, hz) in counts.channels.iter().zip(hz) {
            if hz > 0 && channel.impulses.0 > 0 {
                let true_ns = 1_000 * from_us + edge_ns(channel.impulses.0 - 1, hz);
                stamps.add(true_ns, channel.last_edge_us.0);
            }
        }
    }
}

/// How many reports lack an edge that came before the instant that they are of.
fn behind(reports: &[Counts], hz: [u64; 3], sent: [u64; 3], from_us: u64, stamps: &Stamps) -> u64 {
    let is_behind = |counts: &&Counts| {
        // By the bench's clock, with the edge's own stamp as late as any.
        let at_us = counts.stamp.board_us.0 as f64 - stamps.most_us() - from_us as f64;
        (0..3).filter(|n| hz[*n] > 0 && at_us > 0.0).any(|n| {
            let before = (at_us * hz[n] as f64 / 1e6).ceil() as u64;
            counts.channels[n].impulses.0 < before.min(sent[n])
        })
    };
    reports.iter().filter(is_behind).count() as u64
}

/// What the host asks: a train of edges, and who is there.
fn questions(number: u64) -> [ToBoard; 2] {
    let request = (number & 0xFF) as u8;
    let intervals = Fixed16(64);
    let train = ToBoard::AskEdgeTrain(AskEdgeTrain { request, channel: Channel::Wheel, intervals });
    let nonce = Fixed32(number as u32 + 1);
    [train, ToBoard::HelloRequest(HelloRequest { nonce })]
}
