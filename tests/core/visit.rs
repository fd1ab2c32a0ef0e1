//! Records of a whole visit: a course alone keeps the bytes it always had; parts beside it or
//! alone, held against their schema, their commands' own documents, and their captures.
//!
//! Outside sources: SHA-256 of a record's bytes by Python's hashlib; JSON Schema draft 2020-12
//! (json-schema.org), as the `jsonschema` crate checks it.

use serde_json::{Value, json};
use std::sync::LazyLock;
use trundle_core::result::compare_v1;
use trundle_core::result::part_of::{PartVerified, Standing, part, verify_part, work_part};
use trundle_core::result::part_v1::{PartMethodV1, PartV1};
use trundle_core::result::record_v1::{CaptureV1, RecordFault, RecordV1};
use trundle_core::result::sign_off::{Said, SignRefusal, Visit, sign_off};
use trundle_core::result::{mount_v1, pto_v1, speeds_v1};
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::mount::{self, MountOptions};
use trundle_core::survey::pto::{PtoOptions, pto};
use trundle_core::survey::speeds::{SpeedsOptions, speeds};
use trundle_show::export::records::export;
use trundle_show::html::record::PaperFacts;
use trundle_show::html::{record as paper, record_short as short_paper};
use trundle_show::text::record as text;
use trundle_tests::papers::kept;
use trundle_tests::replay_with_trail;
use trundle_tests::visit::{drive, part_of, parts, shaft, without_course};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-record-1.schema.json");
/// A record as it is written without parts; its name is from hashlib.
const COURSE_ALONE: &str = concat!(
    r#"{"format":"trundle-record","version":1,"id":"20260501-eeb6d49b16","#,
    r#""issued_utc":"2026-05-01T09:12:30Z","software":"0.1.0","practice":false,"#,
    r#""amends":null,"rig":{"rig":{"name":"Old grey"},"tractor":null,"tyres":null,"#,
    r#""tape":null,"operator":null,"customer":null},"place":null,"#,
    r#""conditions":{"temperature_c":12.5},"#,
    r#""stated_by_customer":[],"method":{"name":"measured-course","version":1,"#,
    r#""course_toml":null,"rate_l_per_ha":null,"impulses_per_turn":null,"#,
    r#""circumference_m":null},"capture":{"name":"job.capture","sha256":"00","bytes":1,"#,
    r#""started_utc":""},"channel":"wheel","as_found":null,"to_enter":13004,"#,
    r#""as_left":13004.0,"accepted_because":null,"remark":null,"#,
    r#""work":{"format":"trundle-work"}}"#,
);

static PARTS: LazyLock<Vec<PartV1>> = LazyLock::new(parts);

fn visit() -> RecordV1 {
    RecordV1 { parts: PARTS.clone(), ..kept("simulated-rtk") }.seal()
}

fn parts_alone() -> RecordV1 {
    without_course(&kept("simulated-rtk")).seal()
}

fn said() -> Said {
    Said { issued_utc: "2026-05-01T09:12:30Z".to_owned(), ..Said::default() }
}

fn of_parts(parts: Vec<PartV1>) -> Visit<'static> {
    Visit { course: None, parts, practice: true }
}

#[test]
fn a_record_of_a_course_alone_keeps_its_bytes_and_its_name() {
    let record = RecordV1::from_json(COURSE_ALONE).unwrap();
    assert_eq!(record.to_json(), COURSE_ALONE);
    assert_eq!(record.clone().seal().to_json(), COURSE_ALONE);
    let course = record.course().unwrap();
    assert_eq!((course.channel, course.to_enter), ("wheel", 13_004));
}

