//! Invented signed-off records: one simulated job, signed off again and again with its figures
//! scaled, as if the tractor had been measured on other days.
#![allow(clippy::unwrap_used)]

use crate::visit::parts;
use crate::{plain_course, simulated_work};
use serde_json::value::RawValue;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use trundle_core::result::record_v1::{AmendsV1, CaptureV1, FORMAT, MethodV1, RecordV1, VERSION};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::rig::conditions::Conditions;
use trundle_core::rig::{Entry, Snapshot, Value as Told};
use trundle_sim::{ReceiverClass, Scenario};

/// What makes one record differ from another.
#[derive(Clone, Debug)]
pub struct Signed<'a> {
    /// Name of the rig; its tractor and tyres are named after it.
    pub rig: &'a str,
    /// Size of the tyres.
    pub tyre_size: &'a str,
    /// Day, `YYYY-MM-DD`.
    pub day: &'a str,
    /// Figures are those of the simulated job times this.
    pub scale: f64,
    /// The record that it amends.
    pub amends: Option<String>,
    /// Name of the tape.
    pub tape: Option<&'a str>,
}

impl Default for Signed<'_> {
    fn default() -> Self {
        let (rig, tyre_size, day) = ("Old grey", "480/70 R34", "2026-03-02");
        Self { rig, tyre_size, day, scale: 1.0, amends: None, tape: Some("Long one") }
    }
}

/// The simulated job's result, to sign off.
///
/// # Panics
/// When the simulator's plain job cannot be worked.
#[must_use]
pub fn worked() -> Value {
    let mut scenario = Scenario::default().with_receiver(ReceiverClass::Rtk);
    scenario.passes = 4;
    serde_json::from_str(
        &WorkV1::of(&simulated_work(&scenario, 5, &plain_course(100.0)).0).to_json(),
    )
    .unwrap()
}

fn scaled(worked: &Value, scale: f64) -> Value {
    const KEYS: [&str; 5] = [
        "impulses_per_100m",
        "standard_uncertainty",
        "expanded_uncertainty",
        "contribution",
        "impulses",
    ];
    match worked {
        Value::Object(fields) => fields
            .iter()
            .map(|(key, value)| match (KEYS.contains(&key.as_str()), value.as_f64()) {
                (true, Some(number)) => (key.clone(), json!(number * scale)),
                _ => (key.clone(), scaled(value, scale)),
            })
            .collect(),
        Value::Array(items) => items.iter().map(|item| scaled(item, scale)).collect(),
        other => other.clone(),
    }
}

fn entry(name: &str, told: &[(&str, Told)]) -> Entry {
    let values: BTreeMap<String, Told> =
        told.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect();
    Entry { name: name.to_owned(), values }
}

/// The conditions of every record, as they are noted.
const SAID: [&str; 10] = [
    "air: -3.5 C",
    "ground: stubble",
    "inflation, front: 1.4 bar",
    "inflation, rear: 1.1 bar",
    "load: 2000 kg",
    "gear: C2",
    "four-wheel drive: on",
    "differential lock: off",
    "implement: the red \"sprayer\", old",
    "terminal: =1+1",
];

/// One record.
///
/// # Panics
/// When `worked` is no result of a job with a wheel's figure.
#[must_use]
pub fn signed(worked: &Value, of: &Signed<'_>) -> RecordV1 {
    let text = |text: &str| Told::Text(text.to_owned());
    let tyres = [("size", text(of.tyre_size)), ("inflation", Told::Number(120.0))];
    let work = scaled(worked, of.scale);
    let figure = work["channels"]["wheel"]["combined"]["impulses_per_100m"].as_f64().unwrap();
    let amends = of.amends.clone();
    RecordV1 {
        format: FORMAT.to_owned(),
        version: VERSION,
        id: String::new(),
        issued_utc: format!("{}T15:04:05.250Z", of.day),
        software: "0.1.0".to_owned(),
        practice: true,
        amends: amends.map(|id| AmendsV1 { id, reason: "another place".to_owned() }),
        rig: Snapshot {
            rig: entry(of.rig, &[]),
            tractor: Some(entry(&format!("{} tractor", of.rig), &[])),
            tyres: Some(entry(&format!("{} tyres", of.rig), &tyres)),
            tape: of.tape.map(|name| entry(name, &[("serial", text("T-1"))])),
            operator: Some(entry("=SUM(A1:A9)", &[])),
            customer: None,
        },
        place: Some("Field \"behind the barn\", north\r\nend".to_owned()),
        conditions: Conditions::of_notes(SAID),
        stated_by_customer: Vec::new(),
        method: Some(MethodV1 {
            name: "measured-course".to_owned(),
            version: 1,
            course_toml: None,
            rate_l_per_ha: None,
            impulses_per_turn: None,
            circumference_m: None,
        }),
        capture: Some(CaptureV1 {
            name: format!("{}.capture", of.day),
            sha256: "0".repeat(64),
            bytes: 123_456,
            started_utc: format!("{}T14:00:00.000Z", of.day),
        }),
        channel: Some("wheel".to_owned()),
        as_found: Some(13_000.0),
        to_enter: Some(figure.round() as i64),
        as_left: None,
        accepted_because: None,
        clock: None,
        remark: Some("－ full width, größer".to_owned()),
        work: Some(RawValue::from_string(work.to_string()).unwrap()),
        parts: Vec::new(),
    }
    .seal()
}

/// A season of four rigs on two sizes of tyres: worn ones creep up, others stay; one record amends
/// another, with PTO, antenna and speeds.
///
/// # Panics
/// As [`signed`].
#[must_use]
pub fn season() -> Vec<RecordV1> {
    let worked = worked();
    let mut out = Vec::new();
    let rigs = [
        ("Old grey", "480/70 R34", 0.004),
        ("Young grey", "480/70 R34", 0.008),
        ("Blue", "650/65 R38", -0.001),
        ("Red", "650/65 R38", 0.001),
    ];
    for (rig, tyre_size, step) in rigs {
        for (n, day) in ["2026-03-02", "2026-05-11", "2026-08-20"].into_iter().enumerate() {
            let scale = 1.0 + step * n as f64;
            out.push(signed(&worked, &Signed { rig, tyre_size, day, scale, ..Signed::default() }));
        }
    }
    let (rig, day, scale) = ("Old grey", "2026-08-20", 1.009);
    let amends = Some(out[2].id.clone());
    let of = Signed { rig, day, scale, amends, ..Signed::default() };
    out.push(
        RecordV1 {
            issued_utc: "2026-08-21T07:00:00.000Z".to_owned(),
            parts: parts(),
            ..signed(&worked, &of)
        }
        .seal(),
    );
    out
}
