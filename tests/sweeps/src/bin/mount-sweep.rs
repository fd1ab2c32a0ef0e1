//! Is the antenna where driving says it is? Seeded simulated jobs, one table.
//!
//! Rows with a perfect driver tell how near the result comes; rows whose driver misses the line,
//! and whose wheels slip in turns, as much as is taken for granted tell whether the 95 % intervals
//! cover. Ends with an error when a row misses what it has to reach.
//!
//! `cargo run --release -p trundle-sweeps --bin mount-sweep -- [JOBS] [ONLY]`

#![allow(clippy::print_stdout)]

use std::process::ExitCode;
use trundle_core::session::trail::THINNED_US;
use trundle_core::stats::budget::cover;
use trundle_core::survey::mount::{LINE_HELD_M, Mount, MountOptions, TURN_SLIP, work};
use trundle_sim::{LeverArm, ReceiverClass, Scenario, record_all};
use trundle_tests::on_seeds::on_seeds;
use trundle_tests::{Draws, records, replay_with_trail};

/// Lever arms in turn: right and ahead, metres.
const ARMS: [(f64, f64); 3] = [(-0.65, 0.85), (0.12, 1.5), (0.4, 2.1)];
/// Share of jobs in which an error may be greater than the limit.
const MISSES: f64 = 0.05;
/// The stated 95 % interval has to cover between these shares.
const COVERED: (f64, f64) = (0.90, 0.99);

struct Row {
    name: &'static str,
    scenario: Scenario,
    /// The driver misses the line, and the wheels slip, as is taken for granted.
    as_assumed: bool,
    /// Greatest error allowed in 95 of 100 jobs: right and ahead, metres.
    limits_m: (Option<f64>, Option<f64>),
    options: MountOptions,
}

fn rows() -> Vec<Row> {
    use ReceiverClass::{Corrected, Rtk};
    let passes = |class| Scenario::default().with_receiver(class);
    let circles = |class| Scenario::named("circles").unwrap_or_default().with_receiver(class);
    let row = |name, scenario, as_assumed, limits_m| Row {
        name,
        scenario,
        as_assumed,
        limits_m,
        options: MountOptions::default(),
    };
    vec![
        row("rtk, 6 passes, line held", passes(Rtk), false, (Some(0.02), None)),
        row("corrected, 6 passes, line held", passes(Corrected), false, (Some(0.10), None)),
        row("rtk, circles, no slip", circles(Rtk), false, (None, Some(0.05))),
        row("rtk, 6 passes", passes(Rtk), true, (None, None)),
        row("corrected, 6 passes", passes(Corrected), true, (None, None)),
        row("rtk, circles", circles(Rtk), true, (None, None)),
        row("corrected, circles", circles(Corrected), true, (None, None)),
    ]
}

/// One number over all jobs of a row.
#[derive(Default)]
struct Side {
    given: u64,
    covered: u64,
    errors_m: Vec<f64>,
    half_widths_m: Vec<f64>,
}

impl Side {
    fn add(&mut self, error_m: f64, half_width_m: f64) {
        self.given += 1;
        self.covered += u64::from(error_m.abs() <= half_width_m);
        self.errors_m.push(error_m.abs());
        self.half_widths_m.push(half_width_m);
    }

    fn quantile(values: &[f64], share: f64) -> f64 {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        sorted.get(((sorted.len() as f64 - 1.0) * share).round() as usize).copied().unwrap_or(0.0)
    }

    fn share(&self) -> f64 {
        self.covered as f64 / self.given.max(1) as f64
    }

    fn text(&self) -> String {
        format!(
            "{:>5} {:>8.1} {:>8.1} {:>8.1} {:>7.1}",
            self.given,
            1000.0 * Self::quantile(&self.errors_m, 0.5),
            1000.0 * Self::quantile(&self.errors_m, 0.95),
            1000.0 * Self::quantile(&self.half_widths_m, 0.5),
            100.0 * self.share()
        )
    }

