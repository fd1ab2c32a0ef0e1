//! Damage of single values and pages of the register: named, and everything else works.

use super::Desk;
use crate::support::{Finished, in_tree, json};
use rusqlite::types::Value as Stored;
use serde_json::Value;
use trundle::store::place::DataFolder;
use trundle::store::register::{Register, insert};
use trundle_core::result::record_v1::RecordV1;

fn id(record: &Value) -> String {
    record["id"].as_str().unwrap().to_owned()
}

/// Put `value` into a column of the record named `id`, past every guard.
fn spoil(desk: &Desk, column: &str, value: &Stored, id: &str) {
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    db.execute_batch("DROP TRIGGER IF EXISTS records_never_change").unwrap();
    // Bytes that are no text go in as text all the same.
    let text = if matches!(value, Stored::Blob(_)) { "CAST(?1 AS TEXT)" } else { "?1" };
    let sql = format!("UPDATE record SET {column} = {text} WHERE id = ?2 AND {column} IS NOT ?1");
    assert_eq!(db.execute(&sql, (value, id)).unwrap(), 1, "{column}");
}

/// What ends with 0, 1 or 5 has told what is wrong; 70 would be a fault of the program.
fn told(desk: &Desk, args: &[&str], code: i32, about: &str) -> String {
    let Finished { code: found, stdout, stderr } = desk.run(args);
    assert_eq!(found, Some(code), "{about}: {args:?}: {stdout}{stderr}");
    stdout
}

/// Every value beside a record's text, and the text: no list shows one that was changed without a
/// word, none is verified, and the other record stays usable.
#[test]
fn a_value_changed_in_one_record_is_named_and_the_other_record_works() {
    let desk = Desk::with_rig();
    let (first, second) = (id(&desk.sign(&["--remark", "a"])), id(&desk.sign(&["--remark", "b"])));
    let whole = std::fs::read(desk.register()).unwrap();
    let no_text = || Stored::Blob(b"no text \xb3".to_vec());
    for (column, value) in [
        ("json", no_text()),
        ("id", no_text()),
        ("issued_utc", no_text()),
        ("rig_name", no_text()),
        ("channel", no_text()),
        ("state", no_text()),
        ("words", no_text()),
        ("capture_sha256", no_text()),
        ("capture_bytes", 1.into()),
        ("parts", "pto 00 1".to_owned().into()),
        ("to_enter", 1.into()),
        ("value", 1.0.into()),
        ("expanded_uncertainty", 1.0.into()),
        ("practice", 0.into()),
        ("amends", second.clone().into()),
        ("rig", Stored::Null),
        ("crc", 1.into()),
    ] {
        std::fs::write(desk.register(), &whole).unwrap();
        spoil(&desk, column, &value, &first);
        let listed = json(&told(&desk, &["record", "list", "--json"], 1, column));
        let listed = listed["records"].as_array().unwrap();
        assert_eq!(listed.len(), 2, "{column}: {listed:?}");
        for one in listed {
            assert_eq!(one["damage"].is_null(), one["id"] == *second, "{column}: {one}");
            // The text is sound, so what is listed is what it says.
            assert!(column == "json" || one["practice"] == true, "{column}: {one}");
            assert_eq!(one["amended_by"], Value::Null, "{column}: {one}");
        }
        let verdict = json(&told(&desk, &["record", "verify", "--all", "--json"], 5, column));
        let damaged: Vec<_> = verdict["records"].as_array().unwrap().iter().collect();
        let damaged = damaged.iter().filter(|one| one["outcome"] == "damaged").count();
        assert_eq!((damaged, &verdict["sound"]), (1, &false.into()), "{column}: {verdict}");
        told(&desk, &["record", "show", &second], 0, column);
        let shown = if column == "json" { 5 } else { 0 };
        told(&desk, &["record", "show", &first], shown, column);
        let found = json(&told(&desk, &["record", "list", "--json", &second], 0, column));
        let found = found["records"].as_array().unwrap();
        assert!(found.iter().any(|one| one["id"] == *second), "{column}: {found:?}");
        let out = told(&desk, &["export", "records", "--format", "json"], 1, column);
        assert!(out.contains(&second) && !out.contains(&first), "{column}: {out}");
        let file = desk.folder.file(&format!("{column}.backup"));
        let done = json(&told(&desk, &["backup", &file, "--json"], 1, column));
        assert_eq!(done["captures"], 1, "{column}: {done}");
        let said = done["damaged"].to_string();
        assert!(said.contains(&first), "{column}: {said}");
    }
}

/// A practice record stays one, whatever the column beside it says: no slip is built on it.
#[test]
fn a_changed_mark_of_practice_gives_slip_no_value() {
    let desk = Desk::with_rig();
    let record = id(&desk.sign(&[]));
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    spoil(&desk, "practice", &0.into(), &record);
    let end = desk.run(&["slip", &capture]);
    assert_ne!(end.code, Some(70), "{}", end.stderr);
    assert!(!end.stderr.contains("from record"), "{}", end.stderr);
}

