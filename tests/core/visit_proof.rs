//! The proof drive as a part of a record: as left, measured, beside as left, typed.
//!
//! Outside source: JSON Schema draft 2020-12 (json-schema.org), as the `jsonschema` crate checks
//! it.

use serde_json::Value;
use serde_json::value::RawValue;
use std::sync::LazyLock;
use trundle_core::result::as_left;
use trundle_core::result::compare_v1;
use trundle_core::result::part_of::{PartVerified, Standing, verify_part, work_part};
use trundle_core::result::part_v1::{OriginV1, PartMethodV1, PartV1, ProofMethodV1, keeps};
use trundle_core::result::proof_v1;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::sign_off::{Said, SignRefusal, Visit, sign_off, signed_value};
use trundle_core::session::Session;
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::proof::{Known, Origin, ProofOptions, SignedValue, Stated, proof};
use trundle_protocol::units::Channel;
use trundle_show::export::records::export;
use trundle_show::html::record::PaperFacts;
use trundle_show::html::{record as paper, record_short as short_paper};
use trundle_show::text::compare as compare_text;
use trundle_show::text::record as text;
use trundle_sim::Scenario;
use trundle_tests::papers::kept;
use trundle_tests::visit::{ENTERED, OLD, drive, part_of, proof_drive, proof_method};
use trundle_tests::{note, replay_keeping, replay_with_both, simulate};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-record-1.schema.json");

static TOOK: LazyLock<PartV1> =
    LazyLock::new(|| part_of(&proof_drive(ENTERED), proof_method(ENTERED)));
static OLD_IN_FORCE: LazyLock<PartV1> =
    LazyLock::new(|| part_of(&proof_drive(OLD), proof_method(ENTERED)));

fn session(records: &[trundle_core::capture::Record]) -> Session {
    replay_keeping(records, keeps("proof"))
}

/// The record of the course, with this part.
fn with(part: &PartV1) -> RecordV1 {
    RecordV1 { parts: vec![part.clone()], ..kept("simulated-rtk") }.seal()
}

