//! `trundle slip` on a simulated headland behind two pseudo-terminals: what it says live at the end
//! is, to the byte, what it says of its own capture.

use crate::support::job::kept_up;
use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, json, trundle};
use trundle_sim::Scenario;

const SEED: u64 = 7;

/// Record two rows at this pace; `None` when the machine was too slow for it.
fn record(scenario: &Scenario, pace: f64, arms: &[&str], capture: &str) -> Option<Finished> {
    let tractor = Tractor::start(scenario, SEED, pace, None);
    let (board, receiver, pace) = (tractor.board(), tractor.receiver(), pace.to_string());
    let ports = ["--board", &board, "--receiver", &receiver, "--pace", &pace];
    let args = [&["slip", "--json", "--capture", capture], &ports[..], arms].concat();
    let mut program = Program::start(&args, &[]);
    assert!(program.until("recording", |p| p.said("Recording to ") > 0), "{}", program.stderr());
    assert!(program.until("the job", |_| tractor.done()), "{}", program.stderr());
    program.types("n wet by the hedge");
    program.types("q");
    let finished = program.finish();
    let starved = tractor.starved();
    tractor.stop();
    (!starved).then_some(finished)
}

#[test]
fn slip_live_is_slip_by_replay() {
    let mut scenario = Scenario::named("wet-headland").unwrap();
    scenario.passes = 2;
    scenario.lead_in_s = 40.0;
    let (_, truth) = trundle_sim::record_all(&scenario, SEED);
    let figure = truth.wheel_impulses_per_100m.to_string();
    let arms = ["--zero-slip-value", &figure, "--right", "0.4", "--ahead", "1.5"];
    let folder = TempDir::new();
    let capture = kept_up(12.0, |pace| {
        let capture = folder.file(&format!("at-{pace}.capture"));
        let finished = record(&scenario, pace, &arms, &capture)?;
        judge(&capture, &finished, &arms);
        Some(capture)
    });
    for (args, code, words) in [
        (vec!["slip", &capture[..]], 1, "--zero-slip-value"),
        (vec!["slip", &capture, "--zero-slip-value", "12000", "--right", "0.4"], 2, "--ahead"),
        (vec!["slip", &capture, "--zero-slip", &capture], 5, "gives no wheel value"),
        (vec!["slip", "--no-receiver", "--zero-slip-value", "12000"], 2, "satellite receiver"),
    ] {
        let refused = trundle(&args);
        assert_eq!(refused.code, Some(code), "{args:?}: {}", refused.stderr);
        let said = format!("{}{}", refused.stdout, refused.stderr);
        assert!(said.contains(words), "{args:?}: {said}");
    }
}

fn judge(capture: &str, finished: &Finished, arms: &[&str]) {
    let again = trundle(&[&["slip", capture, "--json"], arms].concat());
    assert_eq!(again.stdout, finished.stdout, "{}", finished.stderr);
    assert_eq!(again.code, finished.code);
    let result = json(&finished.stdout);
    assert!(result["sections"].as_array().unwrap().len() > 10, "{}", finished.stderr);
    assert!(finished.stderr.contains("pass 1: slip "), "{}", finished.stderr);
    // Two rows of which a sixth is wet: 4 % everywhere and 14 % more there.
    let slip = result["summary"]["distance_slip"].as_f64().unwrap();
    assert!((0.05..0.13).contains(&slip), "{slip}");
}
