//! The sheet of settings through the built program: from records on disk to page and JSON, and
//! what makes it out of date.

use super::Desk;
use crate::support::{Finished, json};
use serde_json::Value;

fn setting(sheet: &Value, key: &str) -> Value {
    let all = sheet["settings"].as_array().unwrap();
    all.iter().find(|one| one["key"] == key).unwrap().clone()
}

/// The sheet as JSON, which must come with this code.
fn sheet(desk: &Desk, more: &[&str], code: i32) -> Value {
    let Finished { code: ended, stdout, stderr } = desk.run(&[&["sheet", "--json"], more].concat());
    assert_eq!(ended, Some(code), "{more:?}: {stdout}{stderr}");
    json(&stdout)
}

fn codes(sheet: &Value) -> Vec<&str> {
    let all = sheet["out_of_date"].as_array().unwrap();
    all.iter().map(|one| one["code"].as_str().unwrap()).collect()
}

#[test]
fn the_sheet_of_a_rig_is_drawn_from_its_records_and_says_when_it_is_out_of_date() {
    let desk = Desk::with_rig();
    let none = sheet(&desk, &[], 1);
    assert_eq!((&none["state"], &none["practice"]), (&"incomplete".into(), &false.into()));
    // Typed with the rig, and nothing else known.
    assert_eq!(setting(&none, "antenna_right")["source"], "typed");
    desk.done(&["rig", "edit", "Big one, wide", "--antenna-height", "10 ft"]);
    let record = desk.sign(&[]);
    let now = sheet(&desk, &[], 0);
    let id = now["id"].as_str().unwrap();
    let wheel = setting(&now, "wheel");
    assert_eq!(wheel["record"], record["id"]);
    assert_eq!(wheel["to_enter"].as_f64(), record["to_enter"].as_f64());
    assert_eq!((&wheel["in_force"], &now["practice"]), (&true.into(), &true.into()));
    assert_eq!(setting(&now, "antenna_height")["value"].as_f64(), Some(3.048));
    let said = desk.done(&["sheet", "big ONE, wide"]);
    let entered = format!("PRACTICE {}", record["to_enter"]);
    assert!(said.starts_with("PRACTICE") && said.contains(&entered), "{said}");

    let file = desk.folder.file("sheet.html");
    for paper in ["a4", "Letter"] {
        desk.done(&["sheet", "--report", &file, "--paper", paper]);
        let page = std::fs::read_to_string(&file).unwrap();
        let size = if paper == "a4" { "size: A4;" } else { "size: letter;" };
        assert!(page.contains(size) && page.contains(id), "{paper}");
        assert!(page.contains(record["id"].as_str().unwrap()));
    }

    // The sheet that hangs in the cab: still the one of today, until something newer is signed off.
    assert_eq!(sheet(&desk, &["--printed", id], 0)["id"], *id);
    let newer = desk.sign(&["--remark", "once more"]);
    assert_ne!(newer["id"], record["id"]);
    let stale = sheet(&desk, &["--printed", id], 1);
    assert_eq!(
        (codes(&stale), &setting(&stale, "wheel")["record"]),
        (vec!["newer_sheet"], &newer["id"])
    );
    // Another pressure, and it is not what was measured any more.
    desk.done(&["tyres", "edit", "Wide", "--inflation", "1.6 bar"]);
    assert_eq!(codes(&sheet(&desk, &[], 1)), ["tyres_changed"]);
    desk.done(&["undo"]);
    // The same tractor on other tyres.
    desk.done(&["tyres", "add", "Narrow", "--size", "480/70 R38"]);
    desk.done(&["rig", "add", "Big one, narrow", "--tractor", "Big one", "--tyres", "Narrow"]);
    desk.done(&["rig", "use", "Big one, narrow"]);
    let other = sheet(&desk, &["Big one, wide"], 1);
    assert_eq!(codes(&other), ["other_rig_active"]);
    assert_eq!(setting(&sheet(&desk, &[], 1), "wheel")["source"], "missing");
    desk.done(&["rig", "use", "Big one, wide"]);
    assert_eq!(sheet(&desk, &[], 0)["state"], "current");

    let refused = desk.refused(&["sheet", "Small one"], 2);
    assert!(refused.contains("no rig named"), "{refused}");
}

#[test]
fn a_damaged_record_is_left_out_of_the_sheet_and_named() {
    let desk = Desk::with_rig();
    let (old, new) = (desk.sign(&[]), desk.sign(&["--remark", "once more"]));
    assert_eq!(setting(&sheet(&desk, &[], 0), "wheel")["record"], new["id"]);
    let text = desk.done(&["record", "show", new["id"].as_str().unwrap(), "--json"]);
    let entered = format!("\"to_enter\":{}", new["to_enter"]);
    let forged = text.trim_end().replacen(&entered, "\"to_enter\":1", 1);
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    db.execute_batch("DROP TRIGGER records_never_change").unwrap();
    let changed = db.execute(
        "UPDATE record SET json = ?1 WHERE id = ?2",
        [&forged, new["id"].as_str().unwrap()],
    );
    assert_eq!(changed.unwrap(), 1);
    drop(db);
    let found = sheet(&desk, &[], 1);
    assert_eq!(
        (codes(&found), &setting(&found, "wheel")["record"]),
        (vec!["record_damaged"], &old["id"])
    );
    let said = found["out_of_date"][0]["what"].as_str().unwrap();
    assert!(said.contains(new["id"].as_str().unwrap()), "{said}");
}
