//! Board, supply, line, implement and PTO.

use super::{CheckLine, Mark};
use crate::fitness::board_clock::{self, ClockBy, ClockRate};
use crate::fitness::firmware;
use crate::session::Totals;
use crate::session::trail::Trail;
use trundle_protocol::message::ResetCause;
use trundle_protocol::units::Channel;

/// Supply of a 12 V system that is called sound, millivolts: below, the battery is all but empty
/// or a plug drops the voltage; above, the charge is not regulated (common practice, no source).
pub const SUPPLY_MV: std::ops::RangeInclusive<u16> = 11_500..=15_000;
/// Share of frames lost or refused that a sound line does not reach.
const LOST_SHARE: f64 = 0.001;
/// Frames it takes to judge a line.
const FRAMES_MIN: u64 = 500;
/// PTO impulses from which the shaft was turning.
const PTO_MIN: u64 = 50;

/// Bit of the board's hello: the PTO input exists.
const PTO: u8 = 1 << 2;
/// Bit of the board's hello: the implement-in-work input exists.
pub const WORKING: u8 = 1 << 6;

/// Who the board is, and that it does not restart.
pub fn hello(trail: &Trail, totals: &Totals) -> CheckLine {
    const KEY: (&str, &str) = ("board", "counter board");
    let line = |mark, what: String| CheckLine::new(KEY.0, KEY.1, mark, what);
    if totals.board.frames == 0 {
        return line(Mark::NotSeen, "nothing came from it".to_owned())
            .next("Check its plug and supply, and run `trundle ports`.");
    }
    if totals.board.resets > 0 {
        let times = if totals.board.resets == 1 { "time" } else { "times" };
        return line(Mark::Fail, format!("it restarted {} {times}", totals.board.resets))
            .next("Check its supply, its plug and the fuse.")
            .numbers(vec![("resets", f64::from(totals.board.resets))]);
    }
    let Some(hello) = trail.hello else {
        return line(Mark::NotSeen, "it counts, but did not say who it is".to_owned())
            .next("Check the wire towards the board (host TX to board RX).");
    };
    let [major, minor, patch] = hello.firmware;
    let id = hello.board_id.0;
    let who = format!("{id:016x}, firmware {major}.{minor}.{patch}");
    let (cause, next) = match hello.reset_cause {
        ResetCause::BrownOut => ("its supply had dipped", "Check supply, plug and fuse."),
        ResetCause::Watchdog => (
            "its program had hung",
            "Note firmware and circumstances, and send them to the makers.",
        ),
        _ => return line(Mark::Pass, who),
    };
    line(Mark::Fail, format!("{who}; it last started because {cause}")).next(next)
}

/// The board's firmware against the version this program expects. Another one is no fault of a
/// measurement, and is said.
pub fn firmware(trail: &Trail) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("firmware", "firmware", mark, what).optional();
    let Some(hello) = trail.hello else {
        return line(Mark::NotSeen, "the board did not say who it is".to_owned());
    };
    let age = firmware::age(hello.firmware);
    let means = firmware::means(age);
    let dot = if means.is_empty() { "" } else { ". " };
    let stands = firmware::stands(hello.firmware);
    let stands = stands.trim_start_matches("firmware ");
    line(Mark::Pass, format!("{stands}{dot}{}", means.trim_end_matches('.')))
        .next(firmware::next(age))
}

/// The error of the board's clock against satellite time, as far as it could be seen.
pub fn clock(rate: Option<&ClockRate>) -> CheckLine {
    let line = |mark, what: String| {
        CheckLine::new("board_clock", "clock of the board", mark, what).optional()
    };
    let Some(rate) = rate else {
        return line(Mark::NotSeen, "it takes over a minute beside a receiver".to_owned())
            .next("Let it record for five minutes with a receiver, standing or driving.");
    };
    let numbers = vec![
        ("fast_ppm", rate.ppm),
        ("u95_ppm", rate.u95_ppm),
        ("span_s", rate.span_s),
        ("by_pulses", f64::from(u8::from(rate.by == ClockBy::Pulses))),
    ];
    let by = match rate.by {
        ClockBy::Pulses => "by the pulse per second",
        ClockBy::Sentences => "by the receiver's sentences",
    };
    let way = if rate.ppm < 0.0 { "slow" } else { "fast" };
    let (ppm, u95_ppm) = (rate.ppm.abs(), rate.u95_ppm);
    let what = format!("{ppm:.1} ppm {way} ± {u95_ppm:.1} (95 %), {by} in {:.0} s", rate.span_s);
    let limit = board_clock::LIMIT_PPM;
    match rate.is_sound() {
        Some(true) => line(Mark::Pass, what).numbers(numbers),
        Some(false) => line(Mark::Fail, format!("{what}; a crystal is within {limit:.0} ppm"))
            .next(
                "Counts do not suffer. Speeds and revolutions per minute are off by as much, and \
                 marks move among the satellite positions. Look at the board's crystal and its \
                 solder joints, or use another board.",
            )
            .numbers(numbers),
        None => line(Mark::NotSeen, format!("{what}: too rough to tell it from {limit:.0} ppm"))
            .next("Let it record for longer, or wire the receiver's pulse per second.")
            .numbers(numbers),
    }
}

