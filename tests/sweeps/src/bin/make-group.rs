//! Make a folder of captures as the laptops of a workshop group send them: a folder for each.
//!
//! `cargo run --release -p trundle-sweeps --bin make-group -- FOLDER COUNT`
//!
//! Jobs are simulated, few of them, since that takes longest; each is recorded under many dates and
//! rigs. One in `DAMAGED` captures is scratched, and a few are no captures at all, so that there is
//! something that cannot be worked. All of it is invented.

#![allow(clippy::print_stdout)]

use std::path::Path;
use trundle_core::capture::{Entry, Record, encode};
use trundle_sim::{Scenario, Sentence};
use trundle_tests::{note, simulate};

const COURSE: &str = "[course]\nnominal_m = 100.0\n\n[tape]\nclass = \"II\"\nmaterial = \"steel\"\n\
                      temperature_c = 20.0\n";
/// Jobs that are simulated.
const JOBS: usize = 12;
/// The last has a name that cannot be a name in a partition as it stands.
const LAPTOPS: [&str; 4] = ["workshop", "van-north", "van-south", "hill farm = 3"];
/// Rigs of the group.
const RIGS: usize = 7;
/// One in so many captures is scratched in its middle.
const DAMAGED: usize = 25;
/// One in so many is no capture at all.
const FOREIGN: usize = 50;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, folder, count] = args.as_slice() else {
        return Err("make-group FOLDER COUNT".into());
    };
    let jobs: Vec<Vec<Record>> = (1..=JOBS as u64).map(job).collect();
    let count: usize = count.parse()?;
    for number in 0..count {
        let laptop = LAPTOPS[number % LAPTOPS.len()];
        let year = 2024 + number / LAPTOPS.len() % 3;
        let month = 1 + number % 12;
        // A laptop sorts its captures as it likes.
        let inner = if laptop == "workshop" { format!("{laptop}/{year}") } else { laptop.into() };
        let place = Path::new(folder).join(inner);
        std::fs::create_dir_all(&place)?;
        let day = format!("{year}-{month:02}-{:02}T08:00:00.000Z", 1 + number % 28);
        let bytes = capture(&jobs[number % JOBS], &day, number);
        std::fs::write(place.join(format!("job-{number:04}.capture")), bytes)?;
    }
    println!("{count} captures of {} laptops are in {folder}", LAPTOPS.len());
    Ok(())
}

fn job(seed: u64) -> Vec<Record> {
    // As the captures in `logs/`: low rates, so that it is made and worked quickly.
    let mut scenario = Scenario { passes: 4, rest_s: 8.0, ..Scenario::default() };
    scenario.report_period_us = 500_000;
    scenario.receiver.rate_hz = 1;
    scenario.receiver.sentences = vec![Sentence::Gga, Sentence::Rmc];
    scenario.receiver.slow_sentences.clear();
    simulate(&scenario, seed, Some(COURSE)).0
}

fn capture(job: &[Record], day: &str, number: usize) -> Vec<u8> {
    if number % FOREIGN == FOREIGN - 1 {
        // In turn an empty file, and one of another kind.
        return if number % (2 * FOREIGN) < FOREIGN {
            Vec::new()
        } else {
            format!("date,impulses\n{day},{number}\n").into_bytes()
        };
    }
    let mut records = job.to_vec();
    for record in &mut records {
        if let Entry::Header(header) = &mut record.entry {
            day.clone_into(&mut header.started_utc);
        }
    }
    note(&mut records, 1.0, &format!("rig: Rig {}", 1 + number % RIGS));
    note(&mut records, 2.0, &format!("job {number}"));
    let mut bytes = Vec::new();
    records.iter().for_each(|record| encode(record, &mut bytes));
    if number % DAMAGED == DAMAGED - 2 {
        let middle = bytes.len() / 2;
        bytes[middle..middle + 40].fill(0);
    }
    bytes
}
