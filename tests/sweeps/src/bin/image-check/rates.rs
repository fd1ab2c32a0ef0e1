//! Edges as fast as can be: none lost up to the rates that are promised, and beyond them never
//! a count that is short in silence.

use std::path::Path;
use trundle_bench::{Account, Start, Stimulus};
use trundle_protocol::message::{AskEdgeTrain, Counts, HelloRequest, ToBoard, ToHost};
use trundle_protocol::units::{Channel, Fixed16, Fixed32};
use trundle_protocol::{Deframer, WireMessage as _};
use trundle_sim::image::{INSTRUCTION_SHIFT, Image};

/// Board time that goes out to the image at once, microseconds.
const PART_US: u64 = 20_000;
/// Rest after the last edge, so that a report tells of it, microseconds.
const REST_US: u64 = 100_000;
/// A timer that wraps two seconds into each run.
const TIMER_START: u32 = u32::MAX - 2_000_000;

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

const RUNS: [Run; 8] = [
    run("one at 20 kHz", [20_000, 0, 0], 2_000, false, Wanted::Whole),
    run("all at 5 kHz", [5_000; 3], 2_000, false, Wanted::Whole),
    run("one at 20 kHz, host asking", [20_000, 0, 0], 1_000, true, Wanted::Whole),
    run("all at 5 kHz, host asking", [5_000; 3], 1_000, true, Wanted::Whole),
    run("one at 50 kHz", [50_000, 0, 0], 500, false, Wanted::Honest),
    run("all at 20 kHz", [20_000; 3], 500, false, Wanted::Honest),
    run("one at 125 kHz", [125_000, 0, 0], 500, false, Wanted::Honest),
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
    /// All that the host would have read.
    bytes: Vec<u8>,
}

/// All runs; the findings.
pub fn check(elf: &Path) -> Result<Vec<String>, String> {
    println!(
        "{:27} {:>8} {:>8} {:>7} {:>5} {:>6} {:>7} {:>5} {:>6}",
        "edges", "sent", "counted", "flagged", "busy", "queue", "late us", "stack", "wall s",
    );
    let mut findings = Vec::new();
    for run in &RUNS {
        let began = std::time::Instant::now();
        let outcome = drive(elf, run).map_err(|error| format!("{}: {error}", run.name))?;
        let counted = outcome.last.channels.map(|channel| channel.impulses.0);
        let (sent, got) = (outcome.sent.iter().sum::<u64>(), counted.iter().sum::<u64>());
        let Account { stack_bytes, waiting_most, late_us, .. } = outcome.account;
        let (flagged, busy) = (outcome.last.overruns.0, 100.0 * outcome.account.busy_share());
        let wall_s = began.elapsed().as_secs_f64();
        println!(
            "{:27} {sent:8} {got:8} {flagged:7} {busy:4.0}% {waiting_most:6} {late_us:7} \
             {stack_bytes:5} {wall_s:6.1}",
            run.name,
        );
        findings.extend(judge(run, &outcome).into_iter().map(|f| format!("{}: {f}", run.name)));
    }
    findings.extend(repeated(elf)?);
    Ok(findings)
}

/// Time inside is counted in instructions, and stands still while the bench is waited for: the
/// same edges must bring the same bytes, whatever else the computer does.
fn repeated(elf: &Path) -> Result<Option<String>, String> {
    let run = run("again", [7_000, 3_000, 900], 300, false, Wanted::Whole);
    let [first, again] = [drive(elf, &run)?, drive(elf, &run)?].map(|outcome| outcome.bytes);
    println!("the same edges again: {} and {} bytes", first.len(), again.len());
    Ok((first != again).then(|| "the same edges brought other bytes".to_owned()))
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
    if run.wanted == Wanted::Whole && (counted != *sent || flagged > 0 || account.missed > 0) {
        out.push(format!("{counted:?} counted of {sent:?}, {flagged} overruns: not whole"));
    }
    if run.wanted == Wanted::Flagged && (counted == *sent || flagged == 0) {
        out.push(format!("{counted:?} counted of {sent:?}, {flagged} overruns: not too fast"));
    }
    let dropped = last.dropped_frames.0;
    if run.wanted == Wanted::Whole && dropped > 0 {
        out.push(format!("{dropped} reports dropped"));
    }
    // A flood of edges may keep the main loop from its reports while it lasts, and is flagged.
    let too_few = run.wanted == Wanted::Whole && *frames < 40 * run.millis / 1_000;
    if *broken > 0 || too_few {
        out.push(format!("{frames} frames, {broken} of them broken or out of order"));
    }
    out
}

