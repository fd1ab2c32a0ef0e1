//! The check before the course is taped: what passes, what fails, what was not seen; its JSON
//! against its schema.
//!
//! Outside source: JSON Schema draft 2020-12 (json-schema.org), as the `jsonschema` crate checks
//! it.

use serde_json::Value;
use trundle_core::capture::Record;
use trundle_core::result::check_v1::to_json;
use trundle_core::survey::sensors::check::{Check, CheckLine, Mark, check};
use trundle_show::text::check::render;
use trundle_sim::{Fault, Port, Scenario};
use trundle_tests::asking::simulate_asking;
use trundle_tests::replay_with_trail;
use trundle_tests::sensor_cases::{Case, Ill, cases, scenario};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-check-1.schema.json");

fn sound() -> Scenario {
    Scenario { pto_rpm: 540.0, ..scenario(&cases()[0], 21) }
}

pub fn check_of(records: &[Record]) -> Check {
    let session = replay_with_trail(records, 0);
    check(&session.trail().unwrap(), &session.totals(), session.ended())
}

fn checked(scenario: &Scenario) -> Check {
    check_of(&simulate_asking(scenario, 21).0)
}

fn line<'a>(check: &'a Check, key: &str) -> &'a CheckLine {
    check.lines.iter().find(|line| line.key == key).unwrap()
}

#[track_caller]
fn assert_line(scenario: &Scenario, key: &str, mark: Mark, words: &str) {
    let check = checked(scenario);
    let line = line(&check, key);
    assert!(line.mark == mark && line.what.contains(words), "{key}: {line:?}");
    assert_eq!(check.passes(), mark == Mark::Pass || line.optional && mark == Mark::NotSeen);
    assert!(mark == Mark::Pass || line.optional || !line.next.is_empty(), "{line:?}");
}

#[test]
fn a_sound_tractor_passes_on_every_line() {
    let check = checked(&sound());
    let text = render(&check);
    assert!(check.passes() && check.judged(), "{text}");
    assert!(check.lines.iter().all(|line| line.mark == Mark::Pass), "{text}");
    assert!(text.starts_with("READY"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    assert!(!text.contains('\u{1b}'), "nothing hangs on colour");
}

#[test]
fn each_line_fails_by_its_own_fault() {
    let with = |fault| Scenario { faults: vec![fault], ..sound() };
    let ill = |ill| scenario(&Case { name: "", ill, receiver: true }, 21);
    let damage = |port| with(Fault::ByteDamage { port, rate: 1e-3 });
    let reset = Fault::BoardReset { at_s: 5.0, boot_s: 0.5 };
    let gone = Fault::Quality { from_s: 0.0, to_s: 1e6, quality: 0 };
    let mut slow_line = sound();
    // 10 fixes a second of some 230 bytes need 23 000 bits per second.
    slow_line.receiver.baud = 19_200;
    for (scenario, key, words) in [
        (Scenario { supply_mv: 10_900, ..sound() }, "supply", "10.9 V"),
        (damage(Port::Board), "board_line", "damaged"),
        (damage(Port::Receiver), "receiver", "damaged"),
        (with(gone), "receiver", "no usable fix"),
        (slow_line, "receiver", "the line is full"),
        (with(reset), "board", "restarted 1 time"),
        (ill(Ill::MissingTooth(40)), "wheel_impulses", "one tooth of 40"),
        (ill(Ill::SilentBelow(1.5)), "wheel_slow", "silent below"),
        (ill(Ill::CountsAtRest(3.0)), "radar_rest", "impulses in"),
    ] {
        let check = checked(&scenario);
        let line = line(&check, key);
        assert!(line.mark == Mark::Fail && line.what.contains(words), "{key}: {line:?}");
        assert!(!check.passes() && !line.next.is_empty(), "{line:?}");
        assert!(render(&check).starts_with("NOT READY"), "{}", render(&check));
    }
}

#[test]
fn what_was_not_there_is_not_seen() {
    let silent = Fault::ReceiverSilent { from_s: 0.0, to_s: 1e6 };
    let blind = Scenario { faults: vec![silent], ..sound() };
    assert_line(&blind, "receiver", Mark::NotSeen, "nothing came");
    assert_line(&blind, "clock", Mark::NotSeen, "no usable fix");
    assert_line(&Scenario { rest_s: 4.0, ..sound() }, "wheel_rest", Mark::NotSeen, "standstill");
    // The implement and the shaft may be missing.
    assert_line(&Scenario { pto_rpm: 0.0, ..sound() }, "pto", Mark::NotSeen, "not turning");
    assert_line(&Scenario { implement: false, ..sound() }, "implement", Mark::NotSeen, "no change");
    let nothing = check_of(&[]);
    assert!(nothing.lines.iter().all(|line| line.mark == Mark::NotSeen), "{nothing:#?}");
    assert!(render(&nothing).starts_with("INCOMPLETE"), "{}", render(&nothing));
}

#[test]
fn every_check_keeps_to_the_schema() {
    let schema: Value = serde_json::from_str(SCHEMA).unwrap();
    assert!(jsonschema::meta::is_valid(&schema), "the schema itself is no valid schema");
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let mut checks: Vec<Check> = cases().iter().map(|case| checked(&scenario(case, 5))).collect();
    checks.push(check_of(&[]));
    for check in &checks {
        let json: Value = serde_json::from_str(&to_json(check)).unwrap();
        let faults: Vec<String> =
            validator.iter_errors(&json).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(faults.is_empty(), "{faults:#?}");
    }
    let good: Value = serde_json::from_str(&to_json(&checks[0])).unwrap();
    for (place, key, value) in [
        ("", "surplus", Value::from(1)),
        ("", "format", "something else".into()),
        ("/lines/0", "result", "fine".into()),
        ("/sensors/wheel", "ring_teeth", (-3).into()),
        ("/sensors/wheel/aspects/ring", "verdict", "healthy".into()),
    ] {
        let mut bad = good.clone();
        let object = bad.pointer_mut(place).and_then(Value::as_object_mut).unwrap();
        object.insert(key.to_owned(), value);
        assert!(!validator.is_valid(&bad), "{place}/{key} is let through");
    }
}
