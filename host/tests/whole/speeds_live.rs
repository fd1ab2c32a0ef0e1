//! `trundle speeds` at the pseudo-terminals of the simulator, at a raised pace: what it shows at
//! the end is what its own capture gives again, and the page is written.

use crate::support::job::kept_up;
use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, json, trundle};
use serde_json::Value;
use trundle_sim::Scenario;

/// Simulated seconds for each second.
const PACE: f64 = 8.0;

#[test]
fn a_live_comparison_is_the_replay_of_its_own_capture() {
    let mut scenario = Scenario::named("speed-steps").unwrap();
    scenario.lead_in_s = 20.0;
    scenario.rest_s = 12.0;
    scenario.speed_steps_m_s = vec![1.0, 2.0, 0.0, 3.0];
    kept_up(PACE, |pace| {
        let (result, finished) = live(&scenario, pace)?;
        assert_eq!(result["state"], "agree", "{result:#}\n{}", finished.stderr);
        assert_eq!(finished.code, Some(0), "{result:#}");
        Some(())
    });
}

/// The result of a live comparison, which is that of its replay; `None` when the machine stalled.
fn live(scenario: &Scenario, pace: f64) -> Option<(Value, Finished)> {
    let (tractor, folder) = (Tractor::start(scenario, 6, pace, None), TempDir::new());
    let (board, receiver) = (tractor.board(), tractor.receiver());
    let (capture, pace, page) = (folder.file("c"), pace.to_string(), folder.file("p.html"));
    let ports = ["--board", &board, "--receiver", &receiver, "--pace", &pace];
    let files = ["--capture", &capture, "--report", &page, "--json"];
    let args: Vec<&str> = std::iter::once("speeds").chain(ports).chain(files).collect();
    let mut program = Program::start(&args, &[]);
    assert!(program.until("recording", |p| p.said("Recording to ") > 0), "{}", program.stderr());
    program.until("the job", |_| tractor.done());
    program.types("q");
    let finished = program.finish();
    let again = trundle(&["speeds", &capture, "--json"]);
    assert_eq!((&again.stdout, again.code), (&finished.stdout, finished.code));
    let written = std::fs::read_to_string(&page).unwrap();
    assert!(written.starts_with("<!DOCTYPE html>") && written.ends_with("</html>\n"));
    (!tractor.starved()).then(|| (json(&finished.stdout), finished))
}
