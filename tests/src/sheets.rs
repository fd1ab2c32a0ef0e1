//! Sheets of settings: of records made for them, to be held against what they should say and to be
//! printed. People and things are invented.
#![allow(clippy::unwrap_used)]

use crate::papers::{Telling, kept, snapshot};
use crate::visit::{drive, part_of, shaft};
use trundle_core::result::as_left::measured;
use trundle_core::result::part_v1::PartV1;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::records_v1::RecordRow;
use trundle_core::result::settings_of::{Ground, Listed, settings};
use trundle_core::result::settings_v1::SettingsV1;
use trundle_core::rig::{Entry, Snapshot, Value};
use trundle_core::survey::mount::{MountOptions, Taped};
use trundle_core::survey::pto::PtoOptions;
use trundle_show::html::record::Paper;

/// When every sheet here was made.
pub const MADE: &str = "2026-06-01T07:30:00.000Z";

/// A sheet to print.
#[derive(Clone, Debug)]
pub struct SheetSample {
    /// Fit for a file name.
    pub name: &'static str,
    /// The sheet.
    pub sheet: SettingsV1,
    /// What it is printed on.
    pub paper: Paper,
}

/// PTO and antenna position, with the coupling point taped.
#[must_use]
pub fn parts() -> Vec<PartV1> {
    let taped = Taped { axle_to_hitch_m: Some(1.12), ..Taped::default() };
    vec![
        part_of(&shaft(), PtoOptions::default().into()),
        part_of(&drive("circles", 1), MountOptions { taped, ..MountOptions::default() }.into()),
    ]
}

/// A record of a measured course signed off and begun on this day, `YYYY-MM-DD`; sealed.
#[must_use]
pub fn course(rig: &Snapshot, day: &str) -> RecordV1 {
    let mut record = RecordV1 {
        rig: rig.clone(),
        issued_utc: format!("{day}T12:00:00Z"),
        ..kept("simulated-rtk")
    };
    if let Some(capture) = &mut record.capture {
        capture.started_utc = format!("{day}T08:00:00Z");
    }
    record.seal()
}

/// As the register lists a record that nothing is wrong with.
#[must_use]
pub fn listed(record: &RecordV1) -> Listed {
    let row = RecordRow {
        id: record.id.clone(),
        issued_utc: record.issued_utc.clone(),
        rig: record.rig.rig.name.clone(),
        channel: record.channel.clone().unwrap_or_default(),
        to_enter: record.to_enter,
        expanded_uncertainty: None,
        parts: record.parts.iter().map(|part| part.method.word().to_owned()).collect(),
        as_left_measured: measured(record).map(str::to_owned),
        state: "valid".to_owned(),
        practice: record.practice,
        amends: record.amends.as_ref().map(|amends| amends.id.clone()),
        amended_by: None,
        damage: None,
    };
    Listed { row, record: Some(record.clone()) }
}

/// The sheet of a rig in use, of these records.
#[must_use]
pub fn sheet(rig: &Snapshot, records: &[Listed]) -> SettingsV1 {
    settings(&Ground { rig, active: Some(rig), records, made_utc: MADE, printed: None })
}

/// A rig with a length said of it.
#[must_use]
pub fn with(mut rig: Snapshot, key: &str, metres: f64) -> Snapshot {
    rig.rig.values.insert(key.to_owned(), Value::Number(metres));
    rig
}

/// The sheets to print.
#[must_use]
pub fn sheets() -> Vec<SheetSample> {
    let told = |telling| with(snapshot(telling), "antenna_height", 3.05);
    let full = told(Telling::Full);
    let visit = |rig: &Snapshot, practice| {
        let record = course(rig, "2026-05-01");
        listed(&RecordV1 { parts: parts(), practice, ..record }.seal())
    };
    let bare = Snapshot {
        rig: Entry { name: "New one".to_owned(), ..Entry::default() },
        ..Snapshot::default()
    };
    let sample = |name, sheet, paper| SheetSample { name, sheet, paper };
    vec![
        sample("sheet-whole", sheet(&full, &[visit(&full, false)]), Paper::A4),
        sample("sheet-letter", sheet(&full, &[visit(&full, false)]), Paper::Letter),
        sample("sheet-practice", sheet(&full, &[visit(&full, true)]), Paper::A4),
        sample("sheet-typed", sheet(&full, &[]), Paper::A4),
        sample("sheet-nothing", sheet(&bare, &[]), Paper::Letter),
        sample("sheet-stale", stale(&full, &visit(&full, false)), Paper::Letter),
        sample("sheet-nasty", stale(&told(Telling::Nasty), &harmful(Telling::Nasty)), Paper::A4),
        sample("sheet-long", stale(&told(Telling::Long), &harmful(Telling::Long)), Paper::Letter),
    ]
}

fn harmful(telling: Telling) -> Listed {
    let mut rig = snapshot(telling);
    rig.tyres.as_mut().unwrap().values.insert("inflation".to_owned(), Value::Number(90.0));
    // A note at every number, and the banner of practice above: as full as a sheet can be.
    let clock = Some("The date of this computer lay before the measurement. ".repeat(4));
    let practice = telling == Telling::Long;
    let record = course(&rig, "2026-05-01");
    listed(&RecordV1 { parts: parts(), clock, practice, ..record }.seal())
}

/// All that can speak against a sheet at once.
fn stale(rig: &Snapshot, record: &Listed) -> SettingsV1 {
    let mut rig = rig.clone();
    let mut active = rig.clone();
    active.rig.name.push_str(", narrow");
    let tyres = rig.tyres.as_mut().unwrap();
    tyres.values.insert("inflation".to_owned(), Value::Number(160.0));
    tyres.values.insert("wear".to_owned(), Value::Number(35.0));
    let mut damaged = record.clone();
    damaged.row.id = "20260520-0123456789".to_owned();
    damaged.row.issued_utc = "2026-05-20T12:00:00Z".to_owned();
    damaged.row.damage = Some("its text is not what was written".to_owned());
    let (records, printed) = ([record.clone(), damaged], Some("00000000"));
    settings(&Ground {
        rig: &rig,
        active: Some(&active),
        records: &records,
        made_utc: MADE,
        printed,
    })
}
