//! Signed-off records to be printed: of the captures in `logs/` and of simulated jobs with faults,
//! with plain text, with none, and with text that would do harm. People and things are invented.
#![allow(clippy::unwrap_used)]

use crate::pages::NASTY;
use crate::visit::{ENTERED, OLD, part_of, parts, proof_drive, proof_method, without_course};
use crate::{plain_course, replay_bytes, simulate};
use serde_json::value::RawValue;
use std::collections::BTreeMap;
use std::path::Path;
use trundle_core::course::tape::CourseSpec;
use trundle_core::figure::{Job, WorkOptions, work};
use trundle_core::result::record_v1::{AmendsV1, CaptureV1, FORMAT, MethodV1, RecordV1, VERSION};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::rig::conditions::{CONDITIONS, Conditions};
use trundle_core::rig::{Entry, Field, FieldKind, NAME_MAX, Snapshot, TEXT_MAX, Thing, Value};
use trundle_core::session::Session;
use trundle_show::html::record::{Paper, PaperFacts};
use trundle_sim::{Fault, Scenario};

/// A record with what its print says beside it.
#[derive(Clone, Debug)]
pub struct Sample {
    /// Fit for a file name.
    pub name: &'static str,
    /// The record, sealed.
    pub record: RecordV1,
    /// Sheet, and what took its place.
    pub facts: PaperFacts,
}

/// What people write down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Telling {
    /// All of it, in plain words.
    Full,
    /// Nothing that can be left out.
    Nothing,
    /// Text that would do harm, in every text there is.
    Nasty,
    /// As long as the fields allow, without a space to break at.
    Long,
}

/// All of them.
#[must_use]
pub fn samples() -> Vec<Sample> {
    let plain = PaperFacts::default();
    let letter = PaperFacts { paper: Paper::Letter, ..PaperFacts::default() };
    let superseded =
        PaperFacts { superseded_by: Some("20260502-0123456789".to_owned()), ..plain.clone() };
    let superseded_letter = PaperFacts { paper: Paper::Letter, ..superseded.clone() };
    let full = |capture: &str| record(&logged(capture), Telling::Full);
    let silent = Scenario {
        faults: vec![Fault::ReceiverSilent { from_s: 0.0, to_s: 1e6 }],
        ..Scenario::default()
    };
    let many = Scenario { passes: 14, ..Scenario::default() };
    let reset = job(&Scenario::named("board-reset").unwrap(), Some(100.0));
    let plain_job = |course_m| job(&Scenario::default(), course_m);
    let sample = |name, record: RecordV1, facts: &PaperFacts| Sample {
        name,
        record: record.seal(),
        facts: facts.clone(),
    };
    vec![
        sample("plain", full("simulated-rtk"), &plain),
        sample("letter", full("simulated-corrected"), &letter),
        sample("practice", practice(full("simulated-standalone")), &plain),
        sample("real-receiver", full("joined-real-receiver"), &plain),
        sample("amending", amending(full("simulated-rtk")), &plain),
        sample("superseded", full("simulated-rtk"), &superseded),
        sample("refused-pass", record(&reset, Telling::Full), &plain),
        sample("contradicting", record(&plain_job(Some(101.0)), Telling::Full), &letter),
        sample("tape-alone", record(&job(&silent, Some(100.0)), Telling::Full), &plain),
        sample("satellite-alone", record(&plain_job(None), Telling::Nothing), &letter),
        sample("many-passes", record(&job(&many, Some(100.0)), Telling::Nothing), &plain),
        sample("nasty", nasty(record(&reset, Telling::Nasty)), &nasty_facts()),
        sample("long", long(record(&reset, Telling::Long)), &superseded),
        sample("long-letter", long(record(&reset, Telling::Long)), &letter),
        sample("nothing-told", record(&logged("simulated-rtk"), Telling::Nothing), &plain),
        sample("visit", visit_of(full("simulated-rtk")), &plain),
        sample("did-not-take", did_not_take(full("simulated-rtk")), &plain),
        sample("long-visit", long_visit(&reset), &superseded),
        sample("long-visit-letter", long_visit(&reset), &superseded_letter),
        sample("long-parts", long_parts(&reset), &plain),
        sample("long-parts-letter", long_parts(&reset), &letter),
        sample("parts-alone", amending(without_course(&full("simulated-rtk"))), &letter),
    ]
}

