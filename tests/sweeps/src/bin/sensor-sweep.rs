//! Are faults of sensors named, and sound sensors left alone? Seeded simulated jobs, one table.
//!
//! Each case must be named in 99 of 100 seeds, and healthy sensors accused in fewer than 1 in
//! 200. Ends with 1 when a limit is missed; the seeds that failed are printed.
//!
//! `cargo run --release -p trundle-sweeps --bin sensor-sweep -- [SEEDS] [ONLY]`
//!
//! `... sensor-sweep -- seed SEED ONLY` shows what was found for one seed.

#![allow(clippy::print_stdout)]

use std::process::ExitCode;
use trundle_tests::on_seeds::on_seeds;
use trundle_tests::sensor_cases::{Case, Ill, cases, findings, named, run};

/// Healthy sensors are run on this many times as many seeds.
const HEALTHY_TIMES: u64 = 2;
/// Share of the seeds in which a fault must be named.
const NAMED: f64 = 0.99;
/// Share of the seeds in which healthy sensors may be accused, not quite.
const ACCUSED: f64 = 1.0 / 200.0;

/// What came of one case.
#[derive(Default)]
struct Row {
    named: u64,
    accused: u64,
    failed: Vec<u64>,
}

fn sweep(case: &Case, seeds: u64) -> Row {
    let mut row = Row::default();
    let one = |seed| {
        let sensors = run(case, seed);
        let accused = sensors.iter().any(|sensor| findings(sensor).next().is_some());
        (seed, named(case, &sensors).is_ok(), accused)
    };
    for (seed, good, accused) in on_seeds(0..seeds, one) {
        row.named += u64::from(good);
        row.accused += u64::from(accused);
        if !good {
            row.failed.push(seed);
        }
    }
    row
}

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1).peekable();
    if args.next_if(|word| word == "seed").is_some() {
        let seed = args.next().and_then(|n| n.parse().ok()).unwrap_or(0);
        let only = args.next().unwrap_or_default();
        for case in cases().iter().filter(|case| case.name.contains(&only)) {
            println!("{}, seed {seed}: {:#?}", case.name, run(case, seed));
        }
        return ExitCode::SUCCESS;
    }
    let seeds = args.next().and_then(|n| n.parse().ok()).unwrap_or(100);
    let only = args.next().unwrap_or_default();
    println!("{:<38} {:>6} {:>9} {:>9}", "case", "seeds", "right %", "accused %");
    let mut missed = false;
    for case in cases().iter().filter(|case| case.name.contains(&only)) {
        let healthy = case.ill == Ill::Nothing;
        let seeds = if healthy { HEALTHY_TIMES * seeds } else { seeds };
        let row = sweep(case, seeds);
        let share = |count: u64| count as f64 / seeds as f64;
        let bad = share(row.named) < NAMED || healthy && share(row.accused) >= ACCUSED;
        missed |= bad;
        println!(
            "{:<38} {seeds:>6} {:>9.1} {:>9.1}{}{}",
            case.name,
            100.0 * share(row.named),
            100.0 * share(row.accused),
            if bad { "  LIMIT MISSED" } else { "" },
            if row.failed.is_empty() { String::new() } else { format!("  {:?}", row.failed) },
        );
    }
    ExitCode::from(u8::from(missed))
}
