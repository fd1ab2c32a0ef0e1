//! The board's own test signal, bridged to each input in turn, as a person does on the bench: what
//! it gives is what its table says, and what the board makes of it is right.

use crate::rig::{Rig, START, Subject};
use trundle_bench::{Bridge, Stimulus};
use trundle_counter::test_signal::{
    BOUNCE, FASTEST, FILTER_US, LENGTH_US, MARKS, PHASES, Phase, starts_us,
};
use trundle_protocol::message::{
    AskEdgeTrain, Identify, MarkSource, SetMinEdgeInterval, ToBoard, ToHost,
};
use trundle_protocol::units::{Channel, Fixed16, Fixed32};

/// The board changes over from phase to phase in software, microseconds.
const CHANGE_OVER_US: u64 = 20_000;
/// From the request to the start of the signal, microseconds, at most.
const PROMPT_US: u64 = 50_000;
/// Furthest from the period that an interval may be, microseconds: one step of the stamps at each
/// end.
const INTERVAL_US: u32 = 1;
/// The lamp changes twice a second while the board shows which one it is, at least.
const LAMP_LEAST: u64 = 20;

/// The findings.
pub fn check(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut out = Vec::new();
    for channel in Channel::ALL {
        // One of them with the filter, which is to take the spikes away.
        out.extend(impulses(subject, channel, channel == Channel::Radar)?);
    }
    for source in [MarkSource::Button, MarkSource::Gate] {
        let marks = last_phase(subject, Bridge::Mark(source))?;
        let seen = marks
            .said
            .iter()
            .filter(|message| matches!(message, ToHost::Mark(mark) if mark.source == source));
        out.extend(wanted(&format!("{source:?}"), seen.count(), PHASES[MARKS].impulses as usize));
    }
    let seconds = last_phase(subject, Bridge::Pps)?;
    let seen = seconds.said.iter().filter(|message| matches!(message, ToHost::PpsEdge(_)));
    out.extend(wanted("pulse per second", seen.count(), PHASES[MARKS].impulses as usize));
    let working = last_phase(subject, Bridge::Working)?;
    let changes = working.changes_after - working.changes_before;
    out.extend(wanted("in work", changes as usize, 2 * PHASES[MARKS].impulses as usize));
    Ok(out)
}

fn wanted(what: &str, seen: usize, wanted: usize) -> Option<String> {
    println!("bridged to {what}: {seen} of {wanted}");
    (seen != wanted).then(|| format!("bridged to {what}: {seen}, not {wanted}"))
}

/// Bridged to an impulse input.
fn impulses(subject: Subject<'_>, channel: Channel, filtered: bool) -> Result<Vec<String>, String> {
    let mut rig = Rig::connected(subject, &START)?;
    rig.now(Stimulus::Bridge(Bridge::Impulses(channel)));
    rig.run(10_000)?;
    let from_us = begin(&mut rig)?;
    // In the middle of the fastest phase, a look at single edges.
    rig.run_to(from_us + starts_us(FASTEST) + PHASES[FASTEST].length_us() / 2)?;
    let (request, intervals) = (1, Fixed16(64));
    rig.ask(ToBoard::AskEdgeTrain(AskEdgeTrain { request, channel, intervals }));
    let quiet_us = PHASES[BOUNCE].rest_us / 2;
    rig.run_to(from_us + starts_us(BOUNCE) - u64::from(quiet_us))?;
    if filtered {
        filter(&mut rig, channel, FILTER_US);
    }
    rig.run_to(from_us + starts_us(MARKS) - u64::from(PHASES[MARKS].rest_us) / 2)?;
    filter(&mut rig, channel, 0);
    rig.run_to(from_us + LENGTH_US + CHANGE_OVER_US * PHASES.len() as u64)?;
    let counts = rig.heard.counts.ok_or("no counts came")?;
    let refused: u32 = if filtered { PHASES[BOUNCE].falls() - PHASES[BOUNCE].impulses } else { 0 };
    let falls: u32 = PHASES.iter().map(Phase::falls).sum();
    let of = counts.channels[channel.index()];
    let lamp = rig.account()?.lamp;
    println!(
        "bridged to {channel:?}: {} counted, {} refused of {falls} falls; {} overruns, lamp \
         changed {lamp} times",
        of.impulses.0, of.rejected.0, counts.overruns.0
    );
    let mut out = trains(&rig);
    let right = of.impulses.0 == u64::from(falls - refused) && of.rejected.0 == refused;
    let others = Channel::ALL.into_iter().filter(|other| *other != channel);
    let alone = others.map(|other| counts.channels[other.index()].impulses.0).sum::<u64>() == 0;
    if !right || !alone || counts.overruns.0 > 0 {
        out.push(format!("bridged to {channel:?}: {counts:?}, {refused} of {falls} to refuse"));
    }
    if lamp < LAMP_LEAST {
        out.push(format!("the lamp changed only {lamp} times while the board showed itself"));
    }
    Ok(out)
}

/// The board is asked to show itself; when its signal began, to some milliseconds.
fn begin(rig: &mut Rig) -> Result<u64, String> {
    rig.ask(ToBoard::Identify(Identify { request: 9, seconds: 60 }));
    let from_us = rig.now_us;
    while rig.now_us < from_us + PROMPT_US {
        rig.run(1_000)?;
        if rig.heard.said.iter().any(|it| matches!(it, ToHost::Reply(reply) if reply.request == 9))
        {
            return Ok(rig.now_us);
        }
    }
    Err("the board does not say that it shows itself".to_owned())
}

fn filter(rig: &mut Rig, channel: Channel, interval_us: u32) {
    let interval_us = Fixed32(interval_us);
    rig.ask(ToBoard::SetMinEdgeInterval(SetMinEdgeInterval { request: 2, channel, interval_us }));
}

/// Every interval that the board tells of within a phase is that phase's period.
fn trains(rig: &Rig) -> Vec<String> {
    let period_us = PHASES[FASTEST].period_us;
    let (mut looked, mut out) = (0, Vec::new());
    for message in &rig.heard.said {
        let ToHost::EdgeTrain(train) = message else { continue };
        for interval in train.intervals_us.iter().take(train.used.into()) {
            looked += 1;
            if interval.0.abs_diff(period_us) > INTERVAL_US {
                out.push(format!("an interval of {} us, not {period_us}", interval.0));
            }
        }
    }
    if looked < 16 {
        out.push(format!("only {looked} intervals were told"));
    }
    out
}

/// What came in the last phase.
struct Last {
    said: Vec<ToHost>,
    changes_before: u32,
    changes_after: u32,
}

/// Bridged in the rest before the last phase, which is slow enough for marks and levels.
fn last_phase(subject: Subject<'_>, bridge: Bridge) -> Result<Last, String> {
    let mut rig = Rig::connected(subject, &START)?;
    let from_us = begin(&mut rig)?;
    rig.run_to(from_us + starts_us(MARKS) - u64::from(PHASES[MARKS].rest_us) / 2)?;
    rig.now(Stimulus::Bridge(bridge));
    // A mark input that was pulled up is up: nothing happens yet. In work, the level is high now.
    rig.run(100_000)?;
    rig.heard.said.clear();
    let changes = |rig: &Rig| rig.heard.counts.map_or(0, |counts| counts.working.changes.0);
    let changes_before = changes(&rig);
    rig.run_to(from_us + LENGTH_US + CHANGE_OVER_US * PHASES.len() as u64)?;
    Ok(Last {
        changes_after: changes(&rig),
        changes_before,
        said: std::mem::take(&mut rig.heard.said),
    })
}
