//! Tells how long a job takes to simulate and how much comes out. Asserts no time.

use std::time::Instant;
use trundle_sim::{Port, Scenario, record_all};

#[test]
#[ignore = "a measurement, not a check: run with --release -- --ignored --nocapture"]
fn how_long_a_job_takes() {
    for name in ["plain", "rolling-gate", "noisy-lines"] {
        let scenario = Scenario::named(name).unwrap();
        let started = Instant::now();
        let (out, truth) = record_all(&scenario, 1);
        let took = started.elapsed();
        let bytes = |port: Port| {
            out.iter().filter(|e| e.port == port).map(|e| e.bytes.len()).sum::<usize>()
        };
        println!(
            "{name}: {:.1} s simulated in {:.0} ms; {} chunks, board {} bytes, receiver {} bytes",
            truth.end_us as f64 * 1e-6,
            took.as_secs_f64() * 1e3,
            out.len(),
            bytes(Port::Board),
            bytes(Port::Receiver),
        );
    }
}
