//! Does the proof drive find what is in the terminal? Seeded simulated drives, one table.
//!
//! A right value must be called so in 99 of 100, each mistake named in 97 and never called right;
//! the interval of shown over true must hold the truth in 93 to 97 of 100, within the luck of so
//! many draws, and by distance over two passes be no wider than 0.1 %. Ends with an error when a
//! row misses.
//!
//! `cargo run --release -p trundle-sweeps --bin proof-sweep -- [DRIVES] [ONLY]`

#![allow(clippy::print_stdout)]

use std::process::ExitCode;
use trundle_tests::on_seeds::on_seeds;
use trundle_tests::proof_cases::{CASES, Case, Read, drive};

/// Shares that must be reached.
const RIGHT: f64 = 0.99;
const NAMED: f64 = 0.97;
const COVERED: (f64, f64) = (0.93, 0.97);
/// Widest half of the interval by the distance typed, and by that on the bus, as a share.
const HALF_WIDTH: f64 = 0.001;
const HALF_WIDTH_BUS: f64 = 0.0005;

#[derive(Default)]
struct Sum {
    drives: u64,
    named: u64,
    called_right: u64,
    given: u64,
    covered: u64,
    halves: Vec<f64>,
    missed: Vec<u64>,
}

impl Sum {
    fn of(case: Case, read: Read, drives: u64) -> Self {
        let mut sum = Self::default();
        for (seed, drive) in on_seeds(1..drives + 1, |seed| (seed, drive(case, read, seed))) {
            sum.add(case, &drive, seed);
        }
        sum
    }

    fn add(&mut self, case: Case, drive: &trundle_tests::proof_cases::ProofDrive, seed: u64) {
        self.drives += 1;
        if case.is_named(&drive.proof) {
            self.named += 1;
        } else {
            self.missed.push(seed);
        }
        self.called_right += u64::from(case.is_called_right(&drive.proof));
        let ratio = drive.proof.judged.as_ref().ok().and_then(|judged| judged.ratio);
        let truth = drive.truth.terminal.as_ref().map(|terminal| terminal.ratio);
        if let Some(((value, expanded), truth)) = ratio.zip(truth) {
            self.given += 1;
            let half = expanded.expanded_uncertainty;
            self.covered += u64::from((value - truth).abs() <= half);
            self.halves.push(half / truth.max(1.0));
        }
    }

    fn quantile(&self, share: f64) -> f64 {
        let mut sorted = self.halves.clone();
        sorted.sort_by(f64::total_cmp);
        let at = ((sorted.len() as f64 - 1.0) * share).round() as usize;
        sorted.get(at).copied().unwrap_or(f64::NAN)
    }

    fn faults(&self, case: Case, read: Read) -> Vec<String> {
        let n = self.drives as f64;
        let mut out = Vec::new();
        let need = if case == Case::Right { RIGHT } else { NAMED };
        if (self.named as f64) < need * n {
            out.push(format!("named {} of {n}", self.named));
        }
        if self.called_right > 0 {
            out.push(format!("called right {} times", self.called_right));
        }
        let luck = 3.0 * (0.05 * 0.95 / n).sqrt();
        let covered = self.covered as f64 / self.given.max(1) as f64;
        if !(COVERED.0.min(0.95 - luck)..=COVERED.1.max(0.95 + luck)).contains(&covered) {
            out.push(format!("covers {:.1} %", 100.0 * covered));
        }
        let widest = match read {
            Read::Distance => HALF_WIDTH,
            Read::Bus => HALF_WIDTH_BUS,
            Read::Speed => f64::INFINITY,
        };
        if self.quantile(1.0) > widest {
            out.push(format!("half-width up to {:.3} %", 100.0 * self.quantile(1.0)));
        }
        out
    }
}

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let drives = args.next().and_then(|n| n.parse().ok()).unwrap_or(100);
    let only = args.next().unwrap_or_default();
    println!(
        "{drives} drives each; half-widths in % of what is shown or of the truth, whichever is more"
    );
    println!(
        "{:<32}{:>8}{:>14}{:>10}{:>10}{:>10}  seeds missed",
        "in force, read", "named", "called right", "covered", "median", "widest"
    );
    let mut faults = Vec::new();
    for read in [Read::Distance, Read::Speed, Read::Bus] {
        let more = (read == Read::Bus).then_some(Case::OtherSourceRight);
        for case in CASES.into_iter().chain(more) {
            let name = format!("{case:?}, {read:?}");
            // A display of a tenth of a km/h shows a hundredth of the speed as nothing.
            let nothing = read == Read::Speed && case == Case::Times(0.01);
            if nothing || !name.contains(&only) {
                continue;
            }
            let sum = Sum::of(case, read, drives);
            println!(
                "{name:<32}{:>8}{:>14}{:>10.1}{:>10.4}{:>10.4}  {:?}",
                sum.named,
                sum.called_right,
                100.0 * sum.covered as f64 / sum.given.max(1) as f64,
                100.0 * sum.quantile(0.5),
                100.0 * sum.quantile(1.0),
                sum.missed
            );
            faults.extend(sum.faults(case, read).iter().map(|fault| format!("{name}: {fault}")));
        }
    }
    for fault in &faults {
        println!("MISSED: {fault}");
    }
    if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
