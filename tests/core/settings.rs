//! The sheet of settings: where each number comes from, what is missing, when it is out of date,
//! and its page.
//!
//! Outside source: JSON Schema draft 2020-12 (json-schema.org), as the `jsonschema` crate checks
//! it.

mod page;

use serde_json::{Value, json};
use std::sync::LazyLock;
use trundle_core::result::part_v1::{PartMethodV1, PartV1};
use trundle_core::result::record_v1::{AmendsV1, RecordV1};
use trundle_core::result::records_v1::DAMAGED;
use trundle_core::result::settings_of::{Ground, Listed, settings};
use trundle_core::result::settings_v1::{RemarkV1, SettingV1, SettingsV1, SourceV1};
use trundle_core::rig::{Entry, Snapshot, Value as Told};
use trundle_show::html::settings::page;
use trundle_show::text::settings::render;
use trundle_tests::held::{all_written, keeps};
use trundle_tests::papers::{Telling, snapshot};
use trundle_tests::sheets::{MADE, SheetSample, course, listed, parts, sheet, sheets, with};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-settings-1.schema.json");

static PARTS: LazyLock<Vec<PartV1>> = LazyLock::new(parts);
static RIG: LazyLock<Snapshot> = LazyLock::new(|| {
    let mut rig = snapshot(Telling::Full);
    rig.rig.values.remove("antenna_right");
    rig.rig.values.remove("antenna_ahead");
    rig
});
static SHEETS: LazyLock<Vec<SheetSample>> = LazyLock::new(sheets);

fn visit(day: &str) -> RecordV1 {
    RecordV1 { parts: PARTS.clone(), ..course(&RIG, day) }.seal()
}

fn codes(remarks: &[RemarkV1]) -> Vec<&str> {
    remarks.iter().map(|remark| remark.code.as_str()).collect()
}

fn of<'a>(sheet: &'a SettingsV1, key: &str) -> &'a SettingV1 {
    sheet.setting(key).unwrap()
}

#[test]
fn each_number_is_that_of_its_record_with_its_uncertainty() {
    let record = visit("2026-05-01");
    let sheet = sheet(&with(RIG.clone(), "antenna_height", 3.05), &[listed(&record)]);
    assert_eq!((sheet.state.as_str(), sheet.practice), ("current", false), "{sheet:?}");
    let work = record.worked().unwrap().unwrap();
    for (key, force) in [("wheel", true), ("radar", false)] {
        let best = work.channels[key].best().unwrap();
        let one = of(&sheet, key);
        assert_eq!((one.source, one.in_force), (SourceV1::Measured, Some(force)));
        assert_eq!(one.to_enter, work.channels[key].value_to_enter.map(|value| value as f64));
        assert_eq!(one.value, Some(best.impulses_per_100m));
        assert_eq!(one.expanded_uncertainty, Some(best.expanded_uncertainty));
        assert_eq!(one.record.as_ref(), Some(&record.id));
        assert_eq!(one.measured_on.as_deref(), Some("2026-05-01"));
    }
    let radar = of(&sheet, "radar").notes.join(" ");
    assert!(radar.contains("not signed off for this one"), "{radar}");
    let document = |at: usize| serde_json::from_str::<Value>(PARTS[at].result.get()).unwrap();
    let (pto, mount) = (document(0), document(1));
    let shaft = of(&sheet, "pto");
    assert_eq!((shaft.to_enter, shaft.source), (Some(6.0), SourceV1::Measured));
    assert_eq!(shaft.expanded_uncertainty, pto["per_revolution"]["expanded_uncertainty"].as_f64());
    for (key, found) in [("antenna_right", "right"), ("antenna_ahead", "ahead")] {
        let one = of(&sheet, key);
        assert_eq!(one.value, mount[found]["value_m"].as_f64());
        assert_eq!(one.expanded_uncertainty, mount[found]["expanded_uncertainty_m"].as_f64());
        assert!((one.to_enter.unwrap() - one.value.unwrap()).abs() < 0.05, "{one:?}");
        assert!(one.signs.as_ref().unwrap().contains("is positive") && !one.uncertainty_assumed);
    }
}

