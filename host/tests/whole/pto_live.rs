//! `trundle pto` at the pseudo-terminals of the simulator, at a raised pace: readings typed from
//! the seat, and the capture calculated again.

use crate::support::job::kept_up;
use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, json, trundle};
use serde_json::Value;
use trundle_sim::Scenario;

/// Simulated seconds for each second.
const PACE: f64 = 6.0;

#[test]
fn readings_typed_from_the_seat_give_the_number_again_and_again() {
    let mut scenario = Scenario::named("pto-speeds").unwrap();
    // Patience for a slow machine: the shaft waits at each speed.
    scenario.lead_in_s = 20.0;
    scenario.pto_steps.truncate(2);
    scenario.pto_steps[1].from_s = 80.0;
    scenario.rest_s = 160.0;
    kept_up(PACE, |pace| {
        let (result, finished, text) = live(&scenario, pace)?;
        assert_eq!(finished.code, Some(0), "{result:#}\n{}", finished.stderr);
        assert_eq!(result["to_enter"], 6);
        assert_eq!(result["set_now"]["verdict"], "twice_too_high");
        assert!(text.starts_with("PTO: ENTER 6 "), "{text}");
        Some(())
    });
}

/// The result of a live job, which is that of its replay, and its text; `None` when the machine
/// stalled.
fn live(scenario: &Scenario, pace: f64) -> Option<(Value, Finished, String)> {
    let (tractor, folder) = (Tractor::start(scenario, 5, pace, None), TempDir::new());
    let (board, capture, pace) = (tractor.board(), folder.file("c"), pace.to_string());
    let mut program = Program::start(
        &[
            "pto",
            "--board",
            &board,
            "--no-receiver",
            "--pace",
            &pace,
            "--capture",
            &capture,
            "--json",
            "--set-now",
            "12",
        ],
        &[],
    );
    assert!(program.until("recording", |p| p.said("Recording to ") > 0), "{}", program.stderr());
    for (number, (from_s, rpm)) in (1..).zip([(45.0, "540"), (115.0, "750")]) {
        program.until("the shaft", |_| tractor.now_s() > from_s);
        program.types(rpm);
        let answer = format!("Reading {number}: {rpm} rpm");
        assert!(program.until(&answer, |p| p.said(&answer) > 0), "{}", program.stderr());
    }
    program.types("fast");
    program.types("q");
    let finished = program.finish();
    let before = finished.stderr.find("at a turning shaft").unwrap();
    assert!(before < finished.stderr.find("Looking for the ports").unwrap(), "cautions come first");
    let again = trundle(&["pto", &capture, "--json", "--set-now", "12"]);
    assert_eq!((&again.stdout, again.code), (&finished.stdout, finished.code));
    let text = trundle(&["pto", &capture]).stdout;
    (!tractor.starved()).then(|| (json(&finished.stdout), finished, text))
}
