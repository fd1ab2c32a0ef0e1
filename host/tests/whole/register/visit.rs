//! A whole visit through the built program: a course with PTO, antenna position and speeds, or any
//! of these alone; verified part by part, damaged part by part, backed up, amended.

use super::Desk;
use crate::support::{TempDir, in_tree, json, trundle_in};
use serde_json::Value;
use std::sync::LazyLock;
use trundle_core::capture::{
    Arrival, Entry, HEADER_FORMAT, Header, HostMark, HostMarkAction, PortRole, Record, encode,
};
use trundle_core::units::rfc3339;
use trundle_sim::{Port, Scenario, Truth, record_all};

/// Delay of every piece on its way, nanoseconds: the same for all, so that none overtakes another.
const DELAY_NS: u64 = 3_000_000;

/// A simulated drive as a capture, with notes typed at these seconds.
pub(super) fn capture(scenario: &str, typed: &[(f64, String)]) -> Vec<u8> {
    recorded(&Scenario::named(scenario).unwrap(), 1, None, true, |_| typed.to_vec())
}

/// The same of any scenario; with a course, of practice or taken for a real one, and with what is
/// typed by what truly happened.
pub(super) fn recorded(
    scenario: &Scenario,
    seed: u64,
    course: Option<&str>,
    practice: bool,
    typed: impl FnOnce(&Truth) -> Vec<(f64, String)>,
) -> Vec<u8> {
    let (emissions, truth) = record_all(scenario, seed);
    let header = Header {
        format: HEADER_FORMAT.to_owned(),
        version: 1,
        software: env!("CARGO_PKG_VERSION").to_owned(),
        started_utc: rfc3339(truth.start_utc_ns),
        arrival: Arrival::Measured,
        pace: 1.0,
        practice,
    };
    let mut records = vec![Record { host_ns: 0, entry: Entry::Header(header) }];
    let course = course.map(|text| Entry::Course(text.to_owned()));
    records.extend(course.map(|entry| Record { host_ns: 0, entry }));
    for emission in emissions {
        let role = match emission.port {
            Port::Board => PortRole::Board,
            Port::Receiver => PortRole::Receiver,
            Port::Bus => PortRole::Bus,
        };
        let host_ns = DELAY_NS + emission.sim_us * 1000;
        records.push(Record { host_ns, entry: Entry::Bytes(role, emission.bytes) });
    }
    for (at_s, text) in typed(&truth) {
        let host_ns = DELAY_NS + (at_s * 1e9) as u64;
        let action = HostMarkAction::Note;
        let mark = HostMark { key: host_ns, action, text };
        records.push(Record { host_ns, entry: Entry::HostMark(mark) });
    }
    records.sort_by_key(|record| record.host_ns);
    let host_ns = records.last().map_or(0, |record| record.host_ns) + 1;
    records.push(Record { host_ns, entry: Entry::End });
    let mut bytes = Vec::new();
    records.iter().for_each(|record| encode(record, &mut bytes));
    bytes
}

/// Captures of the PTO, the antenna position and the speeds.
pub(super) struct Files {
    _folder: TempDir,
    pub(super) pto: String,
    pub(super) mount: String,
    pub(super) speeds: String,
}

pub(super) static FILES: LazyLock<Files> = LazyLock::new(|| {
    let folder = TempDir::new();
    let shaft = [(30.0, 540), (60.0, 750), (90.0, 1000)];
    let shaft = shaft.map(|(at_s, rpm)| (at_s, format!("shaft {rpm}")));
    Files {
        pto: folder.write("shaft.capture", &capture("pto-speeds", &shaft)),
        mount: folder.write("circles.capture", &capture("circles", &[])),
        speeds: folder.write("steps.capture", &capture("speed-steps", &[])),
        _folder: folder,
    }
});

fn course() -> String {
    in_tree("logs/simulated-rtk.capture").display().to_string()
}

fn parts() -> [&'static str; 6] {
    let files = &*FILES;
    ["--pto", &files.pto, "--mount", &files.mount, "--speeds", &files.speeds]
}

pub(super) fn id(record: &Value) -> String {
    record["id"].as_str().unwrap().to_owned()
}

pub(super) fn outcomes(verdict: &Value) -> Vec<&str> {
    let parts = verdict["records"][0]["parts"].as_array().unwrap();
    parts.iter().map(|part| part["outcome"].as_str().unwrap()).collect()
}

/// The saved capture of a part.
fn saved(desk: &Desk, record: &Value, part: usize) -> std::path::PathBuf {
    let sha = record["parts"][part]["capture"]["sha256"].as_str().unwrap();
    desk.folder.path().join(format!("data/captures/{sha}.capture"))
}