/// Line on the board's supply voltage.
pub fn supply(trail: &Trail) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("supply", "supply voltage", mark, what);
    let Some(mv) = trail.health.map(|health| health.supply_mv.0).filter(|mv| *mv > 0) else {
        return line(Mark::NotSeen, "the board did not report it".to_owned())
            .next("Measure it at the board's plug.");
    };
    let volts = f64::from(mv) * 1e-3;
    let numbers = vec![("supply_v", volts)];
    if SUPPLY_MV.contains(&mv) {
        return line(Mark::Pass, format!("{volts:.1} V")).numbers(numbers);
    }
    let (low, high) = (f64::from(*SUPPLY_MV.start()) * 1e-3, f64::from(*SUPPLY_MV.end()) * 1e-3);
    line(Mark::Fail, format!("{volts:.1} V, outside {low:.1} to {high:.1} V"))
        .next("Let the engine run, and check battery, alternator and plug.")
        .numbers(numbers)
}

/// How the board's frames come over.
pub fn frames(trail: &Trail, totals: &Totals) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("board_line", "line from the board", mark, what);
    let (frames, lost) = (totals.board.frames, totals.board.lost);
    let refused = totals.line.refused();
    let dropped = trail.health.map_or(0, |health| health.dropped_frames.0);
    let overruns = trail.spells.iter().flat_map(|spell| spell.counts.last());
    let overruns: u32 = overruns.map(|sample| sample.overruns).sum();
    let numbers = vec![
        ("frames", frames as f64),
        ("lost", lost as f64),
        ("refused", refused as f64),
        ("dropped_by_board", f64::from(dropped)),
        ("overruns", f64::from(overruns)),
    ];
    if frames < FRAMES_MIN {
        return line(Mark::NotSeen, format!("{frames} frames came; it takes {FRAMES_MIN}"))
            .next("Let it record for longer.")
            .numbers(numbers);
    }
    if overruns > 0 {
        let what = format!("{overruns} times impulses came too fast for the board to count");
        return line(Mark::Fail, what)
            .next("Look for noise on the sensor cables, or drive more slowly.")
            .numbers(numbers);
    }
    let what = format!("{frames} frames, {lost} lost, {refused} damaged");
    if (lost + refused) as f64 > LOST_SHARE * frames as f64 {
        return line(Mark::Fail, what)
            .next("Check plug and cable of the board, and keep it away from ignition and charger.")
            .numbers(numbers);
    }
    line(Mark::Pass, what).numbers(numbers)
}

/// Line on the implement-in-work input.
pub fn implement(trail: &Trail, totals: &Totals) -> CheckLine {
    let line = |mark, what: String| {
        CheckLine::new("implement", "implement in work", mark, what).optional()
    };
    let changes: usize = trail
        .spells
        .iter()
        .map(|spell| {
            let next = spell.counts.iter().skip(1);
            spell.counts.iter().zip(next).filter(|(a, b)| a.in_work != b.in_work).count()
        })
        .sum();
    if changes > 0 {
        return line(Mark::Pass, format!("changed {changes} times"))
            .numbers(vec![("changes", changes as f64)]);
    }
    if totals.capabilities.is_some_and(|inputs| inputs & WORKING == 0) {
        return line(Mark::NotSeen, "this board has no input for it".to_owned());
    }
    line(Mark::NotSeen, "no change seen".to_owned())
        .next("If it is wired: lower and raise the implement once.")
}

/// Line on the PTO input.
pub fn pto(trail: &Trail, totals: &Totals) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("pto", "PTO impulses", mark, what).optional();
    let index = Channel::Pto.index();
    let of = |spell: &crate::session::trail::Spell| {
        let (first, last) = (spell.counts.first()?, spell.counts.last()?);
        Some(last.impulses[index].saturating_sub(first.impulses[index]))
    };
    let impulses: u64 = trail.spells.iter().filter_map(of).sum();
    if impulses >= PTO_MIN {
        return line(Mark::Pass, format!("turning: {impulses} impulses"))
            .numbers(vec![("impulses", impulses as f64)]);
    }
    if totals.capabilities.is_some_and(|inputs| inputs & PTO == 0) {
        return line(Mark::NotSeen, "this board has no input for it".to_owned());
    }
    line(Mark::NotSeen, "not turning".to_owned()).next(
        "If it is wired: from the seat, let it turn with guards on and nothing coupled, no one \
         near.",
    )
}