#[test]
fn what_was_only_taped_or_typed_is_told_from_what_was_measured() {
    let record = visit("2026-05-01");
    let rig = with(with(RIG.clone(), "antenna_height", 3.05), "antenna_right", 0.9);
    let sheet_of = |records: &[Listed]| sheet(&rig, records);
    let whole = sheet_of(&[listed(&record)]);
    let hitch = of(&whole, "axle_to_hitch");
    assert_eq!((hitch.source, hitch.to_enter), (SourceV1::Taped, Some(1.12)));
    assert!(hitch.uncertainty_assumed && hitch.record.as_ref() == Some(&record.id));
    let height = of(&whole, "antenna_height");
    assert_eq!((height.source, height.to_enter), (SourceV1::Typed, Some(3.05)));
    assert_eq!((&height.record, &height.measured_on), (&None, &None));
    // What was typed is another number than the one measured: said beside it.
    let right = of(&whole, "antenna_right");
    assert_eq!(right.source, SourceV1::Measured);
    let said = right.notes.join(" ");
    assert!(
        said.contains("The rig says 0.9 m,") && said.contains("--antenna-right \"0."),
        "{said}"
    );
    // Without a record the typed one is all there is, with the uncertainty stated for it.
    let typed = sheet_of(&[]);
    let right = of(&typed, "antenna_right");
    assert_eq!((right.source, right.value), (SourceV1::Typed, Some(0.9)));
    // 2 cm, normal: 1.96 of it (tables).
    assert!((right.expanded_uncertainty.unwrap() - 0.0392).abs() < 1e-4, "{right:?}");
    assert!(!right.uncertainty_assumed);
    let text = render(&typed);
    assert!(text.contains("typed with the rig, not measured"), "{text}");
    // A drive that found no offset, and a tape that did.
    let mut taped = record.clone();
    let mut found: Value = serde_json::from_str(taped.parts[1].result.get()).unwrap();
    found["right"] = Value::Null;
    taped.parts[1].result = serde_json::value::RawValue::from_string(found.to_string()).unwrap();
    let PartMethodV1::Mount(how) = &mut taped.parts[1].method else { panic!() };
    how.taped_right_m = Some(-0.2);
    let taped = sheet_of(&[listed(&taped.seal())]);
    let right = of(&taped, "antenna_right");
    assert_eq!((right.source, right.to_enter), (SourceV1::Taped, Some(-0.2)));
    assert!(render(&taped).contains(", not measured by driving, record "), "{}", render(&taped));
}

#[test]
fn what_is_missing_is_named_with_the_command_that_measures_it() {
    let bare = Snapshot {
        rig: Entry { name: "New one".to_owned(), ..Entry::default() },
        ..Snapshot::default()
    };
    let empty = sheet(&bare, &[]);
    assert_eq!(empty.state, "incomplete");
    let commands = [
        ("source", "rig edit NAME --source"),
        ("wheel", "trundle sign CAPTURE --channel wheel"),
        ("radar", "--channel radar"),
        ("pto", "trundle pto"),
        ("antenna_right", "trundle mount"),
        ("antenna_ahead", "trundle mount"),
        ("antenna_height", "--antenna-height"),
        ("axle_to_hitch", "--axle-to-hitch"),
    ];
    assert_eq!(codes(&empty.missing), commands.map(|(key, _)| key));
    for ((_, command), missing) in commands.iter().zip(&empty.missing) {
        assert!(missing.next.contains(command), "{missing:?}");
        assert!(render(&empty).replace("\n    ", " ").contains(command), "{}", render(&empty));
    }
    // A course without the sensor in force: no value for what the implement goes by.
    let mut rig = RIG.clone();
    rig.rig.values.insert("source".to_owned(), Told::Text("radar".to_owned()));
    let mut record = course(&rig, "2026-05-01");
    let mut work: Value = serde_json::from_str(record.work.take().unwrap().get()).unwrap();
    work["channels"].as_object_mut().unwrap().remove("radar");
    record.work = Some(serde_json::value::RawValue::from_string(work.to_string()).unwrap());
    let one = sheet(&rig, &[listed(&record.clone().seal())]);
    assert_eq!(one.state, "incomplete");
    assert_eq!(of(&one, "wheel").in_force, Some(false));
    // By satellite nothing is missing of the speed.
    rig.rig.values.insert("source".to_owned(), Told::Text("satellite".to_owned()));
    assert_eq!(sheet(&rig, &[listed(&record.seal())]).state, "current");
}