/// Every form of a record, space as one.
fn forms(record: &RecordV1) -> [String; 3] {
    let (work, facts) = (record.worked().unwrap(), PaperFacts::default());
    let forms = [
        paper::page(record, work.as_ref(), &facts),
        short_paper::page(record, work.as_ref(), &facts),
        text::render(record, work.as_ref(), &facts),
    ];
    forms.map(|form| form.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn sign(part: &PartV1, as_left: f64, because: Option<&str>) -> Result<RecordV1, SignRefusal> {
    let record = kept("simulated-rtk");
    let work = record.worked().unwrap().unwrap();
    let said = Said {
        issued_utc: record.issued_utc.clone(),
        rig: record.rig.clone(),
        as_left: Some(as_left),
        accepted_because: because.map(str::to_owned),
        ..Said::default()
    };
    let course = Some((&work, record.capture.unwrap()));
    sign_off(Visit { course, parts: vec![part.clone()], practice: true }, said)
}

#[test]
fn a_proof_drive_in_a_record_keeps_to_the_schema_and_comes_back_with_all_it_was_told() {
    let validator = jsonschema::draft202012::new(&serde_json::from_str(SCHEMA).unwrap()).unwrap();
    for part in [&*TOOK, &*OLD_IN_FORCE] {
        let record = with(part);
        let value: Value = serde_json::from_str(&record.to_json()).unwrap();
        let faults: Vec<String> = validator.iter_errors(&value).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{faults:#?}");
        let back = RecordV1::from_json(&record.to_json()).unwrap();
        assert_eq!(back.to_json(), record.to_json());
        assert_eq!(back.parts[0].method, part.method);
    }
    // Everything that can be told comes back to the last bit.
    let known = Known { source: Some(Channel::Radar), values: Vec::new() }
        .with(Origin::Entered, 13_004.25)
        .with(Origin::Old, 12_612.0)
        .with(Origin::OtherSensor, 13_061.0)
        .with(Origin::Tyres("Winter, narrow".to_owned()), 12_450.0);
    let stated = Stated {
        distance_step_m: Some(0.1 * 0.3048),
        speed_step_km_h: Some(0.160_934_4),
        wrap_m: Some(10_000.0),
        rate_l_per_ha: Some(200.0),
    };
    let how = ProofMethodV1::of(Some("[course]\nnominal_m = 99.5\n".to_owned()), &known, stated);
    let text = serde_json::to_string(&PartMethodV1::Proof(how.clone())).unwrap();
    assert_eq!(
        serde_json::from_str::<PartMethodV1>(&text).unwrap(),
        PartMethodV1::Proof(how.clone())
    );
    assert_eq!(how.known(), known);
}

/// To the byte, and nothing of it hangs on what a register says later.
#[test]
fn a_proof_drive_holds_the_document_of_its_own_command_and_is_verified_by_its_capture() {
    let records = proof_drive(ENTERED);
    let PartMethodV1::Proof(how) = &TOOK.method else { panic!() };
    let options = ProofOptions { known: how.known(), ..ProofOptions::default() };
    let own = proof(&replay_with_both(&records, THINNED_US), false, &options);
    assert_eq!(TOOK.result.get(), proof_v1::to_json(&own));
    let now = env!("CARGO_PKG_VERSION");
    assert_eq!(verify_part(&TOOK, &session(&records), now), Ok(PartVerified::Same));

    // Of another version, with the same values.
    let mut other = TOOK.clone();
    let text = other.result.get().replace(&format!("\"software\":\"{now}\""), "\"software\":\"0\"");
    other.result = RawValue::from_string(text).unwrap();
    let found = verify_part(&other, &session(&records), "0").unwrap();
    assert!(matches!(found, PartVerified::SameValues { .. }), "{found:?}");
    // A verdict, or a ratio, that was changed.
    let mut value: Value = serde_json::from_str(TOOK.result.get()).unwrap();
    value["shown_over_true"]["value"] = 1.01.into();
    other.result = RawValue::from_string(value.to_string()).unwrap();
    let found = verify_part(&other, &session(&records), now).unwrap();
    assert!(matches!(found, PartVerified::Differs { .. }), "{found:?}");
    // Another drive in the place of its own.
    let found = verify_part(&TOOK, &session(&proof_drive(OLD)), now).unwrap();
    let PartVerified::Differs { then, now } = found else { panic!("{found:?}") };
    assert_eq!((then.state.as_str(), now.state.as_str()), ("took", "did_not_take"));
    // One without a reading is no damage of the record: its values differ.
    let found = verify_part(&TOOK, &session(&drive("plain", 1)), "0").unwrap();
    assert!(matches!(found, PartVerified::Differs { .. }), "{found:?}");
}

#[test]
fn how_a_proof_drive_stands_follows_its_answer() {
    assert_eq!(TOOK.flag, None);
    let words = OLD_IN_FORCE.flag.as_deref().unwrap();
    assert_eq!(words, "it did not take: the old value 13020 is still in force");
    let empty = session(&drive("plain", 1));
    let (_, standing) = work_part(&empty, &proof_method(ENTERED));
    let Standing::Refused(why) = standing else { panic!("{standing:?}") };
    assert_eq!(why, "nothing was typed that the terminal showed");
    // One reading, at one peg only: the reason is named.
    let (mut records, truth) = simulate(&Scenario { passes: 1, ..Scenario::default() }, 3, None);
    note(&mut records, truth.passes[0].start_us as f64 * 1e-6 + 1.0, "shown distance 12.5");
    let (_, standing) = work_part(&session(&records), &proof_method(ENTERED));
    let Standing::Refused(why) = standing else { panic!("{standing:?}") };
    assert!(why.contains("none of the 1 readings can be used: pass 1: no distance"), "{why}");
}

#[test]
fn as_left_measured_stands_beside_as_left_typed_on_every_form() {
    for form in forms(&with(&TOOK)) {
        let small = form.to_lowercase();
        assert!(small.contains("as left, measured"), "{form}");
        assert!(form.contains("it took: value 12713 is in force"), "{form}");
        assert!(small.contains("shown over true"), "{form}");
        assert!(!form.contains("Typed as left"), "{form}");
    }
    // Nothing measured: nothing new.
    for form in forms(&kept("simulated-rtk")) {
        assert!(!form.to_lowercase().contains("as left, measured"), "{form}");
    }
    for form in forms(&with(&OLD_IN_FORCE)) {
        let said = "Typed as left in the terminal: 12713; as left, measured: it did not take: the \
                    old value 13020 is still in force.";
        assert!(form.contains(said), "{form}");
        assert!(form.contains("DID NOT TAKE"), "{form}");
    }
}

#[test]
fn a_value_typed_as_left_that_the_proof_drive_contradicts_is_signed_off_for_a_reason_only() {
    // The value typed is the one keyed in, and it did not take.
    let refused = sign(&OLD_IN_FORCE, ENTERED, None).unwrap_err();
    assert!(matches!(refused, SignRefusal::PartFlagged { part: "proof drive", .. }), "{refused}");
    let record = sign(&OLD_IN_FORCE, ENTERED, Some("the dealer sees to it")).unwrap();
    assert_eq!(as_left::measured(&record), Some("did_not_take"));
    let work = record.worked().unwrap();
    assert_eq!(record.state(work.as_ref()), "flagged");
    // The value keyed in took, and another one was typed as left.
    assert!(sign(&TOOK, ENTERED, None).is_ok());
    let refused = sign(&TOOK, 12_990.0, None).unwrap_err();
    let SignRefusal::PartFlagged { why, .. } = &refused else { panic!("{refused}") };
    assert!(why.contains("typed as left in the terminal: 12990; as left, measured"), "{why}");
    let record = sign(&TOOK, 12_990.0, Some("a test")).unwrap();
    assert_eq!(as_left::measured(&record), Some(as_left::OTHER_VALUE));
    for form in forms(&record) {
        assert!(form.contains("ANOTHER VALUE IS IN FORCE"), "{form}");
    }
    // The terminal shows the value rounded, or the old one was typed that is in force.
    let record = sign(&TOOK, 12_710.0, None).unwrap();
    assert_eq!(as_left::measured(&record), Some("took"));
    assert_eq!(as_left::contradicted(&OLD_IN_FORCE, Some(OLD)), None);
    assert_eq!(as_left::contradicted(&OLD_IN_FORCE, None), None);
}

#[test]
fn what_is_signed_off_is_what_was_keyed_in() {
    let record = kept("simulated-rtk");
    let work = record.worked().unwrap().unwrap();
    let radar = work.channels["radar"].value_to_enter.map(|value| value as f64);
    let said = Said { as_found: Some(13_020.0), ..Said::default() };
    let wanted = SignedValue {
        source: Channel::Wheel,
        entered: ENTERED,
        as_found: Some(13_020.0),
        other: radar,
    };
    assert_eq!(signed_value(&work, &said), Some(wanted));
    let said = Said { as_left: Some(12_700.0), channel: Some("radar".to_owned()), ..said };
    let value = signed_value(&work, &said).unwrap();
    assert_eq!((value.source, value.entered), (Channel::Radar, 12_700.0));
    assert_eq!(value.other, Some(ENTERED));
}

/// A proof drive alone may be told its course and rate; a value left belongs to a course.
#[test]
fn a_proof_drive_alone_is_signed_off_with_what_it_was_told() {
    let visit = |part: &PartV1| Visit { course: None, parts: vec![part.clone()], practice: true };
    let day = || "2026-05-01T09:12:30Z".to_owned();
    let record = sign_off(visit(&TOOK), Said { issued_utc: day(), ..Said::default() }).unwrap();
    assert_eq!((record.state(None), as_left::measured(&record)), ("valid", Some("took")));
    for form in forms(&record) {
        assert!(form.to_lowercase().contains("as left, measured"), "{form}");
        assert!(form.contains("it took: value 12713 is in force"), "{form}");
    }
    let course = "[course]\nnominal_m = 100.0\n".to_owned();
    let PartMethodV1::Proof(how) = proof_method(ENTERED) else { panic!() };
    let stated = Stated { rate_l_per_ha: Some(200.0), ..Stated::default() };
    let told = ProofMethodV1::of(Some(course.clone()), &how.known(), stated);
    let told = part_of(&proof_drive(ENTERED), PartMethodV1::Proof(told));
    let said = Said {
        issued_utc: day(),
        course_toml: Some(course),
        rate_l_per_ha: Some(200.0),
        ..Said::default()
    };
    assert!(sign_off(visit(&told), said.clone()).is_ok());
    // Told to nobody.
    let refused = sign_off(visit(&TOOK), said).unwrap_err();
    assert_eq!(refused, SignRefusal::NoCourse("a course"));
}

#[test]
fn a_proof_drive_is_compared_and_goes_out_in_columns() {
    let (first, second) = (with(&TOOK), with(&OLD_IN_FORCE));
    let works = [first.worked().unwrap(), second.worked().unwrap()];
    let compared = compare_v1::compare((&first, works[0].as_ref()), (&second, works[1].as_ref()));
    let at: Vec<&str> = compared.differences.iter().map(|one| one.at.as_str()).collect();
    for wanted in ["as_left", "shown_over_true", "in_force", "flag"] {
        assert!(at.contains(&format!("parts.proof.{wanted}").as_str()), "{wanted}: {at:?}");
    }
    // What was known of the terminal is said in words, where it differs.
    assert!(!at.contains(&"parts.proof.method.known"), "{at:?}");
    let mut told_less = TOOK.clone();
    if let PartMethodV1::Proof(how) = &mut told_less.method {
        how.known.retain(|one| one.origin != OriginV1::Old);
    }
    let other = with(&told_less);
    let compared = compare_v1::compare((&first, works[0].as_ref()), (&other, works[0].as_ref()));
    let wanted = "parts.proof.method.known: keyed in 12713; old 13020; on the tyres \"Wide \
                  wheels\" 12105 -> keyed in 12713; on the tyres \"Wide wheels\" 12105\n";
    assert!(compare_text::render(&compared).contains(wanted), "{compared:#?}");
    let table = export(&[kept("simulated-rtk"), first, second]).unwrap().table;
    let of = |row: usize, name: &str| {
        let at = table.heads.iter().position(|head| head.name == name).unwrap();
        format!("{:?}", table.rows[row][at])
    };
    assert_eq!(of(0, "as_left_measured"), "Empty");
    assert_eq!(of(1, "as_left_measured"), "Text(\"took\")");
    assert_eq!(of(2, "as_left_measured"), "Text(\"did_not_take\")");
    assert_eq!(of(0, "as_left_shown_over_true"), "Empty");
    assert!(of(2, "as_left_shown_over_true").starts_with("Number(0.9"), "{table:?}");
}