#[test]
fn a_visit_is_signed_off_whole_and_each_part_is_verified_by_its_own_capture() {
    let desk = Desk::with_rig();
    let how = ["--set-now", "12", "--taped-right", "0.35 m"];
    // What was taped contradicts: flagged, and signed off for a reason only.
    let refused = desk.refused(&[&["sign", &course()][..], &parts(), &how].concat(), 1);
    assert!(refused.contains("The antenna position (circles.capture) is flagged"), "{refused}");
    let record = desk.sign(&[&parts()[..], &how[..2]].concat());
    assert_eq!(record["practice"], true);
    let names: Vec<&Value> = (0..3).map(|at| &record["parts"][at]["method"]["name"]).collect();
    assert_eq!(names, ["pto", "mount", "speeds"]);
    assert_eq!(record["parts"][0]["capture"]["name"], "shaft.capture");
    // The very bytes of the part's own command.
    let shown = desk.done(&["record", "show", &id(&record), "--json"]);
    let own = desk.done(&["pto", &FILES.pto, "--set-now", "12", "--json"]);
    assert!(shown.contains(own.trim_end()), "{own}");
    assert!(shown.contains(desk.done(&["mount", &FILES.mount, "--json"]).trim_end()));
    let said = desk.done(&["record", "show", &id(&record)]);
    assert!(said.contains("to enter: 6; set in the terminal before: 12"), "{said}");
    let verdict = json(&desk.done(&["record", "verify", "--all", "--json"]));
    assert_eq!(verdict["records"][0]["outcome"], "same bytes");
    assert_eq!(outcomes(&verdict), ["same bytes"; 3]);
    let listed = desk.done(&["record", "list"]);
    assert!(listed.contains("with PTO, antenna position, speeds"), "{listed}");

    // The antenna's capture is damaged: it alone is named.
    let file = saved(&desk, &record, 1);
    let whole = std::fs::read(&file).unwrap();
    let mut bytes = whole.clone();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&file, &bytes).unwrap();
    let end = desk.run(&["record", "verify", &id(&record), "--json"]);
    assert_eq!(end.code, Some(5));
    let verdict = json(&end.stdout);
    assert_eq!(outcomes(&verdict), ["same bytes", "damaged", "same bytes"]);
    let trouble = verdict["records"][0]["parts"][1]["trouble"].as_str().unwrap();
    assert!(trouble.contains("antenna position capture"), "{trouble}");
    assert_eq!(verdict["records"][0]["trouble"], Value::Null, "the course holds");
    // Half a file shows in the list, by its part; the record is still shown and printed.
    std::fs::write(&file, &whole[..middle]).unwrap();
    let listed = desk.run(&["record", "list", "--json"]);
    let damage = json(&listed.stdout)["records"][0]["damage"].clone();
    assert!(damage.as_str().unwrap().contains("of the antenna position has"), "{damage}");
    desk.done(&["record", "show", &id(&record)]);
    std::fs::write(&file, &whole).unwrap();
    assert!(desk.done(&["record", "verify", &id(&record)]).contains("1 of 1 records hold"));
}

/// Somebody changes a part's document, past every guard, once with the names and sums of the
/// register left behind and once with all of them made to fit.
#[test]
fn a_changed_part_is_named_and_does_not_hold() {
    let desk = Desk::with_rig();
    let record = desk.sign(&parts());
    let text = desk.done(&["record", "show", &id(&record), "--json"]);
    let text = text.trim_end();
    let forged = text.replacen("\"to_enter\":6,\"refusal\"", "\"to_enter\":7,\"refusal\"", 1);
    assert_ne!(forged, text);
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    db.execute_batch("DROP TRIGGER records_never_change").unwrap();
    assert_eq!(db.execute("UPDATE record SET json = ?1", [&forged]).unwrap(), 1);
    drop(db);
    let end = desk.run(&["record", "list", "--json"]);
    assert_eq!(end.code, Some(1));
    assert!(end.stdout.contains("not what was written"), "{}", end.stdout);
    assert_eq!(desk.run(&["record", "verify", "--all"]).code, Some(5));

    // A record made to fit throughout: only its capture tells.
    let other = Desk::with_rig();
    other.sign(&parts());
    let forger = trundle_core::result::record_v1::RecordV1::from_json(text).unwrap();
    let mut forger = trundle_core::result::record_v1::RecordV1 { amends: None, ..forger };
    let result = forger.parts[0].result.get().replacen("\"to_enter\":6", "\"to_enter\":7", 1);
    forger.parts[0].result = serde_json::value::RawValue::from_string(result).unwrap();
    let forger = forger.seal();
    let db = rusqlite::Connection::open(other.register()).unwrap();
    trundle::store::register::insert(&db, &forger, Some(1), None).unwrap();
    drop(db);
    let end = other.run(&["record", "verify", &forger.id, "--json"]);
    let verdict = json(&end.stdout);
    assert_eq!((end.code, &verdict["records"][0]["outcome"]), (Some(1), &"other value".into()));
    assert_eq!(outcomes(&verdict), ["other value", "same bytes", "same bytes"]);
    let said = other.run(&["record", "verify", &forger.id]).stdout;
    assert!(said.contains("PTO: DIFFERS") && said.contains("to enter: 7"), "{said}");
}