fn visit_of(record: RecordV1) -> RecordV1 {
    RecordV1 { parts: parts(), ..record }
}

/// The old value is still in force, and all the rest was measured too, for a long reason.
fn did_not_take(mut record: RecordV1) -> RecordV1 {
    let old = part_of(&proof_drive(OLD), proof_method(ENTERED));
    record = visit_of(record);
    record.parts.retain(|part| part.method.word() != "proof");
    record.parts.push(old);
    record.accepted_because = Some("The implement's dealer sees to it. ".repeat(4));
    record
}

/// All that a record can hold, each as long as it can be, and every warning there is.
fn long_visit(session: &(Session, Option<CourseSpec>)) -> RecordV1 {
    let mut record = long(did_not_take(record(session, Telling::Long)));
    record.accepted_because = text(Telling::Long, "");
    record.to_enter = record.to_enter.map(|value| value + 100);
    record.as_left = Some(12_990.0);
    record.clock = Some(CLOCK.to_owned());
    for part in &mut record.parts {
        part.flag.get_or_insert_with(|| "the readings contradict each other, ".repeat(10));
    }
    record
}

/// All parts beside a course, with long texts and nothing against them.
fn long_parts(session: &(Session, Option<CourseSpec>)) -> RecordV1 {
    RecordV1 { as_left: None, ..visit_of(record(session, Telling::Long)) }
}

/// A warning of the computer's clock, as sign-off writes it, with all that can speak against it.
const CLOCK: &str = "The date 2026-05-01 09:12:30 UTC may be wrong: that is before the measurement \
    began (2026-05-02 08:00:00 UTC); another record was signed off later already (2026-05-03 \
    08:00:00 UTC); while it was recorded, the clock of the computer was 24 hours behind the \
    receiver's.";

fn practice(mut record: RecordV1) -> RecordV1 {
    record.practice = true;
    record
}

fn amending(mut record: RecordV1) -> RecordV1 {
    let reason = "The serial number of the tractor was wrong.".to_owned();
    record.amends = Some(AmendsV1 { id: "20260501-abcdef0123".to_owned(), reason });
    record.as_left = record.work.is_some().then_some(12_700.0);
    record
}

/// Harm in what is no text of the rig: file names, words of the result, identities.
fn nasty(mut record: RecordV1) -> RecordV1 {
    let text = || NASTY.to_owned();
    record.capture =
        Some(CaptureV1 { name: text(), sha256: text(), bytes: 1, started_utc: text() });
    record.software = text();
    let method = record.method.as_mut().unwrap();
    method.name = text();
    method.course_toml = Some(text());
    record.amends = Some(AmendsV1 { id: text(), reason: text() });
    record.stated_by_customer.push(text());
    let held = record.work.take().unwrap();
    let mut work: serde_json::Value = serde_json::from_str(held.get()).unwrap();
    spoil(&mut work, "");
    record.work = Some(RawValue::from_string(work.to_string()).unwrap());
    record
}

fn nasty_facts() -> PaperFacts {
    PaperFacts { superseded_by: Some(NASTY.to_owned()), ..PaperFacts::default() }
}

/// Put harm in place of every text of a result but its states, which steer what is shown.
fn spoil(value: &mut serde_json::Value, key: &str) {
    match value {
        serde_json::Value::String(text) if !matches!(key, "state" | "direction" | "code") => {
            *text = NASTY.to_owned();
        }
        serde_json::Value::Array(items) => items.iter_mut().for_each(|item| spoil(item, key)),
        serde_json::Value::Object(fields) => {
            fields.iter_mut().for_each(|(key, value)| spoil(value, key));
        }
        _ => {}
    }
}

fn long(mut record: RecordV1) -> RecordV1 {
    record.amends =
        Some(AmendsV1 { id: "20260501-abcdef0123".to_owned(), reason: "w".repeat(TEXT_MAX) });
    record.practice = true;
    record
}