#[test]
fn records_with_parts_keep_to_the_schema_and_come_back() {
    let schema: Value = serde_json::from_str(SCHEMA).unwrap();
    assert!(jsonschema::meta::is_valid(&schema));
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    for record in [kept("simulated-rtk"), visit(), parts_alone()] {
        let value: Value = serde_json::from_str(&record.to_json()).unwrap();
        let faults: Vec<String> = validator.iter_errors(&value).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{faults:#?}");
        assert_eq!(RecordV1::from_json(&record.to_json()).unwrap().to_json(), record.to_json());
    }
    // Half a course, nothing at all, and a part twice.
    let half = RecordV1 { capture: None, ..visit() };
    let nothing = RecordV1 { parts: Vec::new(), ..parts_alone() };
    for record in [half, nothing.clone()] {
        let record = record.seal();
        let fault = RecordV1::from_json(&record.to_json()).unwrap_err();
        assert!(matches!(fault, RecordFault::Unreadable(_)), "{fault}");
        let value = serde_json::from_str(&record.to_json()).unwrap();
        assert!(!validator.is_valid(&value), "{value}");
    }
    let twice = RecordV1 { parts: vec![PARTS[0].clone(), PARTS[0].clone()], ..nothing }.seal();
    assert!(RecordV1::from_json(&twice.to_json()).is_err());
}

/// The result inside is what the part's own command gives, to the byte.
#[test]
fn a_part_holds_the_document_of_its_own_command() {
    let session = replay_with_trail(&shaft(), THINNED_US);
    let trail = session.trail().unwrap();
    let options = PtoOptions { set_now: Some(3.0), ..PtoOptions::default() };
    let found = pto(&trail, session.notes(), session.totals().capabilities, options);
    assert_eq!(PARTS[0].result.get(), pto_v1::to_json(&found));
    let trail = replay_with_trail(&drive("circles", 1), THINNED_US).trail().unwrap();
    let found = mount::work(&trail, &MountOptions::default());
    assert_eq!(PARTS[1].result.get(), mount_v1::to_json(&found));
    let trail = replay_with_trail(&drive("speed-steps", 1), THINNED_US).trail().unwrap();
    assert_eq!(
        PARTS[2].result.get(),
        speeds_v1::to_json(&speeds(&trail, SpeedsOptions::default()))
    );
}

#[test]
fn a_part_is_verified_by_its_own_capture_and_told_from_another() {
    let session = replay_with_trail(&shaft(), THINNED_US);
    let now = env!("CARGO_PKG_VERSION");
    assert_eq!(verify_part(&PARTS[0], &session, now), Ok(PartVerified::Same));
    // Written by another version, with the same values: later digits are no other value.
    let mut other = PARTS[0].clone();
    let text = other.result.get().replace(&format!("\"software\":\"{now}\""), "\"software\":\"0\"");
    other.result = serde_json::value::RawValue::from_string(text).unwrap();
    let found = verify_part(&other, &session, "0").unwrap();
    assert!(matches!(found, PartVerified::SameValues { ref then, .. } if then == "0"), "{found:?}");
    // The value itself is another one.
    let mut value: Value = serde_json::from_str(other.result.get()).unwrap();
    value["to_enter"] = json!(7);
    other.result = serde_json::value::RawValue::from_string(value.to_string()).unwrap();
    let found = verify_part(&other, &session, "0").unwrap();
    let PartVerified::Differs { then, now } = found else { panic!("{found:?}") };
    assert!(then.lines[0].also.contains(&"to enter: 7".to_owned()), "{then:?}");
    assert!(now.lines[0].also.contains(&"to enter: 6".to_owned()), "{now:?}");
    // Another capture.
    let wrong = replay_with_trail(&drive("speed-steps", 2), THINNED_US);
    let found = verify_part(&PARTS[2], &wrong, "0").unwrap();
    assert!(matches!(found, PartVerified::Differs { .. }), "{found:?}");
}

#[test]
fn what_may_not_be_signed_off_of_a_visit_is_refused() {
    // A display in steps of 3000 rpm: several whole numbers fit.
    let options = PtoOptions { display_step_rpm: 3000.0, step_given: true, set_now: None };
    let unclear = part_of(&shaft(), options.into());
    assert!(unclear.flag.is_some());
    let refused = sign_off(of_parts(vec![unclear.clone()]), said()).unwrap_err();
    assert!(matches!(refused, SignRefusal::PartFlagged { part: "PTO", .. }), "{refused}");
    let because = Said { accepted_because: Some("it is the old one".to_owned()), ..said() };
    let record = sign_off(of_parts(vec![unclear]), because).unwrap();
    assert_eq!((record.state(None), record.practice), ("flagged", true));
    // A drive without a turn of the shaft gives no PTO at all.
    let session = replay_with_trail(&drive("speed-steps", 1), THINNED_US);
    let (_, standing) = work_part(&session, &PtoOptions::default().into());
    assert!(matches!(standing, Standing::Refused(_)), "{standing:?}");
    let capture = PARTS[0].capture.clone();
    assert!(part(&session, PtoOptions::default().into(), capture).is_err());
    assert_eq!(sign_off(of_parts(Vec::new()), said()).unwrap_err(), SignRefusal::Nothing);
    // The value found of which sensor, on which course?
    let found = Said { as_found: Some(13_000.0), ..said() };
    let refused = sign_off(of_parts(PARTS[..1].to_vec()), found).unwrap_err();
    assert_eq!(refused, SignRefusal::NoCourse("the value found"));
    let record = sign_off(of_parts(PARTS[..1].to_vec()), said()).unwrap();
    assert_eq!((record.state(None), record.course().is_none()), ("valid", true));
}

/// Each part in few words on every form, what is set wrong included, and each capture named.
#[test]
fn parts_stand_on_every_form_of_a_record() {
    for record in [visit(), parts_alone()] {
        let (work, facts) = (record.worked().unwrap(), PaperFacts::default());
        let long = paper::page(&record, work.as_ref(), &facts);
        let short = short_paper::page(&record, work.as_ref(), &facts);
        let said = text::render(&record, work.as_ref(), &facts);
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        for form in [&long, &short, &said] {
            for words in [
                "to enter: 6",
                "set in the terminal before: 3, a factor of two too low",
                "ntenna right of the tractor",
                "ntenna ahead of the rear axle",
                "adar against satellite",
            ] {
                assert!(form.contains(words), "no {words} in {form}");
            }
        }
        assert!(long.contains("pto.capture") && long.contains("speeds.capture"));
        assert!(said.contains("mount.capture"));
    }
}

/// Of a part that differs, what is shown differs, and how it was calculated; nothing else.
#[test]
fn two_records_are_compared_part_by_part() {
    let (first, mut second) = (visit(), visit());
    second.parts[0] = part_of(&shaft(), PtoOptions::default().into());
    second.parts.truncate(2);
    let second = second.seal();
    let works = [first.worked().unwrap(), second.worked().unwrap()];
    let compared = compare_v1::compare((&first, works[0].as_ref()), (&second, works[1].as_ref()));
    let at: Vec<&str> = compared.differences.iter().map(|one| one.at.as_str()).collect();
    assert!(at.contains(&"parts.pto.per_revolution"), "{at:?}");
    assert!(at.contains(&"parts.pto.method.set_now"), "{at:?}");
    assert!(at.contains(&"parts.speeds.wheel"), "{at:?}");
    assert!(!at.iter().any(|at| at.starts_with("parts.mount")), "{at:?}");
    let alone = parts_alone();
    assert_eq!(compare_v1::compare((&first, works[0].as_ref()), (&alone, None)).value, None);
}

#[test]
fn parts_have_columns_of_their_own() {
    let records = [kept("simulated-rtk"), visit(), parts_alone()];
    let table = export(&records).unwrap().table;
    let of = |row: usize, name: &str| {
        let at = table.heads.iter().position(|head| head.name == name).unwrap();
        format!("{:?}", table.rows[row][at])
    };
    assert_eq!(of(0, "parts"), "Words([])");
    assert!(
        of(1, "parts").contains("mount")
            && of(1, "pto_impulses_per_revolution").starts_with("Number(")
    );
    assert_eq!(of(0, "pto_impulses_per_revolution"), of(2, "to_enter_per_100m"));
    assert!(of(2, "antenna_ahead_m").starts_with("Number("));
}

/// What is kept of a method gives the same options again.
#[test]
fn the_methods_of_parts_come_back_from_their_text() {
    for part in PARTS.iter() {
        let text = serde_json::to_string(&part.method).unwrap();
        assert_eq!(serde_json::from_str::<PartMethodV1>(&text).unwrap(), part.method);
    }
    let capture = |at: usize| -> &CaptureV1 { &PARTS[at].capture };
    assert_eq!(capture(0).name, "pto.capture");
}
