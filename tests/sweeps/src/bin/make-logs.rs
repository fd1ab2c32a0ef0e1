//! Make the simulated captures in `logs/` anew, with their provenance.
//!
//! `cargo run --release -p trundle-sweeps --bin make-logs`
//!
//! One job for each class of receiver. Rates are low (counts twice, fixes once a second) so that
//! the evidence stays small enough to keep with the code; the scenario is otherwise the plain one.
//! The joined capture of a real recording is not made here: see `logs/joined-real-receiver.toml`.

#![allow(clippy::print_stdout)]

use trundle_core::capture::encode;
use trundle_sim::{ReceiverClass, Scenario, Sentence};
use trundle_tests::simulate;

const COURSE: &str = r#"[course]
nominal_m = 100.0

[tape]
class = "II"
material = "steel"
temperature_c = 20.0
"#;
const SEED: u64 = 7;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = trundle_tests::folder().join("../logs");
    for class in ReceiverClass::ALL {
        let mut scenario = Scenario::default().with_receiver(class);
        // Where these captures have lain from the first; the simulator's own field lies at sea.
        scenario.longitude_deg = 0.1;
        scenario.passes = 4;
        scenario.rest_s = 8.0;
        scenario.report_period_us = 500_000;
        scenario.receiver.rate_hz = 1;
        scenario.receiver.sentences = vec![Sentence::Gga, Sentence::Rmc];
        scenario.receiver.slow_sentences.clear();
        let (records, truth) = simulate(&scenario, SEED, Some(COURSE));
        let mut bytes = Vec::new();
        records.iter().for_each(|record| encode(record, &mut bytes));
        let name = format!("simulated-{}", class.word());
        std::fs::write(folder.join(format!("{name}.capture")), &bytes)?;
        let provenance = format!(
            "# A simulated job; invented data throughout.\n\
             origin = \"simulator, scenario plain, seed {SEED}, receiver {}\"\n\
             made_with = \"cargo run --release -p trundle-sweeps --bin make-logs\"\n\
             passes = 4\n\
             wheel_impulses_per_100m = {}\n\
             radar_impulses_per_100m = {}\n\
             course_m = {}\n\
             licence = \"as the project\"\n",
            class.word(),
            truth.wheel_impulses_per_100m,
            truth.radar_impulses_per_100m,
            truth.course_m
        );
        std::fs::write(folder.join(format!("{name}.toml")), provenance)?;
        println!("{name}: {} bytes, {} passes", bytes.len(), truth.passes.len());
    }
    Ok(())
}
