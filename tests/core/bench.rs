//! The check of a board on the bench: faults are named, sound boards pass, replay judges the same.

use jsonschema::Validator;
use serde_json::Value;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::result::bench_v1::to_json;
use trundle_core::session::{Keeps, SessionEvent};
use trundle_core::survey::bench::{Bench, Input, bench};
use trundle_core::survey::sensors::check::Mark;
use trundle_protocol::message::Hello;
use trundle_show::text::bench::render;
use trundle_sim::{BenchFault, BenchInput, Scenario};
use trundle_tests::bridging::{
    BoardCase, Checked, as_it_must, board_cases, check_board, check_with, of_sim,
};
use trundle_tests::replay_keeping;

const SCHEMA: &str = include_str!("../../host/schemas/trundle-bench-1.schema.json");

fn validator() -> Validator {
    let schema: Value = serde_json::from_str(SCHEMA).unwrap();
    assert!(jsonschema::meta::is_valid(&schema), "the schema itself is no valid schema");
    jsonschema::draft202012::new(&schema).unwrap()
}

fn keeps_to_schema(validator: &Validator, bench: &Bench) -> Value {
    let json: Value = serde_json::from_str(&to_json(bench)).unwrap();
    let faults: Vec<String> =
        validator.iter_errors(&json).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(faults.is_empty(), "{faults:#?}");
    json
}

fn scenario(faults: Vec<BenchFault>) -> Scenario {
    let mut scenario = Scenario::named("bench").unwrap();
    scenario.bench.bridge.clear();
    scenario.bench.faults = faults;
    scenario
}

#[test]
fn every_fault_is_named_and_a_sound_board_passes() {
    let validator = validator();
    for case in board_cases() {
        let checked = check_board(&case, 3);
        as_it_must(&case, &checked).unwrap_or_else(|why| panic!("{}: {why}", case.name));
        let text = render(&checked.bench);
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
        let head = if case.fails.is_some() { "THE BOARD FAILS" } else { "THE BOARD PASSES" };
        assert!(text.starts_with(head), "{}: {text}", case.name);
        let json = keeps_to_schema(&validator, &checked.bench);
        assert_eq!(json["passes"], Value::from(case.fails.is_none()), "{}", case.name);
        let replayed = bench(&replay_keeping(&checked.records, Keeps::Trail(0)), false);
        assert_eq!(to_json(&replayed), to_json(&checked.bench), "{}", case.name);
    }
}

#[test]
fn a_sound_board_is_led_through_in_order_and_left_as_it_was() {
    let checked = check_with(&scenario(vec![]), &[], 8, |input| Some(of_sim(input)));
    let Checked { bench, said, took_s, .. } = checked;
    // No input was named: all that the board has.
    assert_eq!(bench.planned, Input::ALL, "{said:#?}");
    assert!(bench.passes() && bench.judged(), "{}", render(&bench));
    assert!(!render(&bench).contains("Not tested"), "{}", render(&bench));
    // The firmware of a board that is built has an input that is never bridged.
    let hello = bench.hello.map(|it| Hello { capabilities: it.capabilities | 1 << 7, ..it });
    let text = render(&Bench { hello, ..bench.clone() });
    assert!(text.contains("\nNot tested: PPS input.\n"), "{text}");
    let asked: Vec<&String> = said.iter().filter(|line| line.contains("Bridge the test")).collect();
    assert_eq!(asked.len(), 6, "{said:#?}");
    for (line, pin) in asked.iter().zip(["GP2", "GP3", "GP4", "GP5", "GP6", "GP7"]) {
        assert!(line.contains(pin) && line.contains("GP15"), "{line}");
    }
    // Six times the signal, a look before each, and a hand that takes its time.
    assert!(took_s < 6.0 * 20.0, "{took_s}");
    let wheel = bench.line(Input::Wheel).unwrap();
    assert!(wheel.numbers.contains(&("impulses", 25_500.0)), "{wheel:?}");
    assert!(wheel.numbers.contains(&("filter_refused", 600.0)), "{wheel:?}");
    let filters = bench.lines.iter().find(|line| line.key == "filters").unwrap();
    assert_eq!(filters.mark, Mark::Pass, "{filters:?}");
}

#[test]
fn a_check_of_some_inputs_says_which_it_says_nothing_of() {
    let inputs = [Input::Radar, Input::Gate];
    let checked = check_with(&scenario(vec![]), &inputs, 2, |input| Some(of_sim(input)));
    let text = render(&checked.bench);
    assert!(text.starts_with("THE BOARD PASSES: Every input that was bridged"), "{text}");
    let rest = "Not tested: wheel input, PTO input, implement input, button input.";
    assert!(text.contains(rest), "{text}");
}

