//! The sheet of settings of a rig: the newest sound record of each number, what was only taped or
//! typed, what is missing, and what speaks against the sheet.
//!
//! Only records and the rig are read, no capture. A record counts when no other one takes its
//! place and it is not damaged; one of the simulator only where the rig has no other. The newest is
//! the one whose capture began last: an amendment of an old record is no new measurement.

mod age;
mod found;

use super::record_v1::RecordV1;
use super::records_v1::{DAMAGED, RecordRow};
use super::settings_v1::{FORMAT, RemarkV1, SettingV1, SettingsV1, SourceV1, VERSION};
use crate::figure::COVERAGE;
use crate::rig::{Entry, Snapshot};
use crate::stats::budget::rounding::round_pair;
use found::Given;

/// Decimals of a length that is keyed in, at most: millimetres.
const LENGTH_DECIMALS: i32 = 3;

/// What a sheet is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'a> {
    /// The rig and all that it names, as they stand now.
    pub rig: &'a Snapshot,
    /// The same of the rig in use.
    pub active: Option<&'a Snapshot>,
    /// The records of the rig and those that may be any, in any order.
    pub records: &'a [Listed],
    /// When the sheet is made, RFC 3339, UTC.
    pub made_utc: &'a str,
    /// Identity of a sheet that was printed before and is to be looked at.
    pub printed: Option<&'a str>,
}

/// A record with what the register knows of it.
#[derive(Clone, Debug)]
pub struct Listed {
    /// As it stands in lists, with what took its place and what is wrong with it.
    pub row: RecordRow,
    /// The record; `None` where it cannot be read.
    pub record: Option<RecordV1>,
}

/// One number of the sheet, before it is known.
struct Kind {
    key: &'static str,
    what: &'static str,
    unit: &'static str,
    signs: Option<&'static str>,
    /// What to do where it is missing.
    next: &'static str,
}

const PER_100M: &str = "impulses per 100 m";
const KINDS: [Kind; 7] = [
    Kind {
        key: "wheel",
        what: "wheel sensor",
        unit: PER_100M,
        signs: None,
        next: "Drive the course: `trundle drive`; sign it off: `trundle sign CAPTURE --channel \
               wheel`.",
    },
    Kind {
        key: "radar",
        what: "radar sensor",
        unit: PER_100M,
        signs: None,
        next: "Drive the course: `trundle drive`; sign it off: `trundle sign CAPTURE --channel \
               radar`.",
    },
    Kind {
        key: "pto",
        what: "PTO shaft",
        unit: "impulses per revolution",
        signs: None,
        next: "Measure it: `trundle pto`; sign it off: `trundle sign --pto CAPTURE`.",
    },
    Kind {
        key: "antenna_right",
        what: "antenna to the right of the tractor's middle",
        unit: "m",
        signs: Some("right is positive, left is negative, looking ahead"),
        next: "Measure it: `trundle mount`; sign it off: `trundle sign --mount CAPTURE`.",
    },
    Kind {
        key: "antenna_ahead",
        what: "antenna ahead of the rear axle",
        unit: "m",
        signs: Some("ahead is positive, behind is negative"),
        next: "Measure it: `trundle mount`; sign it off: `trundle sign --mount CAPTURE`.",
    },
    Kind {
        key: "antenna_height",
        what: "antenna above ground",
        unit: "m",
        signs: Some("up is positive; never negative"),
        next: "Tape it: `trundle rig edit NAME --antenna-height \"3.05 m\"`.",
    },
    Kind {
        key: "axle_to_hitch",
        what: "rear axle to coupling point",
        unit: "m",
        signs: Some("to the rear is positive; never negative"),
        next: "Tape it: `trundle rig edit NAME --axle-to-hitch \"1.1 m\"`.",
    },
];

