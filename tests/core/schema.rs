//! The schema of the result file against real results, both ways: what is written must be
//! allowed, and what is described must be written by some job.
//!
//! Outside source: JSON Schema draft 2020-12 (json-schema.org), as the `jsonschema` crate checks
//! it.

use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;
use trundle_core::capture::Record;
use trundle_core::course::tape::TapeAccuracy;
use trundle_core::figure::{Job, Work, WorkOptions, work};
use trundle_core::result::work_v1::WorkV1;
use trundle_sim::{Fault, ReceiverClass, Scenario, Sentence};
use trundle_tests::{plain_course, replay, simulate, simulated_work, work_session};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-work-1.schema.json");
const FAULT_CODES: &str = include_str!("../../host/core/src/flags.rs");

fn schema() -> Value {
    serde_json::from_str(SCHEMA).unwrap()
}

fn parsed(work: &Work) -> Value {
    serde_json::from_str(&WorkV1::of(work).to_json()).unwrap()
}

fn with_every_answer(records: &[Record], impulses_per_turn: f64, context: bool) -> Work {
    let session = replay(records);
    let totals = session.totals();
    let job = Job { passes: session.passes(), totals: &totals, whole: session.ended() };
    let options = WorkOptions {
        course: Some(plain_course(100.0)),
        monte_carlo: Some(1000),
        as_found: Some(13400.0),
        rate_l_per_ha: context.then_some(200.0),
        impulses_per_turn: Some(impulses_per_turn),
        circumference_m: context.then_some(5.0),
    };
    work(&job, &options)
}

/// Jobs of every kind: clean, contradicting, without receiver, with refused passes, on the move,
/// with a noisy sensor, without a course.
static RESULTS: LazyLock<Vec<(&str, Value)>> = LazyLock::new(|| {
    let simulated = |name: &'static str, scenario: &Scenario, course_m: f64| {
        (name, parsed(&simulated_work(scenario, 11, &plain_course(course_m)).0))
    };
    let mut plain = Scenario::default();
    plain.receiver.slow_sentences = vec![Sentence::Gsa, Sentence::Gsv, Sentence::Zda];
    let silent = Scenario {
        faults: vec![Fault::ReceiverSilent { from_s: 0.0, to_s: 1e6 }],
        ..Scenario::default()
    };
    let named = |name: &str| Scenario::named(name).unwrap();
    let (records, _) = simulate(&plain, 12, None);
    let mut certified = plain_course(plain.course_m);
    certified.tape.accuracy =
        TapeAccuracy::Certificate { standard_uncertainty_m: 0.004, certified_length_m: None };
    vec![
        simulated("clean", &plain.clone().with_receiver(ReceiverClass::Corrected), 100.0),
        simulated("contradicting", &plain, 101.0),
        simulated("mistyped by far", &plain, 1000.0),
        simulated("no receiver", &silent, 100.0),
        simulated("refused pass", &named("board-reset"), 100.0),
        simulated("on the move", &named("rolling-gate"), 100.0),
        simulated("noisy sensor", &named("bounce"), 100.0),
        simulated("frozen fixes", &named("fix-frozen"), 100.0),
        ("every answer", parsed(&with_every_answer(&records, 640.0, true))),
        ("answers without context", parsed(&with_every_answer(&records, 640.0, false))),
        ("a question without sense", parsed(&with_every_answer(&records, 0.01, false))),
        ("no course", parsed(&work_session(&replay(&records), None))),
        ("certified tape", parsed(&work_session(&replay(&records), Some(&certified)))),
        ("nothing driven", parsed(&work_session(&replay(&[]), Some(&certified)))),
    ]
});

#[test]
fn every_result_keeps_to_the_schema() {
    let schema = schema();
    assert!(jsonschema::meta::is_valid(&schema), "the schema itself is no valid schema");
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    for (name, result) in RESULTS.iter() {
        let faults: Vec<String> =
            validator.iter_errors(result).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(faults.is_empty(), "{name}: {faults:#?}");
    }
}

#[test]
fn a_wrong_document_is_refused() {
    let schema = schema();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let good = &RESULTS[0].1;
    assert!(validator.is_valid(good));
    let wrong: [(&str, &str, Value); 14] = [
        ("", "surplus", json!(1)),
        ("", "version", json!(2)),
        ("", "format", json!("something else")),
        ("", "state", json!("fine")),
        ("/course", "length_m", json!("100")),
        ("/course", "length_m", json!(-100.0)),
        ("/channels", "shaft", json!({})),
        ("/channels/wheel", "value_to_enter", json!(13_004.5)),
        ("/channels/wheel/tape", "impulses_per_100m", json!(null)),
        ("/channels/wheel/passes/0", "start_utc", json!("1 May 2026")),
        ("/channels/wheel/passes/0", "fix_quality", json!(["RTK fixed"])),
        ("/channels/wheel/passes/0", "flags", json!(["NO_SUCH_CODE"])),
        ("/channels/wheel/budget/0", "key", json!("tape, class II")),
        ("/channels/wheel/agreement", "difference", json!(null)),
    ];
    for (place, key, value) in wrong {
        let mut bad = good.clone();
        let object = bad.pointer_mut(place).and_then(Value::as_object_mut).unwrap();
        object.insert(key.to_owned(), value);
        assert!(!validator.is_valid(&bad), "{place}/{key} is let through");
    }
    for (place, key) in [("", "cautions"), ("/channels/wheel", "budget"), ("/course", "length_m")] {
        let mut bad = good.clone();
        bad.pointer_mut(place).and_then(Value::as_object_mut).unwrap().remove(key).unwrap();
        assert!(!validator.is_valid(&bad), "{place}/{key} may be left out");
    }
}

