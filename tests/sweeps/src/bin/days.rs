//! Simulated days on which things go wrong, each kind in turn: is a figure without a flag ever
//! wrong, do the passes after the last fault come out sound, and are clean days left alone?
//!
//! Ends with 1 when a figure or a pass is silently wrong, a job does not recover, or clean passes
//! are flagged more often than once in a thousand.
//!
//! `cargo run --release -p trundle-sweeps --bin days -- [DAYS] [SEED] [FIRST]`
//!
//! `... days -- clean [DAYS] [SEED]` lives days on which nothing goes wrong, and also looks at how
//! often their figures lie further from the truth than the doubt stated with them allows.
//!
//! `... days -- day DAY SEED` shows one day.

#![allow(clippy::print_stdout)]

use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;
use trundle_core::flags::Flag;
use trundle_tests::days::{KINDS, Kind, Plan, Worth};

/// Share of the passes of clean days that may be flagged.
const FALSE_ALARMS: f64 = 1e-3;

/// Share of clean days whose figure may lie further off than four standard uncertainties: beyond
/// that, both ways, lies 1.03 % of Student's t with the five degrees of freedom of six passes
/// (NIST/SEMATECH e-Handbook, 1.3.6.7.2, gives 4.032 for 1 %).
const BEYOND: f64 = 0.0103;

/// What came of the days of one kind.
#[derive(Clone, Copy, Default)]
struct Row {
    days: u32,
    right: u32,
    flagged: u32,
    refused: u32,
    silent: u32,
    /// No flag, and as wrong without the faults.
    chance: u32,
    /// Flagged, but the number to enter was wrong all the same.
    told_wrong: u32,
    /// Passes without a flag whose length by satellite is wrong.
    passes_wrong: u32,
    recovered: u32,
    due: u32,
}

#[derive(Default)]
struct Sum {
    rows: Vec<Row>,
    clean_passes: u32,
    alarms: u32,
    passes_wrong: u32,
    words: Vec<String>,
}

/// The pass that words of the judge are about.
fn pass_of(words: &str) -> Option<&str> {
    words.split(' ').nth(1)
}

impl Sum {
    fn live(day: u64, seed: u64, sum: &Mutex<Self>) {
        let plan = Plan::new(day, seed);
        let lived = plan.live();
        let (mut worth, off) = (lived.worth(), lived.off_u());
        if worth == Worth::SilentlyWrong && lived.wrong_by_chance(&plan.sound().live()) {
            worth = Worth::ByChance;
        }
        let recovers = plan.recovers(&lived.truth);
        let mut passes_wrong = lived.wrong_passes();
        if !passes_wrong.is_empty() {
            // As wrong without the faults: by chance.
            let sound = plan.sound().live().wrong_passes();
            passes_wrong
                .retain(|words| !sound.iter().any(|other| pass_of(other) == pass_of(words)));
        }
        let mut sum = sum.lock().expect("no thread panics while it holds this");
        let recovered = lived.recovered();
        for (row, (kind, _)) in KINDS.iter().enumerate() {
            if !plan.kinds.contains(kind) {
                continue;
            }
            let row = &mut sum.rows[row];
            row.days += 1;
            row.right += u32::from(worth == Worth::ValidRight);
            row.flagged += u32::from(worth == Worth::Flagged);
            row.refused += u32::from(worth == Worth::Refused);
            row.silent += u32::from(worth == Worth::SilentlyWrong);
            row.chance += u32::from(worth == Worth::ByChance);
            row.told_wrong += u32::from(worth == Worth::Flagged && off > 1.0);
            row.passes_wrong += passes_wrong.len() as u32;
            row.due += u32::from(recovers);
            row.recovered += u32::from(recovers && recovered.is_ok());
        }
        let kinds = &plan.kinds;
        if plan.kinds == [Kind::Nothing] {
            let rolling = |flag: &&Flag| flag.code != trundle_core::flags::Code::RollingMark;
            for pass in &lived.work.passes {
                let odd = |flag: &&Flag| !flag.code.is_remark() && rolling(flag);
                sum.clean_passes += 1;
                if let Some(flag) = pass.flags.iter().find(odd) {
                    sum.alarms += 1;
                    sum.words.push(format!("day {day} clean, yet {}", flag.sentence()));
                }
            }
        }
        for words in &passes_wrong {
            sum.words.push(format!("day {day} {kinds:?}: SILENTLY WRONG, {words}"));
        }
        sum.passes_wrong += passes_wrong.len() as u32;
        if worth == Worth::SilentlyWrong {
            sum.words.push(format!("day {day} {kinds:?}: SILENTLY WRONG, {off:.1} of what is due"));
        }
        if worth == Worth::ByChance {
            let words = "without a flag, and as wrong without the faults";
            sum.words.push(format!("day {day} {kinds:?}: {off:.1} of what is due, {words}"));
        }
        if worth == Worth::Flagged && off > 1.0 {
            sum.words.push(format!("day {day} {kinds:?}: told, wrong by {off:.1} of what is due"));
        }
        if let (true, Err(words)) = (recovers, recovered) {
            sum.words.push(format!("day {day} {kinds:?}: not well again: {words}"));
        }
    }
}