/// Draw the sheet.
#[must_use]
pub fn settings(ground: &Ground<'_>) -> SettingsV1 {
    let rig = ground.rig;
    let mine: Vec<&Listed> = ground.records.iter().filter(|one| age::is_of(one, rig)).collect();
    let practice = practice(&mine);
    let usable: Vec<&RecordV1> = mine
        .iter()
        .filter(|one| one.row.amended_by.is_none() && one.row.damage.is_none())
        .filter_map(|one| one.record.as_ref().filter(|record| record.practice == practice))
        .collect();
    let given: Vec<(&Kind, Option<Given<'_>>)> =
        KINDS.iter().map(|kind| (kind, found::given(kind.key, &usable, rig))).collect();
    let source = rig.source().map(str::to_owned);
    let mut sheet = SettingsV1 {
        format: FORMAT.to_owned(),
        version: VERSION,
        software: env!("CARGO_PKG_VERSION").to_owned(),
        id: String::new(),
        made_utc: ground.made_utc.to_owned(),
        state: String::new(),
        practice,
        rig: rig.rig.name.clone(),
        tractor: rig.tractor.as_ref().map(|tractor| tractor.name.clone()),
        tyres: rig.tyres.as_ref().map(|tyres| tyres.name.clone()),
        tyre_size: rig.tyres.as_ref().and_then(|tyres| tyres.text("size")).map(str::to_owned),
        coverage_probability: COVERAGE,
        settings: given.iter().map(|(kind, given)| setting(kind, given.as_ref(), rig)).collect(),
        missing: missing(&given, source.as_deref()),
        out_of_date: Vec::new(),
        remarks: Vec::new(),
        source,
    };
    sheet.id = sheet.identity();
    age::judge(&mut sheet, ground, &mine, &usable, &given);
    sheet.state = state(&sheet).to_owned();
    sheet
}

/// Only the simulator's records are there: the rig is one for practice.
fn practice(mine: &[&Listed]) -> bool {
    let known = |one: &&&Listed| one.row.state != DAMAGED;
    let mut practice = mine.iter().filter(known).map(|one| one.row.practice).peekable();
    practice.peek().is_some() && practice.all(|practice| practice)
}

fn state(sheet: &SettingsV1) -> &'static str {
    let source = sheet.source.as_deref();
    let by_sensor = source.filter(|source| *source != "satellite");
    let no_value = by_sensor.is_some_and(|sensor| {
        sheet.setting(sensor).is_none_or(|setting| setting.to_enter.is_none())
    });
    match (sheet.out_of_date.is_empty(), source.is_none() || no_value) {
        (false, _) => "out_of_date",
        (true, true) => "incomplete",
        (true, false) => "current",
    }
}

fn missing(given: &[(&Kind, Option<Given<'_>>)], source: Option<&str>) -> Vec<RemarkV1> {
    let none = given.iter().filter(|(_, given)| given.is_none());
    let none = none.map(|(kind, _)| RemarkV1 {
        code: kind.key.to_owned(),
        what: format!("not known: {}", kind.what),
        next: kind.next.to_owned(),
    });
    let source = source.is_none().then(|| RemarkV1 {
        code: "source".to_owned(),
        what: "not known: which speed the implement goes by".to_owned(),
        next: "State it: `trundle rig edit NAME --source wheel`, or radar, or satellite."
            .to_owned(),
    });
    source.into_iter().chain(none).collect()
}

fn setting(kind: &Kind, given: Option<&Given<'_>>, rig: &Snapshot) -> SettingV1 {
    let sensor = matches!(kind.key, "wheel" | "radar");
    let record = given.and_then(|given| given.record);
    let (value, half) = given.map_or((None, None), |given| (given.value, given.half));
    SettingV1 {
        key: kind.key.to_owned(),
        what: kind.what.to_owned(),
        unit: kind.unit.to_owned(),
        source: given.map_or(SourceV1::Missing, |given| given.source),
        in_force: rig.source().filter(|_| sensor).map(|source| source == kind.key),
        to_enter: match kind.signs {
            Some(_) => value.zip(half).map(|(value, half)| length(value, half)),
            None => given.and_then(|given| given.to_enter),
        },
        value,
        expanded_uncertainty: half,
        uncertainty_assumed: given.is_some_and(|given| given.assumed),
        signs: kind.signs.map(str::to_owned),
        record: record.map(|record| record.id.clone()),
        measured_on: given.and_then(|given| given.day.clone()),
        notes: given.map(|given| given.notes.clone()).unwrap_or_default(),
    }
}

/// A length to the place that its uncertainty leaves, never "-0".
fn length(value_m: f64, half_m: f64) -> f64 {
    let rounded = round_pair(value_m, half_m);
    let scale = 10f64.powi(rounded.decimals.clamp(0, LENGTH_DECIMALS));
    (value_m * scale).round() / scale + 0.0
}

/// Are these the names of one thing?
fn same_name(a: Option<&Entry>, b: Option<&Entry>) -> bool {
    a.zip(b).is_some_and(|(a, b)| a.name.to_lowercase() == b.name.to_lowercase())
}