/// The record of a capture in `logs/`, in plain words, sealed.
#[must_use]
pub fn kept(capture: &str) -> RecordV1 {
    record(&logged(capture), Telling::Full).seal()
}

/// The session of a capture in `logs/`.
fn logged(name: &str) -> (Session, Option<CourseSpec>) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../logs/{name}.capture"));
    let session = replay_bytes(&std::fs::read(path).unwrap(), 1 << 16);
    let course = session.course_text().map(|t| trundle_core::course::file::parse(t).unwrap().spec);
    (session, course)
}

fn job(scenario: &Scenario, course_m: Option<f64>) -> (Session, Option<CourseSpec>) {
    let (records, _) = simulate(scenario, 21, None);
    (crate::replay(&records), course_m.map(plain_course))
}

/// A record of a session. The figure to enter is the result's, or a round one where it gives
/// none.
#[must_use]
pub fn record(session: &(Session, Option<CourseSpec>), telling: Telling) -> RecordV1 {
    let (session, course) = session;
    let full = telling != Telling::Nothing;
    let totals = session.totals();
    let job = Job { passes: session.passes(), totals: &totals, whole: session.ended() };
    let options = WorkOptions {
        course: course.clone(),
        monte_carlo: None,
        as_found: full.then_some(13_020.0),
        rate_l_per_ha: full.then_some(200.0),
        impulses_per_turn: full.then_some(640.0),
        circumference_m: full.then_some(5.04),
    };
    let work = work(&job, &options);
    let wheel = work.channels.iter().find(|channel| channel.name == "wheel");
    let to_enter = wheel.and_then(|channel| channel.value_to_enter).unwrap_or(12_700);
    let json = WorkV1::of(&work).to_json();
    RecordV1 {
        format: FORMAT.to_owned(),
        version: VERSION,
        id: String::new(),
        issued_utc: "2026-05-01T09:12:30Z".to_owned(),
        software: env!("CARGO_PKG_VERSION").to_owned(),
        practice: false,
        amends: None,
        rig: snapshot(telling),
        place: text(telling, "Headland of the long field, by the weighbridge"),
        conditions: conditions(telling),
        stated_by_customer: told(telling),
        method: Some(MethodV1 {
            name: "measured-course".to_owned(),
            version: 1,
            course_toml: session.course_text().map(str::to_owned),
            rate_l_per_ha: options.rate_l_per_ha,
            impulses_per_turn: options.impulses_per_turn,
            circumference_m: options.circumference_m,
        }),
        capture: Some(CaptureV1 {
            name: "long-field.capture".to_owned(),
            sha256: "9f2c41d07ab3e855".repeat(4),
            bytes: 482_113,
            started_utc: "2026-05-01T08:00:00.000Z".to_owned(),
        }),
        channel: Some("wheel".to_owned()),
        as_found: options.as_found,
        to_enter: Some(to_enter),
        as_left: full.then_some(to_enter as f64),
        accepted_because: match json.contains("\"state\":\"flagged\"") {
            true => text(telling, "Five sound passes are enough for this implement."),
            false => None,
        },
        clock: None,
        remark: text(telling, "The front tyres are worn unevenly; measure again once changed."),
        work: Some(RawValue::from_string(json).unwrap()),
        parts: Vec::new(),
    }
}

fn told(telling: Telling) -> Vec<String> {
    let keys = [
        "rig.tyres.inflation",
        "rig.tractor.serial",
        "as_found",
        "method.rate_l_per_ha",
        "implement",
    ];
    if telling == Telling::Nothing { Vec::new() } else { keys.map(str::to_owned).to_vec() }
}

fn text(telling: Telling, plain: &str) -> Option<String> {
    match telling {
        Telling::Full => Some(plain.to_owned()),
        Telling::Nothing => None,
        Telling::Nasty => Some(NASTY.to_owned()),
        Telling::Long => Some("W".repeat(TEXT_MAX)),
    }
}

fn conditions(telling: Telling) -> Conditions {
    filled(telling, CONDITIONS, SAID).into_iter().collect()
}

