//! Rigs and records through the built program: saved, found, undone, signed off, verified,
//! damaged, hostile, and two programs at once.

mod damage;
mod hostile;
mod packed;
mod proof;
mod sheet;
mod visit;

use crate::support::{Finished, LIMIT, TempDir, in_tree, json, trundle_in};
use serde_json::Value;
use std::path::Path;
use std::time::Instant;

/// A data folder of its own.
struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        Self { folder: TempDir::new() }
    }

    /// A desk with an active rig "Big one" on wide tyres.
    fn with_rig() -> Self {
        let desk = Self::new();
        desk.done(&["tractor", "add", "Big one", "--make", "Own build", "--serial", "0007"]);
        desk.done(&["tyres", "add", "Wide", "--size", "650/65 R38", "--inflation", "1.2 bar"]);
        desk.done(&["person", "add", "A. Driver", "--company", "Field works"]);
        desk.done(&[
            "rig",
            "add",
            "Big one, wide",
            "--tractor",
            "big ONE",
            "--tyres",
            "Wide",
            "--operator",
            "A. Driver",
            "--source",
            "wheel",
            "--antenna-right",
            "-12 cm",
            "--antenna-ahead",
            "1.5 m",
        ]);
        desk
    }

    fn run(&self, args: &[&str]) -> Finished {
        let data = self.folder.file("data");
        trundle_in(args, &[("TRUNDLE_DATA", &data)])
    }

    /// Run what must be done without a fault; gives its output.
    fn done(&self, args: &[&str]) -> String {
        let Finished { code, stdout, stderr } = self.run(args);
        assert_eq!(code, Some(0), "{args:?}: {stdout}{stderr}");
        stdout
    }

    /// Run what must be done, again where others write for so long that it was refused.
    fn in_turn(&self, args: &[&str]) {
        let (since, mut end) = (Instant::now(), self.run(args));
        while end.code == Some(4) && since.elapsed() < LIMIT {
            assert!(end.stderr.contains("Another program"), "{}", end.stderr);
            end = self.run(args);
        }
        assert_eq!(end.code, Some(0), "{args:?}: {}{}", end.stdout, end.stderr);
    }

    /// Run what must be refused with this code; gives what was said.
    fn refused(&self, args: &[&str], code: i32) -> String {
        let end = self.run(args);
        assert_eq!(end.code, Some(code), "{args:?}: {}{}", end.stdout, end.stderr);
        assert_eq!(end.stderr.lines().count(), 3, "what, means, next: {}", end.stderr);
        end.stderr
    }

    fn sign(&self, more: &[&str]) -> Value {
        let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
        json(&self.done(&[&["sign", &capture, "--json"], more].concat()))
    }

    fn register(&self) -> std::path::PathBuf {
        self.folder.path().join("data/register.db")
    }
}

