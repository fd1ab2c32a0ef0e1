//! `--practice`: live commands on a simulated tractor inside the program, without ports.

use crate::support::job::kept_up;
use crate::support::{Program, TempDir, entries, json, trundle};
use trundle_core::capture::Entry;

/// Simulated seconds for each second.
const PACE: f64 = 10.0;

/// Practice is told in the capture, before the result and under it, by every live command.
#[test]
fn every_live_command_practises_and_says_so() {
    let folder = TempDir::new();
    let commands: [(&[&str], &str); 10] = [
        (&["check"], "check"),
        (&["check", "--bench"], "bench"),
        (&["drive", "--lines", "--length", "100 m"], "no-button"),
        (&["pto"], "pto-speeds"),
        (&["mount"], "circles"),
        (&["speeds"], "speed-steps"),
        (&["slip", "--lines", "--zero-slip-value", "12680"], "wet-headland"),
        (&["proof", "--length", "100 m"], "proof"),
        (&["proof"], "proof-bus"),
        (&["bus", "--no-board"], "bus"),
    ];
    for (at, (command, scenario)) in commands.into_iter().enumerate() {
        let capture = folder.file(&format!("{at}.capture"));
        let practice = ["--practice", scenario, "--pace", "10", "--capture", &capture];
        let mut program = Program::start(&[command, &practice[..]].concat(), &[]);
        let begun = program.until("recording", |p| p.stdout().contains("Simulated tractor: "));
        assert!(begun, "{command:?}: {}{}", program.stdout(), program.stderr());
        program.types("q");
        let finished = program.finish();
        let said = &finished.stdout;
        assert!(finished.code.is_some_and(|code| code < 2), "{command:?}: {finished:?}");
        assert!(said.contains("nothing here is a real measurement"), "{command:?}: {said}");
        assert!(!said.contains("Looking for the ports"), "{command:?}: {said}");
        let head = &entries(&capture)[0].entry;
        let Entry::Header(head) = head else { panic!("{command:?}: {head:?}") };
        assert!(head.practice && head.pace == 10.0, "{command:?}: {head:?}");
        let under = said.find("PRACTICE, not a measurement").unwrap();
        assert!(under < said.find("The capture is ").unwrap(), "{command:?}: {said}");
        let again = trundle(&[command[0], &capture]);
        if command[0] != "drive" && command[0] != "slip" {
            assert!(again.stdout.contains("PRACTICE, not a measurement"), "{command:?}");
        }
    }
    let worked = trundle(&["work", &folder.file("2.capture")]).stdout;
    assert!(worked.contains("PRACTICE, not a measurement"), "{worked}");
}

/// The terminal of the simulated tractor is read off and typed; what was keyed in is known.
#[test]
fn a_proof_drive_finds_the_old_value_in_the_simulated_terminal() {
    kept_up(PACE, |pace| {
        let (folder, pace) = (TempDir::new(), pace.to_string());
        let capture = folder.file("proof.capture");
        let practice = ["--practice", "proof-old", "--seed", "3", "--pace", &pace];
        let rest = ["--length", "100 m", "--capture", &capture, "--json"];
        let mut program = Program::start(&[&["proof"], &practice[..], &rest].concat(), &[]);
        for typed in 1..=4 {
            let invited =
                |p: &Program| p.stderr().matches("mark now; the terminal").count() >= typed;
            assert!(program.until("a peg", invited), "{}", program.stderr());
            let said = program.stderr();
            let shown = said.rsplit("mark now; the terminal shows ").next().unwrap();
            program.types(&format!("d {}", shown.split(' ').next().unwrap()));
            let marked = format!("{} saved", if typed % 2 == 1 { "start" } else { "end" });
            let number = typed.div_ceil(2);
            let marked = format!("Pass {number}: {marked}");
            assert!(program.until(&marked, |p| p.said(&marked) > 0), "{}", program.stderr());
        }
        program.types("q");
        let finished = program.finish();
        let result = json(&finished.stdout);
        assert_eq!(result["state"], "did_not_take", "{result:#}\n{}", finished.stderr);
        let old = |one: &serde_json::Value| one["fits"] == true && one["cause"] == "OLD";
        assert!(result["candidates"].as_array().unwrap().iter().any(old), "{result:#}");
        let again = trundle(&["proof", &capture, "--json"]);
        assert_eq!((&again.stdout, again.code), (&finished.stdout, finished.code));
        Some(())
    });
}

#[test]
fn practice_beside_a_port_or_of_an_unknown_scenario_is_refused() {
    let beside = trundle(&["drive", "--practice", "plain", "--board", "somewhere"]);
    assert_eq!((beside.code, beside.stdout.as_str()), (Some(2), ""), "{}", beside.stderr);
    let unknown = trundle(&["pto", "--practice", "moon"]);
    assert_eq!(unknown.code, Some(2), "{}", unknown.stderr);
    assert!(unknown.stderr.contains("pto-speeds"), "{}", unknown.stderr);
    let listed = trundle(&["demo", "--list"]).stdout;
    assert!(listed.contains("\npto-speeds ") && listed.contains("\nproof-bus-old "), "{listed}");
    let none = trundle(&["bus", "--practice", "plain"]);
    assert!(none.code == Some(2) && none.stderr.contains("bus-full"), "{}", none.stderr);
}