#[test]
fn another_set_of_tyres_makes_a_sheet_out_of_date() {
    let record = course(&RIG, "2026-05-01");
    let mut wide = RIG.clone();
    wide.rig.name = "Grey one, wide wheels".to_owned();
    let tyres = wide.tyres.as_mut().unwrap();
    tyres.name = "Wide wheels".to_owned();
    tyres.values.insert("size".to_owned(), Told::Text("650/65 R38".to_owned()));
    let mut of_wide = course(&wide, "2026-05-09");
    of_wide.to_enter = Some(12_001);
    let records = [listed(&record), listed(&of_wide.clone().seal())];
    // Each rig has the value of its own record.
    let entered = |rig: &Snapshot| of(&sheet(rig, &records), "wheel").to_enter;
    assert_eq!(entered(&wide), Some(12_001.0));
    assert_eq!(entered(&RIG), Some(record.to_enter.unwrap() as f64));
    let made = |rig, active| {
        settings(&Ground { rig, active, records: &records, made_utc: MADE, printed: None })
    };
    let other = made(&RIG, Some(&wide));
    assert_eq!(
        (other.state.as_str(), codes(&other.out_of_date)),
        ("out_of_date", vec!["other_rig_active"])
    );
    assert!(other.out_of_date[0].what.contains("on tyres \"Wide wheels\""), "{other:?}");
    assert_eq!(made(&RIG, Some(&RIG)).state, "current");
    // A rig of another tractor in use says nothing of this one.
    let mut red = wide.clone();
    red.tractor.as_mut().unwrap().name = "Red one".to_owned();
    let quiet = made(&RIG, Some(&red));
    assert_eq!((quiet.state.as_str(), codes(&quiet.remarks)), ("current", vec!["not_active"]));
    // The rig was put on other tyres, or on these at another pressure, after it was measured.
    let changed = |change: &dyn Fn(&mut Snapshot)| {
        let mut rig = RIG.clone();
        change(&mut rig);
        sheet(&rig, &[listed(&record)])
    };
    let fitted = changed(&|rig| rig.tyres.clone_from(&wide.tyres));
    assert_eq!(codes(&fitted.out_of_date), ["other_tyres"]);
    let hard = changed(&|rig| {
        let tyres = rig.tyres.as_mut().unwrap();
        tyres.values.insert("inflation".to_owned(), Told::Number(160.0));
    });
    assert_eq!(codes(&hard.out_of_date), ["tyres_changed"]);
    let what = &hard.out_of_date[0].what;
    assert!(what.contains("Inflation 120 kPa, now 160 kPa"), "{what}");
    assert!(render(&hard).starts_with("Sheet of settings "), "{}", render(&hard));
    assert!(render(&hard).lines().next().unwrap().contains(": OUT OF DATE, do not key it in"));
    // Numbers that the terminal does not go by are to be keyed in again.
    let mut unproven = hard.clone();
    unproven.out_of_date[0].code = "proof_failed".to_owned();
    assert!(render(&unproven).lines().next().unwrap().contains(": OUT OF DATE, the last proof"));
    // A new name alone is no other set, and a note no other pressure.
    let renamed = changed(&|rig| {
        let tyres = rig.tyres.as_mut().unwrap();
        tyres.name = "Narrow wheels, left shed".to_owned();
        tyres.values.insert("note".to_owned(), Told::Text("as new".to_owned()));
    });
    assert_eq!(renamed.out_of_date, []);
    let forgotten = changed(&|rig| rig.tyres = None);
    assert_eq!(codes(&forgotten.out_of_date), ["tyres_unknown"]);
    let sold = changed(&|rig| rig.tractor.clone_from(&red.tractor));
    assert_eq!(sold.out_of_date, [], "all else is the same: another name of this tractor");
    let sold = changed(&|rig| {
        rig.tractor = Some(Entry { name: "Red one".to_owned(), ..Entry::default() });
    });
    assert_eq!(codes(&sold.out_of_date), ["other_tractor"]);
}

#[test]
fn a_newer_record_takes_over_and_makes_the_printed_sheet_an_old_one() {
    let old = visit("2026-05-01");
    let mut newer = course(&RIG, "2026-05-20");
    newer.to_enter = newer.to_enter.map(|value| value + 31);
    let newer = newer.seal();
    let before = sheet(&RIG, &[listed(&old)]);
    for records in [[listed(&old), listed(&newer)], [listed(&newer), listed(&old)]] {
        let made = |printed| {
            let (rig, active) = (&*RIG, Some(&*RIG));
            settings(&Ground { rig, active, records: &records, made_utc: MADE, printed })
        };
        let now = made(None);
        assert_eq!(of(&now, "wheel").to_enter, Some(newer.to_enter.unwrap() as f64));
        assert_eq!(of(&now, "wheel").record.as_ref(), Some(&newer.id));
        assert_eq!(of(&now, "pto").record.as_ref(), Some(&old.id), "the newer one holds no PTO");
        assert_ne!(now.id, before.id);
        let shouted = now.id.to_uppercase();
        assert_eq!(made(Some(&shouted)).state, "current");
        let stale = made(Some(&before.id));
        assert_eq!(codes(&stale.out_of_date), ["newer_sheet"]);
        assert_eq!(stale.id, now.id, "what is said of a sheet makes no other sheet");
    }
}