fn names(list: &str) -> Vec<String> {
    let entries = json(list)["entries"].as_array().unwrap().clone();
    entries.iter().map(|one| one["name"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn things_are_kept_shown_changed_and_taken_back() {
    let desk = Desk::with_rig();
    let shown = json(&desk.done(&["rig", "show", "--json"]));
    assert_eq!(shown["active"], "Big one, wide");
    let rig = &shown["entries"][0];
    // Named in another case, linked all the same; units as typed, kept in metres.
    assert_eq!((&rig["tractor"], &rig["antenna_right"]), (&"Big one".into(), &(-0.12).into()));

    desk.done(&["tyres", "edit", "wide", "--inflation", "17 psi", "--name", "Wide, hard"]);
    let tyres = json(&desk.done(&["tyres", "show", "Wide, hard", "--json"]));
    // 1 psi = 6.894757 kPa: NIST SP 811 (2008), B.8, from memory.
    let kpa = tyres["entries"][0]["inflation"].as_f64().unwrap();
    assert!((kpa - 117.210_869).abs() < 1e-6, "{kpa}");
    assert_eq!(json(&desk.done(&["rig", "show", "--json"]))["entries"][0]["tyres"], "Wide, hard");
    desk.done(&["undo"]);
    let tyres = json(&desk.done(&["tyres", "show", "Wide", "--json"]));
    assert_eq!(tyres["entries"][0]["inflation"], 120.0);

    let said = desk.refused(&["tyres", "remove", "Wide"], 2);
    assert!(said.contains("The rig \"Big one, wide\" names"), "{said}");
    desk.done(&["rig", "edit", "Big one, wide", "--forget", "tyres"]);
    desk.done(&["tyres", "remove", "Wide", "--dry-run"]);
    assert_eq!(names(&desk.done(&["tyres", "list", "--json"])), ["Wide"]);
    desk.done(&["tyres", "remove", "Wide"]);
    assert!(names(&desk.done(&["tyres", "list", "--json"])).is_empty());
    desk.done(&["bin", "back", "tyres", "WIDE"]);
    assert_eq!(names(&desk.done(&["tyres", "list", "--json"])), ["Wide"]);
    desk.done(&["undo"]);
    assert_eq!(desk.run(&["bin", "empty"]).code, Some(2), "it must be said that it is for good");
    assert!(desk.done(&["bin", "empty", "--dry-run"]).contains("would be deleted"));
    assert!(desk.done(&["bin", "empty", "--for-good"]).contains("deleted"));
    assert!(desk.done(&["bin", "list"]).contains("empty"));
}

#[test]
fn what_is_typed_wrong_is_refused_with_what_may_be_typed() {
    let desk = Desk::with_rig();
    for (args, said) in [
        (&["tyres", "add", "X", "--inflation", "1,200 bar"][..], "1.2 bar"),
        (&["tyres", "add", "wide"], "already"),
        (&["tractor", "add", "a\x1b[2Jb"], "control characters"),
        (&["tractor", "add", "  "], "empty"),
        (&["tractor", "show", "Small one"], "There is: Big one."),
        (&["rig", "add", "Y", "--tractor", "Small one"], "no tractor named"),
        (&["rig", "edit", "Big one, wide"], "No change"),
        (&["rig", "edit", "Big one, wide", "--forget", "wheels"], "no kind of thing that is saved"),
        (&["record", "show", "20260101-0123456789"], "no record"),
        (&["record", "verify", "20260101-0123456789"], "There is no record 20260101-0123456789."),
    ] {
        let stderr = desk.refused(args, 2);
        assert!(stderr.contains(said), "{args:?}: {stderr}");
    }
    // Ten kilobytes are no name.
    let long = "x".repeat(10_000);
    let stderr = desk.refused(&["tractor", "add", &long], 2);
    assert!(stderr.len() < 400 && stderr.contains("at most 80"), "{stderr}");
}

#[test]
fn exactly_one_rig_is_active_whatever_is_tried() {
    let desk = Desk::with_rig();
    desk.done(&["rig", "add", "Second"]);
    let active = || json(&desk.done(&["rig", "list", "--json"]))["active"].clone();
    assert_eq!(active(), "Big one, wide");
    desk.done(&["rig", "use", "second"]);
    assert_eq!(active(), "Second");
    desk.refused(&["rig", "remove", "Second"], 2);
    desk.done(&["undo"]);
    assert_eq!(active(), "Big one, wide");

    // Past the program, on the file itself.
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    db.pragma_update(None, "foreign_keys", true).unwrap();
    for sql in [
        "INSERT INTO active_rig VALUES (2, (SELECT id FROM rig WHERE name = 'Second'))",
        "INSERT INTO active_rig VALUES (1, (SELECT id FROM rig WHERE name = 'Second'))",
        "DELETE FROM active_rig",
        "UPDATE active_rig SET rig = 99",
        "UPDATE active_rig SET one = 2",
        "DELETE FROM rig WHERE name = 'Big one, wide'",
        "UPDATE rig SET binned_utc = '2026-01-01' WHERE name = 'Big one, wide'",
    ] {
        assert!(db.execute(sql, []).is_err(), "{sql}");
    }
    drop(db);
    assert_eq!(active(), "Big one, wide");
    // The last rig may go; the next one is active at once.
    desk.done(&["rig", "remove", "Second"]);
    desk.done(&["rig", "remove", "Big one, wide"]);
    assert_eq!(active(), Value::Null);
    desk.done(&["bin", "back", "rig", "Second"]);
    assert_eq!(active(), "Second");
}

#[test]
fn a_rig_goes_to_another_laptop_and_one_undo_takes_it_back() {
    let (here, there) = (Desk::with_rig(), Desk::new());
    let file = here.folder.file("rig.toml");
    here.done(&["rig", "export", "--to", &file]);
    assert!(there.done(&["rig", "import", &file, "--dry-run"]).contains("would be added"));
    assert_eq!(json(&there.done(&["rig", "list", "--json"]))["active"], Value::Null);
    there.done(&["rig", "import", &file]);
    for thing in ["tractor", "tyres", "person", "rig"] {
        let list = [thing, "list", "--json"];
        assert_eq!(there.done(&list), here.done(&list), "{thing}");
    }
    there.done(&["undo"]);
    assert_eq!(json(&there.done(&["rig", "list", "--json"]))["active"], Value::Null);
    let broken = here.folder.write("broken.toml", b"format = \"trundle-rig\"\nversion = 9\n");
    assert!(there.refused(&["rig", "import", &broken], 5).contains("version 9"));
}

#[test]
fn a_capture_is_signed_off_verified_amended_and_compared() {
    let desk = Desk::with_rig();
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    let dry = json(&desk.done(&["sign", &capture, "--json", "--dry-run"]));
    assert_eq!(json(&desk.done(&["record", "list", "--json"]))["records"], Value::Array(vec![]));
    let record = desk.sign(&["--as-found", "13400", "--surface", "dry stubble", "--rate", "200"]);
    let id = record["id"].as_str().unwrap();
    assert_eq!(record["to_enter"], dry["to_enter"]);
    assert_eq!(record["rig"]["tyres"]["inflation"], 120.0);
    assert_eq!(record["work"]["channels"]["wheel"]["as_found"]["found"], 13400.0);
    // Kept as shown, to the byte, and found by a few of its letters and by its words.
    let shown = desk.done(&["record", "show", &id[..12], "--json"]);
    assert_eq!(json(&shown), record);
    for words in [&["stubble", "WIDE"][..], &["650/65"], &["0007"]] {
        let found = json(&desk.done(&[&["record", "list", "--json"], words].concat()));
        assert_eq!(found["records"][0]["id"], *id, "{words:?}");
    }
    let none = json(&desk.done(&["record", "list", "--json", "gravel"]));
    assert!(none["records"].as_array().unwrap().is_empty());

    let verdict = json(&desk.done(&["record", "verify", "--all", "--json"]));
    assert_eq!(
        (&verdict["sound"], &verdict["records"][0]["outcome"]),
        (&true.into(), &"same bytes".into())
    );

    let amend =
        ["record", "amend", id, "--reason", "tyres were soft", "--inflation", "0.9 bar", "--json"];
    let newer = json(&desk.done(&amend));
    assert_eq!(newer["amends"]["id"], *id);
    assert_eq!(newer["conditions"]["inflation_kpa"], 90.0);
    assert_eq!(newer["as_found"], 13400.0);
    assert!(desk.refused(&amend, 2).contains("amended already"));
    let listed = json(&desk.done(&["record", "list", "--json"]));
    assert_eq!(listed["records"][1]["amended_by"], newer["id"]);
    let newer = newer["id"].as_str().unwrap();
    let compared = json(&desk.done(&["record", "compare", id, newer, "--json"]));
    assert_eq!(compared["value"]["significant"], false);
    let differences = compared["differences"].as_array().unwrap();
    assert_eq!(differences.len(), 1, "{differences:?}");
    assert_eq!(differences[0]["at"], "conditions.inflation_kpa");

    let page = desk.folder.file("page.html");
    desk.done(&["record", "print", id, "--to", &page]);
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains(newer), "the earlier record's paper names the one that supersedes it");
}

#[test]
fn what_may_not_be_signed_off_is_refused_and_the_reason_is_kept() {
    let desk = Desk::new();
    let flagged = in_tree("logs/joined-real-receiver.capture").display().to_string();
    assert!(desk.refused(&["sign", &flagged], 2).contains("no rig yet"));
    let desk = Desk::with_rig();
    let refused = desk.refused(&["sign", &flagged], 1);
    assert!(refused.contains("Nothing was signed off"), "{refused}");
    desk.done(&["rig", "edit", "Big one, wide", "--source", "satellite"]);
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    assert!(desk.refused(&["sign", &capture], 1).contains("satellite"));
    let why = ["sign", &flagged, "--channel", "wheel", "--because", "all there is", "--json"];
    assert_eq!(json(&desk.done(&why))["accepted_because"], "all there is");
}

#[test]
fn damage_is_named_and_everything_else_works() {
    let desk = Desk::with_rig();
    let first = desk.sign(&["--remark", "first"]);
    let second = desk.sign(&["--remark", "second"]);
    let id = |record: &Value| record["id"].as_str().unwrap().to_owned();
    // Somebody changes a figure past the program.
    let db = rusqlite::Connection::open(desk.register()).unwrap();
    assert!(db.execute("UPDATE record SET to_enter = 1", []).is_err(), "records never change");
    assert!(db.execute("DELETE FROM record", []).is_err(), "records stay");
    db.execute_batch("DROP TRIGGER records_never_change").unwrap();
    let sql = "UPDATE record SET json = replace(json, '\"first\"', '\"other\"') WHERE id = ?1";
    assert_eq!(db.execute(sql, [id(&first)]).unwrap(), 1);
    drop(db);
    let end = desk.run(&["record", "list", "--json"]);
    assert_eq!(end.code, Some(1));
    let listed = json(&end.stdout);
    let damage = |at: usize| listed["records"][at]["damage"].clone();
    assert_eq!(damage(0), Value::Null);
    assert!(damage(1).as_str().unwrap().contains("not what was written"), "{listed}");
    desk.refused(&["record", "show", &id(&first)], 5);
    desk.done(&["record", "show", &id(&second)]);

    // A bit of the capture flips.
    let sha = second["capture"]["sha256"].as_str().unwrap();
    let capture = desk.folder.path().join(format!("data/captures/{sha}.capture"));
    let mut bytes = std::fs::read(&capture).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&capture, &bytes).unwrap();
    let verdict = desk.run(&["record", "verify", &id(&second), "--json"]);
    assert_eq!(
        (verdict.code, &json(&verdict.stdout)["records"][0]["outcome"]),
        (Some(5), &"damaged".into())
    );
    // The record itself can still be shown and printed.
    desk.done(&["record", "show", &id(&second)]);
    // Half a file shows in the list.
    std::fs::write(&capture, &bytes[..middle]).unwrap();
    let listed = json(&desk.run(&["record", "list", "--json"]).stdout);
    assert!(listed["records"][0]["damage"].as_str().unwrap().contains("bytes"), "{listed}");
    let backup = desk.folder.file("damaged.trundle");
    let end = desk.run(&["backup", &backup, "--json"]);
    assert_eq!((end.code, &json(&end.stdout)["records"]), (Some(1), &2.into()));
}

#[test]
fn everything_goes_into_one_file_and_comes_back() {
    let (desk, new) = (Desk::with_rig(), Desk::new());
    let record = desk.sign(&["--surface", "gravel"]);
    let file = desk.folder.file("all.backup");
    desk.done(&["backup", &file]);
    desk.refused(&["backup", &file], 2);
    desk.refused(&["restore", &file], 2);
    assert!(new.done(&["restore", &file, "--dry-run"]).contains("1 records, 1 captures"));
    assert!(!new.register().exists());
    new.done(&["restore", &file]);
    for list in [&["record", "list", "--json"][..], &["rig", "list", "--json"]] {
        assert_eq!(new.done(list), desk.done(list));
    }
    let id = record["id"].as_str().unwrap();
    assert!(new.done(&["record", "verify", id]).contains("the same bytes"));
    let nonsense = desk.folder.write("nonsense", b"SQLite format 3\0 and then nothing");
    Desk::new().refused(&["restore", &nonsense], 5);
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    Desk::new().refused(&["restore", &capture], 5);
}

#[test]
fn two_programs_at_once_and_a_register_of_a_later_version() {
    let desk = Desk::with_rig();
    let lock = std::fs::File::options()
        .read(true)
        .write(true)
        .open(desk.folder.path().join("data/writer.lock"))
        .unwrap();
    lock.try_lock().unwrap();
    let said = desk.refused(&["rig", "add", "Third"], 4);
    assert!(said.contains("Another program"), "{said}");
    // Looking is always possible.
    assert_eq!(names(&desk.done(&["rig", "list", "--json"])), ["Big one, wide"]);
    drop(lock);
    desk.done(&["rig", "add", "Third"]);
    // Many at once: each waits its turn, and nothing is lost.
    std::thread::scope(|scope| {
        for number in 0..8 {
            let desk = &desk;
            scope.spawn(move || desk.in_turn(&["tractor", "add", &format!("No. {number}")]));
        }
    });
    assert_eq!(names(&desk.done(&["tractor", "list", "--json"])).len(), 9);
    rusqlite::Connection::open(desk.register())
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    assert!(desk.refused(&["rig", "list"], 5).contains("later version"));
    std::fs::write(desk.register(), b"not a register at all, but long enough to look at").unwrap();
    assert!(desk.refused(&["rig", "list"], 5).contains("damaged"));
    assert!(Path::new(&desk.folder.file("data/register.db")).exists(), "never thrown away");
}
