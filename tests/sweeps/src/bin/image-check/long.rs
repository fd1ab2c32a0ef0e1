//! A long day: standing and driving, by turns, with the host listening, for as long as there is
//! time. No count may be missing at its end, and no time stamp may have drifted.

use crate::rig::{Rig, START, Subject};
use crate::stamps::Stamps;
use std::time::{Duration, Instant};
use trundle_bench::Stimulus;
use trundle_protocol::message::ToHost;
use trundle_protocol::units::Channel;

/// A day, seconds. It ends sooner when the time on the wall is over.
const DAY_S: u64 = 24 * 3_600;
/// Time on the wall, unless another is given.
const WALL_S: u64 = 60;
/// Another: the number of seconds.
const WALL_VARIABLE: &str = "TRUNDLE_IMAGE_LONG_S";
/// A stretch of driving, or of standing, seconds.
const STRETCH_S: u64 = 60;
/// Impulses of wheel, radar and PTO while driving, nanoseconds from one to the next: some 15 km/h
/// with 130 impulses a metre on the wheel and 26 on the radar, and a slow shaft.
const PERIODS_NS: [u64; 3] = [1_846_231, 9_230_711, 11_111_117];
/// A mark this far into each stretch, microseconds.
const MARK_US: u64 = 400_123;

/// Edges so far, and the time of the last of each channel.
struct Driven {
    sent: [u64; 3],
    last_ns: [u64; 3],
    marks: u32,
    stamps: Stamps,
    /// Reports dropped before the host listened.
    dropped_before: u32,
}

/// The findings.
pub fn check(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let wall_s = std::env::var(WALL_VARIABLE).ok().and_then(|text| text.parse().ok());
    let wall = Duration::from_secs(wall_s.unwrap_or(WALL_S));
    let began = Instant::now();
    let mut rig = Rig::connected(subject, &START)?;
    let from_us = rig.now_us;
    let mut driven = Driven {
        sent: [0; 3],
        last_ns: [0; 3],
        marks: 0,
        stamps: Stamps::default(),
        dropped_before: rig.heard.counts.map_or(0, |counts| counts.dropped_frames.0),
    };
    let (mut stood_s, mut drove_s, mut wrong) = (0, 0, Vec::new());
    while began.elapsed() < wall && stood_s + drove_s < DAY_S && wrong.is_empty() {
        for _ in 0..STRETCH_S {
            second(&mut rig, &mut driven, true)?;
        }
        for _ in 0..STRETCH_S {
            second(&mut rig, &mut driven, false)?;
        }
        (drove_s, stood_s) = (drove_s + STRETCH_S, stood_s + STRETCH_S);
        wrong = judge(&rig, &driven);
    }
    let account = rig.account()?;
    println!(
        "{:.2} h simulated in {:.0} s, half of it driving: {:?} sent, {:?} counted, {} marks, {} \
         time stamps {} us apart, busy {:.1} %, stack {}",
        (rig.now_us - from_us) as f64 / 3.6e9,
        began.elapsed().as_secs_f64(),
        driven.sent,
        rig.heard.impulses(),
        driven.marks,
        driven.stamps.count,
        driven.stamps.words(),
        100.0 * account.busy_share(),
        account.stack_bytes,
    );
    if account.starts != 1 || account.dropped > 0 {
        wrong.push(format!("{account:?}"));
    }
    Ok(wrong)
}

/// One second, and what the host hears in it.
fn second(rig: &mut Rig, driven: &mut Driven, driving: bool) -> Result<(), String> {
    let begin_us = rig.now_us;
    let mut due = Vec::new();
    if driving {
        for (n, period_ns) in PERIODS_NS.into_iter().enumerate() {
            let count = 1_000_000_000 / period_ns;
            due.extend((0..count).map(|k| (k * period_ns, Stimulus::Edge(Channel::ALL[n]))));
            driven.sent[n] += count;
            driven.last_ns[n] = 1_000 * begin_us + (count - 1) * period_ns;
        }
    }
    if (begin_us / 1_000_000).is_multiple_of(STRETCH_S) {
        due.push((1_000 * MARK_US, Stimulus::Mark(Default::default())));
        driven.marks += 1;
    }
    due.sort_by_key(|(at_ns, _)| *at_ns);
    due.into_iter().for_each(|(at_ns, it)| rig.play_ns(1_000 * begin_us + at_ns, it));
    if (begin_us / 1_000_000).is_multiple_of(10) {
        rig.hail();
    }
    rig.run(1_000_000)?;
    for message in rig.heard.said.drain(..) {
        let ToHost::Counts(counts) = message else { continue };
        for (n, channel) in counts.channels.iter().enumerate() {
            if channel.impulses.0 == driven.sent[n] && channel.impulses.0 > 0 {
                driven.stamps.add(driven.last_ns[n], channel.last_edge_us.0);
            }
        }
    }
    rig.heard.bytes.clear();
    Ok(())
}

fn judge(rig: &Rig, driven: &Driven) -> Vec<String> {
    let mut out: Vec<String> = driven.stamps.judge().into_iter().collect();
    let counts = rig.heard.counts;
    let clean =
        counts.is_some_and(|it| it.overruns.0 == 0 && it.dropped_frames.0 == driven.dropped_before);
    if rig.heard.impulses() != driven.sent || rig.heard.marks != driven.marks || !clean {
        out.push(format!("{counts:?}, {} marks; {:?} sent", rig.heard.marks, driven.sent));
    }
    if rig.heard.broken > 0 {
        out.push(format!("{} frames broken or out of order", rig.heard.broken));
    }
    out
}
