//! `trundle check --bench` through the built program, live with a simulated board behind a
//! pseudo-terminal; firmware of another version in `trundle ports`. Live equals replay, to the
//! byte.

use crate::support::job::kept_up;
use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, in_tree, json, trundle};
use trundle_sim::{BenchFault, BenchInput, Scenario};

/// Simulated seconds for each second: the filter has to be set within a quarter of a second of
/// the board's.
const PACE: f64 = 2.0;

fn on_bench(bridge: &[&str], faults: &[&str]) -> Scenario {
    let mut scenario = Scenario::named("bench").unwrap();
    scenario.bench.bridge = bridge.iter().map(|w| BenchInput::from_word(w).unwrap()).collect();
    scenario.bench.faults = faults.iter().map(|w| BenchFault::from_words(w).unwrap()).collect();
    scenario
}

/// A live check of this board; the capture's folder and what the program left, `None` when the
/// machine stalled.
fn live(scenario: &Scenario, inputs: &str, pace: f64) -> Option<(TempDir, Finished)> {
    let folder = TempDir::new();
    let tractor = Tractor::start(scenario, 3, pace, None);
    let (board, pace, capture) = (tractor.board(), pace.to_string(), folder.file("bench.capture"));
    let args = ["check", "--bench", "--board", &board, "--pace", &pace, "--input", inputs];
    let program = Program::start(&[&args[..], &["--capture", &capture, "--json"]].concat(), &[]);
    // It ends by itself.
    let finished = program.finish();
    let starved = tractor.starved();
    tractor.stop();
    (!starved).then_some((folder, finished))
}

fn result_of<'a>(result: &'a serde_json::Value, key: &str) -> &'a str {
    let lines = result["lines"].as_array().unwrap();
    lines.iter().find(|line| line["key"] == key).unwrap()["result"].as_str().unwrap()
}

fn replays(folder: &TempDir, finished: &Finished) {
    let again = trundle(&["check", "--bench", &folder.file("bench.capture"), "--json"]);
    assert_eq!(
        finished.stdout.trim_end(),
        again.stdout.trim_end(),
        "live is not what replay gives"
    );
    assert_eq!(finished.code, again.code);
}

#[test]
fn a_sound_board_is_led_through_without_a_key_and_passes() {
    let scenario = on_bench(&["wheel", "gate"], &[]);
    kept_up(PACE, |pace| {
        live(&scenario, "wheel,gate", pace).map(|(folder, finished)| {
            let Finished { code, stdout, stderr } = &finished;
            assert_eq!(*code, Some(0), "{stdout}\n{stderr}");
            let result = json(stdout);
            assert_eq!(result["format"], "trundle-bench");
            assert_eq!(result["firmware"]["stands"], "as_expected");
            for key in ["wheel", "gate", "filters"] {
                assert_eq!(result_of(&result, key), "pass", "{key}: {stdout}");
            }
            for words in ["1 of 2. Bridge the test pin (GP15) to the wheel input (GP2)", "2 of 2."]
            {
                assert!(stderr.contains(words), "{words}: {stderr}");
            }
            assert!(!stderr.contains("Pass 1"), "marks on the bench are no passes: {stderr}");
            replays(&folder, &finished);
        })
    });
}

#[test]
fn a_board_whose_filter_does_not_act_is_named() {
    let scenario = on_bench(&["radar"], &["no-filter:radar"]);
    kept_up(PACE, |pace| {
        live(&scenario, "radar", pace).map(|(folder, finished)| {
            let Finished { code, stdout, stderr } = &finished;
            assert_eq!(*code, Some(1), "{stdout}\n{stderr}");
            assert_eq!(result_of(&json(stdout), "radar"), "fail", "{stdout}");
            assert!(
                stdout.contains("with the filter at 1000 us 800 impulses were counted where 200"),
                "{stdout}"
            );
            replays(&folder, &finished);
        })
    });
}

#[test]
fn the_check_can_be_ended_when_the_board_was_pulled_out() {
    let folder = TempDir::new();
    let tractor = Tractor::start(&on_bench(&[], &[]), 3, 1.0, None);
    let (board, capture) = (tractor.board(), folder.file("bench.capture"));
    let args = ["check", "--bench", "--board", &board, "--capture", &capture, "--json"];
    let mut program = Program::start(&args, &[]);
    assert!(program.until("an input", |it| it.said("1 of 6. Bridge") > 0));
    tractor.stop();
    assert!(program.until("the loss", |it| it.said("disconnected") > 0));
    program.types("q");
    let Finished { code, stdout, stderr } = program.finish();
    assert_eq!(code, Some(1), "{stdout}\n{stderr}");
    assert_eq!(result_of(&json(&stdout), "wheel"), "not_seen", "{stdout}");
}

#[test]
fn a_capture_without_a_bench_check_and_odd_inputs_are_refused_in_words() {
    let path = in_tree("logs/simulated-rtk.capture").display().to_string();
    let none = trundle(&["check", "--bench", &path]);
    assert_eq!(none.code, Some(1), "{}", none.stderr);
    assert!(none.stdout.starts_with("NO CHECK ON THE BENCH"), "{}", none.stdout);
    let odd = trundle(&["check", "--bench", "--input", "horn"]);
    assert_eq!(odd.code, Some(2));
    assert!(odd.stderr.contains("wheel, radar, pto, implement, button, gate"), "{}", odd.stderr);
    assert_eq!(trundle(&["check", "--input", "wheel"]).code, Some(2), "--input is of --bench");
}

#[test]
fn another_firmware_is_said_with_the_way_to_update_it() {
    for (firmware, stands, words) in [
        ([0, 1, 0], "older", "BOOTSEL"),
        (trundle_core::fitness::firmware::EXPECTED, "as_expected", "as expected"),
        ([9, 0, 0], "newer", "Update this program"),
    ] {
        let mut scenario = on_bench(&["wheel"], &[]);
        scenario.bench.firmware = firmware;
        let tractor = Tractor::start(&scenario, 3, 1.0, None);
        let port = tractor.board();
        let text = trundle(&["ports", &port]);
        assert_eq!(text.code, Some(0), "{}", text.stderr);
        assert!(text.stdout.contains(words), "{words}: {}", text.stdout);
        let board = &json(&trundle(&["ports", &port, "--json"]).stdout)["ports"][0]["board"];
        assert_eq!(board["firmware_stands"], stands, "{board}");
        tractor.stop();
    }
}