/// A rig with all that it names, as far as it was told.
#[must_use]
pub fn snapshot(telling: Telling) -> Snapshot {
    let known = |thing: Thing, name: &str, plain: &[(&str, &str)]| {
        let name = match telling {
            Telling::Nasty => NASTY.to_owned(),
            Telling::Long => "W".repeat(NAME_MAX),
            Telling::Full | Telling::Nothing => name.to_owned(),
        };
        Entry { name, values: filled(telling, thing.fields(), plain) }
    };
    let some = |thing, name: &str, plain: &[(&str, &str)]| {
        (telling != Telling::Nothing).then(|| known(thing, name, plain))
    };
    Snapshot {
        rig: known(Thing::Rig, "Grey one, narrow wheels", RIG),
        tractor: some(Thing::Tractor, "Grey one", TRACTOR),
        tyres: some(Thing::Tyres, "Narrow wheels", TYRES),
        tape: some(Thing::Tape, "Blue reel", TAPE),
        operator: some(Thing::Person, "A. Measurer", OPERATOR),
        customer: some(Thing::Person, "B. Grower", CUSTOMER),
    }
}

/// Every field filled with what was told, read as it would be typed.
fn filled(telling: Telling, fields: &[Field], plain: &[(&str, &str)]) -> BTreeMap<String, Value> {
    let mut out = BTreeMap::new();
    for field in fields {
        let typed = plain.iter().find(|(key, _)| *key == field.key).map(|(_, typed)| *typed);
        let written = match (telling, field.kind) {
            (Telling::Nothing, _) => None,
            (Telling::Full, _) => typed.map(|typed| field.read(typed).unwrap()),
            (_, FieldKind::Measure(_) | FieldKind::Word(_) | FieldKind::Date) => {
                typed.map(|typed| field.read(typed).unwrap())
            }
            // Stored by hand, as in a register that was tampered with: no check stands between.
            (_, FieldKind::Text | FieldKind::Link(_)) => text(telling, "").map(Value::Text),
        };
        out.extend(written.map(|value| (field.key.to_owned(), value)));
    }
    out
}

const RIG: &[(&str, &str)] = &[
    ("tractor", "Grey one"),
    ("tyres", "Narrow wheels"),
    ("tape", "Blue reel"),
    ("operator", "A. Measurer"),
    ("customer", "B. Grower"),
    ("source", "wheel"),
    ("receiver", "Roof antenna, corrections by radio from the farm's base"),
    ("antenna_right", "4 cm"),
    ("antenna_ahead", "-35 cm"),
    ("antenna_uncertainty", "2 cm"),
    ("board", "3c5f-0081-77aa"),
];
const TRACTOR: &[(&str, &str)] =
    &[("make", "Invented"), ("model", "T 120"), ("serial", "INV-004512")];
const TYRES: &[(&str, &str)] = &[
    ("size", "480/70 R 38"),
    ("inflation", "1.2 bar"),
    ("ballast", "400 kg"),
    ("wear", "30 %"),
    ("circumference", "5.04 m"),
    ("impulses_per_turn", "640"),
    ("note", "Changed in spring"),
];
const TAPE: &[(&str, &str)] = &[
    ("length", "50 m"),
    ("material", "steel"),
    ("class", "ii"),
    ("serial", "T-7781"),
    ("certificate", "K 2025-118, invented laboratory"),
    ("certified_on", "2025-11-03"),
    ("certified_length", "50.0012 m"),
    ("standard_uncertainty", "0.0004 m"),
];
const OPERATOR: &[(&str, &str)] = &[
    ("company", "Measurer & Daughter"),
    ("address", "1 Example Lane, Sampleton"),
    ("contact", "measurer@farm.example"),
];
const SAID: &[(&str, &str)] = &[
    ("surface", "Stubble, dry, firm"),
    ("inflation_front_kpa", "1.4 bar"),
    ("inflation_rear_kpa", "118 kPa"),
    ("load", "Tank half full"),
    ("gear", "C2"),
    ("four_wheel_drive", "on"),
    ("differential_lock", "off"),
    ("implement", "The red sprayer"),
    ("terminal", "The grey box by the seat"),
    ("temperature_c", "17.5 C"),
];
const CUSTOMER: &[(&str, &str)] =
    &[("address", "Field End, Sampleton"), ("contact", "grower@farm.example")];