#[test]
fn an_amended_record_gives_way_and_an_old_one_amended_later_is_no_newer() {
    let (old, new) = (visit("2026-05-01"), course(&RIG, "2026-05-20"));
    let amend = |record: &RecordV1, parts: Vec<PartV1>| {
        let reason = "the serial number".to_owned();
        let amends = Some(AmendsV1 { id: record.id.clone(), reason });
        let issued_utc = "2026-06-01T07:00:00Z".to_owned();
        RecordV1 { amends, issued_utc, parts, ..record.clone() }.seal()
    };
    let superseded = |record: &RecordV1, by: &RecordV1| {
        let mut listed = listed(record);
        listed.row.amended_by = Some(by.id.clone());
        listed
    };
    let amended = amend(&old, PARTS.clone());
    let found = sheet(&RIG, &[superseded(&old, &amended), listed(&amended), listed(&new)]);
    assert_eq!(of(&found, "wheel").record.as_ref(), Some(&new.id), "measured later");
    assert_eq!(of(&found, "pto").record.as_ref(), Some(&amended.id));
    assert_eq!((found.out_of_date.len(), found.remarks.len()), (0, 0), "{found:?}");
    // What was signed off in error is gone, and that is said.
    let without = amend(&old, vec![PARTS[1].clone()]);
    let found = sheet(&RIG, &[superseded(&old, &without), listed(&without)]);
    assert_eq!(of(&found, "pto").source, SourceV1::Missing);
    assert_eq!(codes(&found.remarks), ["withdrawn"]);
    assert!(found.remarks[0].what.ends_with(": pto"), "{found:?}");
}

#[test]
fn a_damaged_record_is_not_used_and_said_where_it_may_be_newer() {
    let (old, new) = (visit("2026-05-01"), course(&RIG, "2026-05-20"));
    let damage = |record: &RecordV1| {
        let mut listed = listed(record);
        listed.row.damage = Some("its text is not what was written".to_owned());
        listed
    };
    let found = sheet(&RIG, &[listed(&old), damage(&new)]);
    assert_eq!(of(&found, "wheel").record.as_ref(), Some(&old.id));
    assert_eq!(codes(&found.out_of_date), ["record_damaged"]);
    let what = &found.out_of_date[0].what;
    assert!(what.contains("the sensors") && !what.contains("PTO"), "{what}");
    // One that is older than all it holds changes nothing.
    let found = sheet(&RIG, &[damage(&course(&RIG, "2026-04-01")), listed(&new), listed(&old)]);
    assert_eq!(found.out_of_date, []);
    // One that may be any record may hold anything.
    let mut any = damage(&new);
    any.record = None;
    (any.row.state, any.row.rig) = (DAMAGED.to_owned(), String::new());
    let found = sheet(&RIG, &[listed(&old), any]);
    assert_eq!(codes(&found.out_of_date), ["record_damaged"]);
    assert!(found.out_of_date[0].what.contains("any number of any rig"), "{found:?}");
}

#[test]
fn records_of_the_simulator_count_only_where_there_is_no_other() {
    let measured = course(&RIG, "2026-05-01");
    let practice = RecordV1 { practice: true, ..visit("2026-05-20") }.seal();
    let both = sheet(&RIG, &[listed(&measured), listed(&practice)]);
    assert!(!both.practice && !render(&both).contains("PRACTICE"));
    assert_eq!(of(&both, "wheel").record.as_ref(), Some(&measured.id));
    assert_eq!(of(&both, "pto").source, SourceV1::Missing);
    // The measured one is damaged: what was practised takes no place of it.
    let mut damaged = listed(&measured);
    damaged.row.damage = Some("its capture cannot be read".to_owned());
    assert!(!sheet(&RIG, &[damaged, listed(&practice)]).practice);
    let alone = sheet(&RIG, &[listed(&practice)]);
    assert!(alone.practice && of(&alone, "pto").to_enter == Some(6.0));
    let text = render(&alone);
    assert!(text.starts_with("PRACTICE") && !text.contains("key in"), "{text}");
    let html = &page(&alone, trundle_show::html::record::Paper::A4);
    for mark in ["class=\"practice\"", "PRACTICE: no measurement", ">PRACTICE<"] {
        assert!(html.contains(mark), "{mark}");
    }
}

#[test]
fn sheets_keep_to_the_schema() {
    let values: Vec<Value> =
        SHEETS.iter().map(|one| serde_json::from_str(&one.sheet.to_json()).unwrap()).collect();
    keeps(SCHEMA, &values);
    all_written(SCHEMA, &values);
    let schema: Value = serde_json::from_str(SCHEMA).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let spoilt = |at: &str, key: &str, with: Value| {
        let mut bad = values[0].clone();
        bad.pointer_mut(at).unwrap()[key] = with;
        assert!(!validator.is_valid(&bad), "{at}/{key} is let through");
    };
    spoilt("/settings/0", "source", json!("guessed"));
    spoilt("/settings/0", "unit", json!("km"));
    spoilt("/settings/0", "expanded_uncertainty", json!(-1));
    spoilt("/settings/0", "surplus", json!(1));
    let again: SettingsV1 = serde_json::from_str(&SHEETS[0].sheet.to_json()).unwrap();
    assert_eq!(again, SHEETS[0].sheet);
    assert_eq!(again.identity(), again.id);
}