    /// What is not reached.
    fn faults(&self, row: &Row, limit_m: Option<f64>, jobs: u64) -> Vec<String> {
        let mut out = Vec::new();
        if let Some(limit_m) = limit_m {
            let missed = jobs - self.errors_m.iter().filter(|e| **e <= limit_m).count() as u64;
            if missed as f64 > MISSES * jobs as f64 {
                out.push(format!("{}: {missed} of {jobs} missed {limit_m} m", row.name));
            }
        }
        // Three standard deviations of a share of so many jobs beyond either end.
        let luck = 3.0 * (0.05 * 0.95 / jobs as f64).sqrt();
        let (low, high) = (COVERED.0.min(0.95 - luck), COVERED.1);
        let share = self.share();
        if row.as_assumed && (share < low || (share > high && self.given >= 100)) {
            out.push(format!("{}: covers {:.1} %", row.name, 100.0 * share));
        }
        out
    }
}

fn one(row: &Row, seed: u64) -> (LeverArm, Option<Mount>) {
    let mut scenario = row.scenario.clone();
    let (right_m, ahead_m) = ARMS[(seed % 3) as usize];
    scenario.lever_arm = LeverArm { right_m, ahead_m, ..scenario.lever_arm };
    if row.as_assumed {
        scenario.line_error_m = LINE_HELD_M;
        scenario.turn_slip = TURN_SLIP * Draws::new(seed).normal();
    }
    let (emissions, truth) = record_all(&scenario, seed);
    let session = replay_with_trail(&records(&emissions, truth.start_utc_ns, None), THINNED_US);
    let worked = session.trail().map(|trail| work(&trail, &row.options));
    if let Some(Err(refusal)) = &worked {
        println!("{}, seed {seed}: {refusal}", row.name);
    }
    let mount = worked.and_then(Result::ok);
    (scenario.lever_arm, mount)
}

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let jobs: u64 = words.next().and_then(|word| word.parse().ok()).unwrap_or(100);
    let only = words.next().unwrap_or_default();
    println!("{jobs} jobs a row; errors and half-widths in mm");
    let head = format!("{:>5} {:>8} {:>8} {:>8} {:>7}", "given", "median", "95 %", "U95", "covers");
    println!("{:<32} {:<9}{head} {:>9}", "", "", "disagree");
    let mut faults = Vec::new();
    for row in rows().iter().filter(|row| row.name.contains(&only)) {
        let done = on_seeds(1..jobs + 1, |seed| one(row, seed));
        let mut sides: [Side; 6] = Default::default();
        let mut disagree = 0;
        for (arm, mount) in &done {
            let Some(mount) = mount else { continue };
            disagree += u32::from(mount.suspect.is_some());
            let turns = mount.turns.as_ref().ok();
            let circles = mount.circles.as_ref().ok();
            let numbers = [
                (mount.right.as_ref(), arm.right_m),
                (mount.ahead.as_ref().map(|ahead| &ahead.0), arm.ahead_m),
                (mount.passes.as_ref().ok().map(|w| &w.right), arm.right_m),
                (turns.map(|w| &w.right), arm.right_m),
                (turns.map(|w| &w.ahead), arm.ahead_m),
                (circles.map(|w| &w.right), arm.right_m),
            ];
            for (side, (number, truth)) in sides.iter_mut().zip(numbers) {
                if let Some(number) = number {
                    side.add(
                        number.value() - truth,
                        cover(number, &mount.sources, 0.95).expanded_uncertainty,
                    );
                }
            }
        }
        let names = ["right", "ahead", " passes", " turns", " turns, a", " circ., r"];
        for (name, side) in names.iter().zip(&sides) {
            if side.given > 0 {
                println!("{:<32} {name:<9}{} {disagree:>9}", row.name, side.text());
            }
        }
        faults.extend(sides[0].faults(row, row.limits_m.0, jobs));
        faults.extend(sides[1].faults(row, row.limits_m.1, jobs));
    }
    for fault in &faults {
        println!("MISSED: {fault}");
    }
    if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