#[test]
fn parts_alone_are_signed_off_listed_printed_backed_up_and_amended() {
    let (desk, new) = (Desk::with_rig(), Desk::new());
    assert_eq!(desk.run(&["sign"]).code, Some(2), "nothing to sign off");
    let refused = desk.refused(&["sign", "--pto", &FILES.pto, "--as-found", "13000"], 1);
    assert!(refused.contains("belongs to a measured course"), "{refused}");
    let refused = desk.refused(&["sign", "--pto", &FILES.pto, "--taped-right", "1 m"], 2);
    assert!(refused.contains("no capture of it"), "{refused}");
    let refused = desk.refused(&["sign", "--pto", &FILES.speeds], 1);
    assert!(refused.contains("there is no result for the PTO"), "{refused}");

    let record = json(&desk.done(&["sign", "--pto", &FILES.pto, "--json"]));
    for gone in ["method", "capture", "channel", "to_enter", "work"] {
        assert!(record.get(gone).is_none(), "{gone}: {record}");
    }
    let first = id(&record);
    let listed = json(&desk.done(&["record", "list", "--json"]))["records"][0].clone();
    assert_eq!((&listed["to_enter"], &listed["parts"][0]), (&Value::Null, &"pto".into()));
    assert!(desk.done(&["record", "list"]).contains("no course"));
    let listed = json(&desk.done(&["record", "list", "--json", "PTO"]));
    assert_eq!(listed["records"][0]["id"], *first, "found by its part");
    for form in [&[][..], &["--short"]] {
        let page = desk.folder.file("page.html");
        desk.done(&[&["record", "print", &first, "--to", &page], form].concat());
        let page = std::fs::read_to_string(page).unwrap();
        assert!(page.contains("to enter: 6") && !page.contains("per 100"), "{form:?}");
    }
    assert!(desk.done(&["record", "verify", "--all"]).contains("1 of 1 records hold"));
    // Nothing of it is taken for a wheel's value.
    assert_eq!(desk.run(&["record", "history", "--practice"]).code, Some(1));
    desk.done(&["export", "records", "--format", "json"]);

    // The part goes over; another comes with it, under the names people know.
    let amend = ["record", "amend", &first, "--reason", "measured later", "--json"];
    let newer = json(&desk.done(&[&amend[..], &["--mount", &FILES.mount]].concat()));
    assert_eq!(newer["parts"][0]["capture"], record["parts"][0]["capture"]);
    assert_eq!(newer["parts"][1]["capture"]["name"], "circles.capture");
    let compared = json(&desk.done(&["record", "compare", &first, &id(&newer), "--json"]));
    assert!(compared["differences"].to_string().contains("parts.mount.right"), "{compared}");

    // What was signed off in error is left out, and nothing else can be.
    let amend = ["record", "amend", &id(&newer), "--reason", "another tractor", "--dry-run"];
    let without = |part: &'static str| [&amend[..], &["--without", part]].concat();
    let less = json(&desk.done(&[&without("mount")[..], &["--json"]].concat()));
    assert_eq!(less["parts"].as_array().unwrap().len(), 1, "{less}");
    assert!(desk.refused(&without("speeds"), 2).contains("holds no part speeds"));
    let all = desk.refused(&without("mount,pto"), 1);
    assert!(all.contains("Nothing was signed off"), "{all}");

    let file = desk.folder.file("all.backup");
    desk.done(&["backup", &file]);
    assert!(new.done(&["restore", &file, "--dry-run"]).contains("2 records, 2 captures"));
    new.done(&["restore", &file]);
    assert_eq!(new.done(&["record", "list", "--json"]), desk.done(&["record", "list", "--json"]));
    assert!(new.done(&["record", "verify", "--all"]).contains("2 of 2 records hold"));
    // Without the capture of a part the backup says what is missing.
    std::fs::remove_file(saved(&desk, &newer, 1)).unwrap();
    let file = desk.folder.file("less.backup");
    let end = desk.run(&["backup", &file, "--json"]);
    assert_eq!((end.code, &json(&end.stdout)["captures"]), (Some(1), &1.into()));
}

/// Captures that name different rigs are not made one record without a word.
#[test]
fn captures_of_two_rigs_are_no_visit() {
    let desk = Desk::with_rig();
    desk.done(&["rig", "add", "Second"]);
    let named = |name: &str| [(1.0, format!("rig: {name}"))];
    let steps = |name: &str| capture("speed-steps", &named(name));
    let first = desk.folder.write("first.capture", &steps("Big one, wide"));
    let second = desk.folder.write("second.capture", &steps("Second"));
    let data = desk.folder.file("data");
    let sign = ["sign", "--speeds", &first, "--mount", &second, "--because", "a test"];
    let end = trundle_in(&sign, &[("TRUNDLE_DATA", &data)]);
    assert_eq!(end.code, Some(2), "{}", end.stderr);
    assert!(end.stderr.contains("different rigs"), "{}", end.stderr);
    let record = json(&desk.done(&["sign", "--speeds", &second, "--json"]));
    assert_eq!(record["rig"]["rig"]["name"], "Second");
}
