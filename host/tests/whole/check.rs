//! `trundle check` through the built program: on a capture, and live with the simulated tractor
//! behind two pseudo-terminals. Live equals replay, to the byte.

use crate::support::job::{kept_up, patient};
use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, in_tree, json, trundle};
use trundle_sim::Scenario;

/// Simulated seconds for each second.
const PACE: f64 = 8.0;

/// Result and optional mark of a line.
fn line(result: &serde_json::Value, key: &str) -> String {
    let lines = result["lines"].as_array().unwrap();
    let line = lines.iter().find(|line| line["key"] == key).unwrap();
    line["result"].as_str().unwrap().to_owned()
}

#[test]
fn a_capture_without_edge_times_is_checked_as_far_as_it_goes() {
    let path = in_tree("logs/simulated-rtk.capture").display().to_string();
    let Finished { code, stdout, stderr } = trundle(&["check", &path, "--json"]);
    assert_eq!((code, stderr.as_str()), (Some(1), ""), "{stdout}");
    let result = json(&stdout);
    assert_eq!(result["format"], "trundle-check");
    for (key, expected) in
        [("supply", "pass"), ("receiver", "pass"), ("wheel_impulses", "not_seen")]
    {
        assert_eq!(line(&result, key), expected, "{key}: {stdout}");
    }
    let human = trundle(&["check", &path]);
    assert_eq!(human.code, Some(1));
    assert!(human.stdout.starts_with("INCOMPLETE"), "{}", human.stdout);
    assert!(human.stdout.contains("[pass] supply voltage: 12.6 V"), "{}", human.stdout);
}

#[test]
fn what_is_no_capture_and_what_is_no_option_is_refused() {
    let folder = TempDir::new();
    let none = trundle(&["check", &folder.file("none.capture"), "--json"]);
    assert_eq!((none.code, none.stdout.as_str()), (Some(5), ""), "{}", none.stderr);
    let both = trundle(&["check", "some.capture", "--board", "somewhere"]);
    assert_eq!((both.code, both.stdout.as_str()), (Some(2), ""), "{}", both.stderr);
}

/// A live check of this tractor; the capture's folder and what the program left, `None` when the
/// machine stalled.
fn live(scenario: &Scenario, pace: f64) -> Option<(TempDir, Finished)> {
    let folder = TempDir::new();
    let tractor = Tractor::start(scenario, 3, pace, None);
    let (board, receiver, pace) = (tractor.board(), tractor.receiver(), pace.to_string());
    let ports = ["check", "--board", &board, "--receiver", &receiver, "--pace", &pace];
    let capture = folder.file("check.capture");
    let mut program =
        Program::start(&[&ports[..], &["--capture", &capture, "--json"]].concat(), &[]);
    if program.until("the job", |_| tractor.done()) {
        program.types("q");
    }
    let finished = program.finish();
    let starved = tractor.starved();
    tractor.stop();
    (!starved).then_some((folder, finished))
}

#[test]
fn a_live_check_names_the_fault_and_replays_to_the_same_bytes() {
    let rests = Scenario { rest_s: 30.0, course_m: 60.0, ..patient("corrected", 2) };
    let ill = Scenario { missing_tooth: Some(11), wheel_teeth: 40, ..rests };
    kept_up(PACE, |pace| live(&ill, pace).map(|(folder, finished)| judge(&folder, &finished)));
}

fn judge(folder: &TempDir, finished: &Finished) {
    let Finished { code, stdout, stderr } = finished;
    let again = trundle(&["check", &folder.file("check.capture"), "--json"]);
    assert_eq!(stdout.trim_end(), again.stdout.trim_end(), "live is not what replay gives");
    assert_eq!((*code, again.code), (Some(1), Some(1)), "{stderr}");
    for words in ["Before you drive:", "Never look at", "Recording to"] {
        assert!(stderr.contains(words), "{words}: {stderr}");
    }
    assert_eq!(line(&json(stdout), "wheel_impulses"), "fail", "{stderr}");
    assert!(stdout.contains("one tooth of 40"), "{stdout}");
    assert_eq!(line(&json(stdout), "radar_impulses"), "pass", "{stderr}");
}