/// For each property of the schema, by the place of its description: was it seen with a value,
/// and was it seen null?
type Seen = BTreeMap<String, (bool, bool)>;

/// The schema behind references, and behind a choice between something and null.
fn resolve<'a>(root: &'a Value, at: &str, node: &'a Value) -> (String, &'a Value) {
    if let Some(reference) = node["$ref"].as_str() {
        let pointer = reference.trim_start_matches('#');
        return resolve(root, pointer, root.pointer(pointer).unwrap());
    }
    if let Some(choices) = node["anyOf"].as_array() {
        return resolve(root, at, &choices[0]);
    }
    (at.to_owned(), node)
}

fn may_be_null(node: &Value) -> bool {
    let types = node["type"].as_array().is_some_and(|t| t.contains(&json!("null")));
    let words = node["enum"].as_array().is_some_and(|t| t.contains(&Value::Null));
    let choice = node["anyOf"].as_array().is_some_and(|c| c.contains(&json!({"type": "null"})));
    types || words || choice
}

/// Walk a result beside the schema and note what is met.
fn meet(root: &Value, at: &str, node: &Value, value: &Value, seen: &mut Seen) {
    let (at, node) = resolve(root, at, node);
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                let place = format!("{at}/properties/{key}");
                let entry = seen.entry(place.clone()).or_default();
                entry.0 |= !value.is_null();
                entry.1 |= value.is_null();
                meet(root, &place, &node["properties"][key], value, seen);
            }
        }
        Value::Array(items) => {
            for item in items {
                meet(root, &format!("{at}/items"), &node["items"], item, seen);
            }
        }
        _ => {}
    }
}

/// Every property that the schema describes, with its node.
fn described<'a>(at: &str, node: &'a Value, out: &mut Vec<(String, &'a Value)>) {
    if let Some(properties) = node["properties"].as_object() {
        for (key, property) in properties {
            let place = format!("{at}/properties/{key}");
            described(&place, property, out);
            out.push((place, property));
        }
    }
    if let Some(definitions) = node["$defs"].as_object() {
        for (key, definition) in definitions {
            described(&format!("/$defs/{key}"), definition, out);
        }
    }
}

/// A figure always has a source with finite degrees of freedom, the scatter of its passes; the
/// writer still has a word for infinity, because JSON has none.
const NEVER_NULL_YET: &str = "/$defs/figure/properties/degrees_of_freedom";

#[test]
fn nothing_is_described_that_no_job_writes() {
    let root = schema();
    let mut seen = Seen::new();
    for (_, result) in RESULTS.iter() {
        meet(&root, "", &root, result, &mut seen);
    }
    let mut all = Vec::new();
    described("", &root, &mut all);
    assert!(all.len() > 50, "the walk over the schema finds only {} properties", all.len());
    for (place, node) in &all {
        let (valued, null) = seen.get(place).copied().unwrap_or_default();
        assert!(valued, "{place} never has a value");
        let excused = place == NEVER_NULL_YET;
        assert!(null != excused || !may_be_null(node), "{place} may be null, but never is");
        assert!(node["description"].is_string(), "{place} is not described");
    }
}

#[test]
fn every_object_is_closed_and_every_number_has_its_unit() {
    let root = schema();
    let mut all = Vec::new();
    described("", &root, &mut all);
    let objects = root["$defs"].as_object().unwrap().values().chain([&root]);
    for object in objects.filter(|o| o["type"] == "object") {
        assert_eq!(object["additionalProperties"], json!(false), "{object}");
    }
    let units =
        ["metres", "seconds", "impulses per 100 m", "no unit", "own unit", "Impulses", "hectare"];
    for (place, node) in all {
        let is_number = node["type"] == "number" || node["type"] == json!(["number", "null"]);
        let text = node["description"].as_str().unwrap();
        let named = units.iter().any(|unit| text.contains(unit));
        assert!(!is_number || named, "{place} has no unit: {text}");
    }
}

#[test]
fn the_schema_knows_every_code_and_no_other() {
    let root = schema();
    let listed: BTreeSet<String> = root["$defs"]["code"]["enum"]
        .as_array()
        .unwrap()
        .iter()
        .map(|word| word.as_str().unwrap().to_owned())
        .collect();
    // The words stand in one list, each as `Name = "WORD",`.
    let written: BTreeSet<String> = FAULT_CODES
        .lines()
        .filter_map(|line| line.trim().split_once(" = \""))
        .map(|(_, rest)| rest.trim_end_matches(['"', ',']).to_owned())
        .filter(|word| word.chars().all(|c| c.is_ascii_uppercase() || c == '_'))
        .collect();
    assert!(written.len() > 30, "only {} codes found in the source", written.len());
    let missing: Vec<_> = written.difference(&listed).collect();
    let surplus: Vec<_> = listed.difference(&written).collect();
    assert!(missing.is_empty(), "not in the schema's $defs/code: {missing:?}");
    assert!(surplus.is_empty(), "in the schema, but not in the program: {surplus:?}");
}
