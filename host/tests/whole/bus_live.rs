//! `trundle bus` at three pseudo-terminals of the simulator: the adapter is found by content and
//! set up to listen only, nothing else is ever sent to it, and what is shown at the end is what
//! the capture gives again.

use crate::support::job::kept_up;
use crate::support::tractor::Tractor;
use crate::support::{Program, TempDir, json, trundle};
use trundle_sim::{BusTractor, Scenario};

/// Simulated seconds for each second.
const PACE: f64 = 6.0;

fn scenario(tractor: BusTractor) -> Scenario {
    let scenario = Scenario::named("bus").unwrap();
    Scenario { passes: 2, lead_in_s: 60.0, bus: Some(tractor), ..scenario }
}

/// Every command an adapter may be sent.
#[track_caller]
fn assert_only_set_up(commands: &[String]) {
    assert!(commands.iter().any(|command| command == "L"), "{commands:?}");
    let known = |command: &String| ["C", "S5", "L", "V"].contains(&command.as_str());
    assert!(commands.iter().all(known), "{commands:?}");
}

#[test]
fn a_live_survey_of_the_bus_is_the_replay_of_its_own_capture() {
    kept_up(PACE, |pace| {
        let scenario = scenario(BusTractor::default());
        let (tractor, folder) = (Tractor::start(&scenario, 3, pace, None), TempDir::new());
        let ports = [tractor.board(), tractor.receiver(), tractor.bus()];
        let looked = trundle(&["ports", &ports[0], &ports[1], &ports[2], "--json"]);
        let roles = json(&looked.stdout);
        let role = |n: usize| roles["ports"][n]["role"].as_str().map(str::to_owned);
        assert_eq!(role(2).as_deref(), Some("bus adapter"), "{roles:#}");
        let (capture, paced) = (folder.file("c"), pace.to_string());
        let mut program = Program::start(
            &[
                "bus",
                "--board",
                &ports[0],
                "--receiver",
                &ports[1],
                "--bus",
                &ports[2],
                "--pace",
                &paced,
                "--capture",
                &capture,
                "--json",
            ],
            &[],
        );
        assert!(
            program.until("recording", |p| p.said("Recording to ") > 0),
            "{}",
            program.stderr()
        );
        program.types("");
        program.types("T18FE48F08D0074042000FFFFD");
        program.until("the job", |_| tractor.done());
        program.types("q");
        let finished = program.finish();
        let again = trundle(&["bus", &capture, "--json"]);
        assert_eq!((&again.stdout, again.code), (&finished.stdout, finished.code));
        let starved = tractor.starved();
        assert_only_set_up(&tractor.stop_and_tell_commands());
        let result = json(&finished.stdout);
        (!starved).then(|| {
            assert_eq!(result["streams"].as_array().unwrap().len(), 3, "{result:#}");
            let ratio = result["streams"][0]["scale"]["shown_over_true"].as_f64();
            assert!((ratio.unwrap() - 1.0).abs() < 0.005, "{result:#}");
        })
    });
}

#[test]
fn an_adapter_that_refuses_to_listen_only_is_not_used_and_why_is_said() {
    let refuses = BusTractor { adapter_listens: false, ..BusTractor::default() };
    let (tractor, folder) = (Tractor::start(&scenario(refuses), 4, 1.0, None), TempDir::new());
    let capture = folder.file("c");
    let (receiver, bus) = (tractor.receiver(), tractor.bus());
    let args = ["bus", "--no-board", "--receiver", &receiver, "--bus", &bus, "--capture", &capture];
    let refused = trundle(&args);
    assert_eq!(refused.code, Some(3), "{}", refused.stderr);
    assert!(refused.stderr.contains("refuses to listen only"), "{}", refused.stderr);
    assert!(!std::path::Path::new(&capture).exists());
    assert_only_set_up(&tractor.stop_and_tell_commands());
}