/// A damaged page costs the records on it, which are named; lists, verification, export, backup
/// and restoring work for the others.
#[test]
fn a_damaged_page_costs_the_records_on_it() {
    let desk = Desk::with_rig();
    let name = id(&desk.sign(&[]));
    let place = DataFolder::at(&desk.folder.path().join("data"));
    let first = Register::read(&place).unwrap().record(&name).unwrap();
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    for number in 1..40 {
        let remark = Some(format!("remark {number}"));
        insert(&db, &RecordV1 { remark, ..first.clone() }.seal(), Some(1), None).unwrap();
    }
    let number = |sql: &str| -> usize {
        let found: i64 = db.query_row(sql, [], |row| row.get(0)).unwrap();
        found.try_into().unwrap()
    };
    let root = number("SELECT rootpage FROM sqlite_schema WHERE name = 'record'");
    let size = number("PRAGMA page_size");
    drop(db);
    // An inner page of the table: https://www.sqlite.org/fileformat2.html#b_tree_pages; its second
    // cell begins with the number of the page below it.
    let mut bytes = std::fs::read(desk.register()).unwrap();
    let page = (root - 1) * size;
    assert_eq!(bytes[page], 5, "an inner page");
    let cell = usize::from(u16::from_be_bytes([bytes[page + 14], bytes[page + 15]]));
    let child = bytes[page + cell..][..4].try_into().unwrap();
    let below = (u32::from_be_bytes(child) as usize - 1) * size;
    let whole = bytes.clone();
    bytes[below..below + size].fill(0x55);
    std::fs::write(desk.register(), bytes).unwrap();

    let list = ["record", "list", "--all", "--json"];
    let listed = json(&told(&desk, &list, 1, "list"))["records"].as_array().unwrap().clone();
    assert_eq!(listed.len(), 40, "all are named");
    let lost = listed.iter().filter(|one| one["state"] == "damaged").count();
    assert!(lost > 0 && lost < 20, "{lost} lost");
    let good = id(listed.iter().find(|one| one["damage"].is_null()).unwrap());
    told(&desk, &["record", "show", &good], 0, "show");
    told(&desk, &["record", "verify", &good], 0, "verify");
    let bad = id(listed.iter().find(|one| !one["damage"].is_null()).unwrap());
    assert!(desk.refused(&["record", "show", &bad], 5).contains("damaged"));
    let out = told(&desk, &["export", "records", "--format", "json"], 1, "export");
    assert!(out.contains(&good) && !out.contains(&bad));
    let file = desk.folder.file("page.backup");
    let done = json(&told(&desk, &["backup", &file, "--json"], 1, "backup"));
    assert_eq!(done["records"], 40 - lost, "{done}");
    assert!(done["damaged"].to_string().contains(&bad), "{done}");
    let new = Desk::new();
    let done = json(&new.done(&["restore", &file, "--json"]));
    assert_eq!(done["records"], 40 - lost, "{done}");
    assert_eq!(json(&new.done(&list))["records"].as_array().unwrap().len(), 40 - lost);

    // A file that lost its end: what is before it can be had.
    std::fs::write(desk.register(), &whole[..whole.len() / 3 * 2]).unwrap();
    let listed = json(&told(&desk, &list, 1, "cut off"))["records"].as_array().unwrap().clone();
    let sound = listed.iter().filter(|one| one["damage"].is_null()).count();
    assert!(sound > 5, "{listed:?}");
    let file = desk.folder.file("cut.backup");
    let done = json(&told(&desk, &["backup", &file, "--json"], 1, "backup"));
    assert!(done["records"].as_u64().unwrap() >= sound as u64, "{done}");
}

/// A name that is no text, a note for undo that is none, a column that is gone: never called a
/// fault of the program.
#[test]
fn damage_beside_the_records_is_told_as_damage() {
    let desk = Desk::with_rig();
    desk.done(&["tyres", "edit", "Wide", "--inflation", "2 bar"]);
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    db.execute_batch(
        "UPDATE change SET before = 'x'; UPDATE person SET name = CAST(X'41b3' AS TEXT)",
    )
    .unwrap();
    let said = desk.refused(&["undo"], 5);
    assert!(said.contains("\"Wide\""), "{said}");
    assert!(desk.done(&["person", "list", "--json"]).contains("A\u{fffd}"));
    desk.done(&["tyres", "list"]);
    db.execute_batch("ALTER TABLE tyres DROP COLUMN wear").unwrap();
    assert!(desk.refused(&["tyres", "list"], 5).contains("damaged"));
    desk.done(&["tractor", "list"]);
    desk.done(&["record", "list"]);
}