fn drive(elf: &Path, run: &Run) -> Result<Outcome, String> {
    let start = Start {
        board_id: 1,
        boot_id: 0xB007_0001,
        timer_start: TIMER_START,
        report_period_us: 20_000,
        min_edge_interval_us: [0; 3],
        supply_mv: 12_600,
        capabilities: 0b0000_0111,
    };
    let mut image = Image::start(elf, INSTRUCTION_SHIFT, &start).map_err(|e| e.to_string())?;
    let end_us = run.millis * 1_000;
    let (mut sent, mut bytes) = ([0; 3], Vec::new());
    let mut from_us = 0;
    while from_us < end_us {
        let to_us = from_us + PART_US;
        for (at_us, channel) in edges(run.hz, from_us..to_us) {
            image.play(at_us, Stimulus::Edge(channel));
            sent[channel.index()] += 1;
        }
        if run.asked && from_us.is_multiple_of(100_000) {
            image.tell(&question(from_us / 100_000));
        }
        image.run_to(to_us).map_err(|e| e.to_string())?;
        bytes.extend(image.heard());
        from_us = to_us;
    }
    let account = image.account(end_us + REST_US).map_err(|e| e.to_string())?;
    bytes.extend(image.heard());
    let (last, frames, broken) = read(&bytes)?;
    Ok(Outcome { sent, last, account, frames, broken, bytes })
}

/// The edges in a stretch of time, the channels' together, in order of time.
fn edges(hz: [u64; 3], span_us: std::ops::Range<u64>) -> Vec<(u64, Channel)> {
    let mut out = Vec::new();
    for (channel, hz) in Channel::ALL.into_iter().zip(hz).filter(|(_, hz)| *hz > 0) {
        // The n-th edge comes at n / hz seconds, cut to the microsecond.
        let first = (span_us.start * hz).div_ceil(1_000_000);
        let times = (first..).map(|n| n * 1_000_000 / hz).take_while(|us| *us < span_us.end);
        out.extend(times.map(|at_us| (at_us, channel)));
    }
    out.sort_by_key(|(at_us, channel)| (*at_us, channel.index()));
    out
}

/// What the host asks: a train of edges, and who is there.
fn question(number: u64) -> Vec<u8> {
    let request = (number & 0xFF) as u8;
    let intervals = Fixed16(64);
    let train = ToBoard::AskEdgeTrain(AskEdgeTrain { request, channel: Channel::Wheel, intervals });
    let nonce = Fixed32(number as u32 + 1);
    let hello = ToBoard::HelloRequest(HelloRequest { nonce });
    [train.frame().as_bytes(), hello.frame().as_bytes()].concat()
}

/// The last counts, and how many frames came whole and in sequence, or not.
fn read(bytes: &[u8]) -> Result<(Counts, u64, u64), String> {
    let (mut last, mut frames, mut broken, mut next) = (None, 0, 0, 0);
    Deframer::<ToHost>::new().push_slice(bytes, |frame| {
        frames += 1;
        let Ok(message) = frame else {
            broken += 1;
            return;
        };
        let stamp = match &message {
            ToHost::Hello(it) => it.stamp,
            ToHost::Counts(it) => it.stamp,
            ToHost::Mark(it) => it.stamp,
            ToHost::PpsEdge(it) => it.stamp,
            ToHost::EdgeTrain(it) => it.stamp,
            ToHost::Health(it) => it.stamp,
            ToHost::Reply(it) => it.stamp,
        };
        let sequence = stamp.sequence.0;
        broken += u64::from(sequence != next);
        next = sequence.wrapping_add(1);
        if let ToHost::Counts(counts) = message {
            last = Some(counts);
        }
    });
    last.map(|last| (last, frames, broken)).ok_or_else(|| "no counts came".to_owned())
}