#[test]
fn a_bridge_on_the_wrong_input_is_said_and_waited_for() {
    // The person always takes the neighbour.
    let next = |input| match input {
        Input::Wheel => Some(BenchInput::from_word("radar").unwrap()),
        other => Some(of_sim(other)),
    };
    let checked = check_with(&scenario(vec![]), &[Input::Wheel, Input::Pto], 2, next);
    let said = checked.said.join("\n");
    assert!(said.contains("arrives at the radar input, not at the wheel input"), "{said}");
    assert_eq!(said.matches("move the bridge to GP2").count(), 1, "once is enough: {said}");
    assert_eq!(checked.bench.line(Input::Wheel).unwrap().mark, Mark::Fail);
    assert_eq!(checked.bench.line(Input::Pto).unwrap().mark, Mark::Pass);
}

#[test]
fn what_was_not_bridged_is_never_called_sound() {
    // Nobody comes; the capture ends before patience does.
    let checked = check_with(&scenario(vec![]), &[Input::Wheel], 2, |_| None);
    assert_eq!(checked.bench.line(Input::Wheel).unwrap().mark, Mark::Fail);
    let early = checked.records.iter().filter(|record| record.host_ns < 20_000_000_000).cloned();
    let early: Vec<_> = early.collect();
    let bench = bench(&replay_keeping(&early, Keeps::Trail(0)), false);
    let line = bench.line(Input::Wheel).unwrap();
    assert_eq!(line.mark, Mark::NotSeen, "{line:?}");
    assert!(!bench.passes() && !bench.judged());
    assert!(render(&bench).starts_with("INCOMPLETE"), "{}", render(&bench));
    keeps_to_schema(&validator(), &bench);
}

#[test]
fn a_capture_without_a_bench_check_is_said_to_be_none() {
    let (records, _) =
        trundle_tests::simulate(&Scenario { passes: 1, ..Scenario::default() }, 1, None);
    let bench = bench(&replay_keeping(&records, Keeps::Trail(0)), false);
    assert!(!bench.passes(), "nothing was checked");
    assert!(render(&bench).starts_with("NO CHECK ON THE BENCH"), "{}", render(&bench));
    keeps_to_schema(&validator(), &bench);
}

#[test]
fn a_board_that_restarts_fails_although_every_input_passes() {
    let mut scenario = scenario(vec![]);
    scenario.faults = vec![trundle_sim::Fault::BoardReset { at_s: 9.0, boot_s: 0.5 }];
    let checked = check_with(&scenario, &[Input::Wheel], 4, |input| Some(of_sim(input)));
    let bench = &checked.bench;
    assert_eq!(bench.line(Input::Wheel).unwrap().mark, Mark::Pass, "{}", render(bench));
    assert_eq!(bench.lines[0].mark, Mark::Fail, "{}", render(bench));
    assert!(!bench.passes() && render(bench).contains("restarted 1 time"), "{}", render(bench));
}

#[test]
fn a_noisy_line_never_makes_a_faulty_board_pass_nor_a_sound_one_fail() {
    let damage = trundle_sim::Fault::ByteDamage { port: trundle_sim::Port::Board, rate: 1e-4 };
    for seed in 0..3 {
        let mut sound = scenario(vec![]);
        sound.faults = vec![damage];
        let checked = check_with(&sound, &[Input::Wheel], seed, |input| Some(of_sim(input)));
        let line = checked.bench.line(Input::Wheel).unwrap();
        assert_ne!(line.mark, Mark::Fail, "seed {seed}: {line:?}");
        let mut faulty = scenario(vec![BenchFault::Drops(of_sim(Input::Wheel))]);
        faulty.faults = vec![damage];
        let checked = check_with(&faulty, &[Input::Wheel], seed, |input| Some(of_sim(input)));
        let line = checked.bench.line(Input::Wheel).unwrap();
        assert_ne!(line.mark, Mark::Pass, "seed {seed}: {line:?}");
    }
}

#[test]
fn the_live_screens_say_another_firmware_and_how_to_update_it() {
    let said = |firmware| {
        let hello = Hello { firmware, ..Hello::default() };
        let event = LiveEvent::Seen(SessionEvent::Hello(hello));
        trundle_show::words::happened(&event, |_| String::new()).unwrap()
    };
    let expected = said(trundle_counter::FIRMWARE);
    assert!(expected.ends_with("as expected."), "{expected}");
    let old = said([0, 1, 0]);
    assert!(old.contains("older than the expected") && old.contains("update it"), "{old}");
    assert!(said([7, 0, 0]).contains("Update this program"));
}

#[test]
fn a_surplus_word_in_the_document_breaks_the_schema() {
    let case = BoardCase { inputs: vec![Input::Gate], ..board_cases().remove(0) };
    let validator = validator();
    let good = keeps_to_schema(&validator, &check_board(&case, 1).bench);
    for (place, key, value) in [
        ("", "surplus", Value::from(1)),
        ("", "format", "something else".into()),
        ("/lines/0", "result", "fine".into()),
        ("/firmware", "stands", "odd".into()),
    ] {
        let mut bad = good.clone();
        let object = bad.pointer_mut(place).and_then(Value::as_object_mut).unwrap();
        object.insert(key.to_owned(), value);
        assert!(!validator.is_valid(&bad), "{place}/{key} is let through");
    }
}