fn show(day: u64, seed: u64) {
    let plan = Plan::new(day, seed);
    let lived = plan.live();
    println!("{plan:#?}");
    for flag in lived.work.all_flags() {
        println!("{}", flag.sentence());
    }
    let truth = &lived.truth;
    println!("true {:.1} {:.1}", truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m);
    for channel in &lived.work.channels {
        let u = channel.best().map(|best| (best.value(), best.standard_uncertainty()));
        let sides = [&channel.tape, &channel.satellite].map(|q| q.as_ref().map(|q| q.value()));
        println!("{} {:?} {u:?} {sides:?}", channel.name, channel.value_to_enter);
    }
    for (pass, truth) in lived.work.passes.iter().zip(&truth.passes) {
        let counted = pass.measured.as_ref().map(|m| m.impulses);
        println!("pass {} {} {counted:?}, truly {:?}", pass.number, pass.state(), truth.impulses);
        if let Some(satellite) = pass.measured.as_ref().and_then(|m| m.satellite.as_ref()) {
            println!("  truly {:.3} m, {satellite:?}", truth.chord_m);
        }
    }
    println!("{:?} {:?}", lived.work.clock, lived.wrong_passes());
    println!("{:?}, {:.2}, {:?}", lived.worth(), lived.off_u(), lived.recovered());
}

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1).peekable();
    let one = args.next_if(|word| word == "day").is_some();
    let clean = args.next_if(|word| word == "clean").is_some();
    // Nothing goes wrong on the first day of each round of kinds.
    let stride = if clean { KINDS.len() as u64 } else { 1 };
    let mut number = |default| args.next().and_then(|n| n.parse().ok()).unwrap_or(default);
    let (days, seed): (u64, u64) = (number(1000), number(1));
    if one {
        show(days, seed);
        return ExitCode::SUCCESS;
    }
    let first = number(0);
    let (next, sum) = (
        AtomicU64::new(first),
        Mutex::new(Sum { rows: vec![Row::default(); KINDS.len()], ..Sum::default() }),
    );
    let started = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let day = next.fetch_add(1, Ordering::Relaxed)
                    && day < first + days
                {
                    Sum::live(day * stride, seed, &sum);
                }
            });
        }
    });
    let sum = sum.into_inner().expect("no thread panics while it holds this");
    report(&sum, days, seed, started.elapsed().as_secs_f64())
}

fn report(sum: &Sum, days: u64, seed: u64, seconds: f64) -> ExitCode {
    println!(
        "{:<28}{:>6}{:>13}{:>9}{:>9}{:>8}{:>8}{:>8}{:>12}{:>12}",
        "fault",
        "days",
        "valid, right",
        "flagged",
        "refused",
        "silent",
        "passes",
        "chance",
        "told wrong",
        "well again"
    );
    for ((_, name), row) in KINDS.iter().zip(&sum.rows).filter(|(_, row)| row.days > 0) {
        println!(
            "{name:<28}{:>6}{:>13}{:>9}{:>9}{:>8}{:>8}{:>8}{:>12}{:>8} / {:<4}",
            row.days,
            row.right,
            row.flagged,
            row.refused,
            row.silent,
            row.passes_wrong,
            row.chance,
            row.told_wrong,
            row.recovered,
            row.due
        );
    }
    let silent: u32 = sum.rows.iter().map(|row| row.silent).sum();
    let sick: u32 = sum.rows.iter().map(|row| row.due - row.recovered).sum();
    println!("{days} days of seed {seed} in {seconds:.0} s; silently wrong: {silent}");
    println!("passes silently wrong: {}", sum.passes_wrong);
    println!("clean passes flagged: {} of {}", sum.alarms, sum.clean_passes);
    sum.words.iter().for_each(|words| println!("{words}"));
    let clean = sum.rows[0];
    let beyond = clean.chance + clean.silent;
    let due = BEYOND * f64::from(clean.days);
    let most = due + 3.0 * due.sqrt() + 1.0;
    println!("clean days whose figure lies beyond its doubt: {beyond}, at most {most:.1}");
    let alarmed = f64::from(sum.alarms) > FALSE_ALARMS * f64::from(sum.clean_passes.max(1));
    let silent = silent + sum.passes_wrong;
    ExitCode::from(u8::from(silent > 0 || sick > 0 || alarmed || f64::from(beyond) > most))
}
