//! Are badly soldered boards found out on the bench, and sound ones left alone? Seeded simulated
//! boards, one table.
//!
//! No faulty board may pass, no sound one fail, and each fault must be named at its input, in every
//! seed. Ends with 1 when one is missed; the seeds are printed.
//!
//! `cargo run --release -p trundle-sweeps --bin bench-sweep -- [SEEDS] [ONLY]`

#![allow(clippy::print_stdout)]

use std::process::ExitCode;
use trundle_tests::bridging::{BoardCase, as_it_must, board_cases, check_board};
use trundle_tests::on_seeds::on_seeds;

/// Sound boards are checked on this many times as many seeds.
const SOUND_TIMES: u64 = 3;

/// Seeds in which it came out otherwise than it must, each with what came out.
fn sweep(case: &BoardCase, seeds: u64) -> Vec<(u64, String)> {
    let one = |seed| as_it_must(case, &check_board(case, seed)).err().map(|why| (seed, why));
    on_seeds(0..seeds, one).into_iter().flatten().collect()
}

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let seeds = args.next().and_then(|n| n.parse().ok()).unwrap_or(20);
    let only = args.next().unwrap_or_default();
    println!("{:<28} {:>6} {:>8}", "board", "seeds", "right");
    let mut missed = false;
    for case in board_cases().iter().filter(|case| case.name.contains(&only)) {
        let seeds = if case.fails.is_none() { SOUND_TIMES * seeds } else { seeds };
        let failed = sweep(case, seeds);
        missed |= !failed.is_empty();
        println!("{:<28} {seeds:>6} {:>8}", case.name, seeds - failed.len() as u64);
        for (seed, why) in failed {
            println!("  seed {seed}: {why}");
        }
    }
    ExitCode::from(u8::from(missed))
}
