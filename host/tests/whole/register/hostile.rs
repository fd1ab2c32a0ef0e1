//! Backups that somebody else has made: rows are taken from them, never a schema.

use super::Desk;
use crate::support::json;
use std::path::Path;

/// A sound backup of one record, and then what `sql` makes of it.
fn backup(desk: &Desk, name: &str, sql: &str) -> String {
    let file = desk.folder.file(name);
    desk.run(&["backup", &file]);
    let db = rusqlite::Connection::open(&file).unwrap();
    db.execute_batch(sql).unwrap_or_else(|e| panic!("{name}: {e}"));
    file
}

/// Refused in three lines, and nothing is left behind: neither folder nor register nor captures.
fn refused_and_nothing_left(file: &str, said: &str) {
    for dry in [&["--dry-run"][..], &[]] {
        let new = Desk::new();
        let what = new.refused(&[&["restore", file], dry].concat(), 5);
        assert!(what.contains(said), "{file}: {what}");
        let left: Vec<_> = std::fs::read_dir(new.folder.path()).unwrap().collect();
        assert!(left.is_empty(), "{file}: {left:?}");
    }
}

#[test]
fn what_cannot_be_restored_leaves_nothing_behind() {
    let desk = Desk::with_rig();
    desk.sign(&[]);
    let endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)";
    for (name, sql, said) in [
        ("later", "PRAGMA user_version = 99".to_owned(), "later version"),
        ("none", "PRAGMA user_version = 0".to_owned(), "no register"),
        (
            "view",
            "ALTER TABLE record RENAME TO other; CREATE VIEW record AS SELECT * FROM other"
                .to_owned(),
            "no table record",
        ),
        (
            "endless",
            format!(
                "DROP TABLE change; CREATE VIEW change AS {endless} SELECT i AS id, '' AS at_utc, \
                 i AS batch, '' AS thing, i AS thing_id, 'add' AS action, '' AS before, \
                 0 AS undone FROM n"
            ),
            "no table change",
        ),
        ("texts", "ALTER TABLE record DROP COLUMN json".to_owned(), "column json"),
        (
            "names",
            "DROP INDEX tape_name; ALTER TABLE tape RENAME COLUMN name TO other".to_owned(),
            "column name",
        ),
        ("gone", "DROP TABLE record".to_owned(), "no table record"),
    ] {
        refused_and_nothing_left(&backup(&desk, name, &sql), said);
    }
    // A folder that was there stays, with what is in it.
    let new = Desk::new();
    std::fs::create_dir(new.folder.path().join("data")).unwrap();
    std::fs::write(new.folder.path().join("data/mine"), b"mine").unwrap();
    let file = backup(&desk, "again", "ALTER TABLE record DROP COLUMN json");
    new.refused(&["restore", &file], 5);
    let left: Vec<_> = std::fs::read_dir(new.folder.path().join("data")).unwrap().collect();
    assert_eq!(left.len(), 1, "{left:?}");
}

#[test]
fn what_a_backup_holds_besides_rows_does_nothing() {
    let desk = Desk::with_rig();
    desk.sign(&[]);
    let new = Desk::new();
    let file = backup(
        &desk,
        "triggers",
        "CREATE TRIGGER mine AFTER INSERT ON tractor BEGIN DELETE FROM tyres; END; \
         CREATE TABLE mine (x); CREATE VIEW seen AS SELECT * FROM rig; \
         DROP TRIGGER records_never_change",
    );
    new.done(&["restore", &file]);
    let schema = |desk: &Desk| -> Vec<(String, String)> {
        let db = rusqlite::Connection::open(desk.register()).unwrap();
        let mut asked = db.prepare("SELECT name, coalesce(sql, '') FROM sqlite_schema").unwrap();
        let rows = asked.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        let mut all: Vec<_> = rows.map(Result::unwrap).collect();
        all.sort();
        all
    };
    assert_eq!(schema(&new), schema(&desk), "our own schema and no other");
    new.done(&["record", "verify", "--all"]);
    for list in [&["record", "list", "--json"][..], &["rig", "list", "--json"], &["bin", "list"]] {
        assert_eq!(new.done(list), desk.done(list));
    }
    new.done(&["tractor", "add", "Another"]);
    new.done(&["undo"]);
    new.done(&["tyres", "show", "Wide"]);
}

/// What is missing or was changed is told, and what can be had is had.
#[test]
fn what_is_damaged_in_a_backup_is_told_and_the_rest_is_restored() {
    let desk = Desk::with_rig();
    let record = desk.sign(&["--remark", "one"]);
    let id = record["id"].as_str().unwrap();
    let away = "DROP TRIGGER records_never_change;";
    for (name, sql, said) in [
        ("state", "ALTER TABLE record DROP COLUMN state".to_owned(), "state"),
        ("wear", "ALTER TABLE tyres DROP COLUMN wear".to_owned(), "wear"),
        ("practice", format!("{away} UPDATE record SET practice = 0"), "practice"),
        ("text", format!("{away} UPDATE record SET json = CAST(X'41b3' AS TEXT)"), id),
        ("capture", "UPDATE capture SET bytes = X'00'".to_owned(), "capture"),
        ("captures", "DROP TABLE capture".to_owned(), "capture"),
        ("tractor", "PRAGMA foreign_keys = OFF; DELETE FROM tractor".to_owned(), "a tractor that"),
    ] {
        let new = Desk::new();
        let file = backup(&desk, name, &sql);
        let end = new.run(&["restore", &file, "--json"]);
        assert_eq!(end.code, Some(1), "{name}: {}{}", end.stdout, end.stderr);
        let done = json(&end.stdout);
        assert!(done["damaged"].to_string().contains(said), "{name}: {done}");
        assert_eq!(done["records"], 1, "{name}: {done}");
        assert!(!Path::new(&new.folder.file("data/register.db.new")).exists());
        let listed = new.run(&["record", "list", "--json"]);
        let damaged = ["text", "capture", "captures"].contains(&name);
        assert_eq!(listed.code, Some(i32::from(damaged)), "{name}: {}", listed.stdout);
        let verdict = new.run(&["record", "verify", "--all"]);
        assert_eq!(verdict.code, Some(if damaged { 5 } else { 0 }), "{name}: {}", verdict.stdout);
        new.done(&["rig", "list"]);
        new.done(&["rig", "add", "Next"]);
    }
}

/// A key that was changed to that of another rig is not sealed anew: the record's text names its
/// rig.
#[test]
fn a_record_in_a_backup_stays_with_the_rig_that_its_text_names() {
    let desk = Desk::with_rig();
    desk.sign(&[]);
    desk.done(&["rig", "add", "Next"]);
    let rig_of = |desk: &Desk| -> String {
        let db = rusqlite::Connection::open(desk.register()).unwrap();
        let sql = "SELECT g.name FROM record r JOIN rig g ON g.id = r.rig";
        db.query_row(sql, [], |row| row.get(0)).unwrap()
    };
    let sql = "DROP TRIGGER records_never_change; \
               UPDATE record SET rig = (SELECT id FROM rig WHERE name = 'Next')";
    let (file, new) = (backup(&desk, "rig", sql), Desk::new());
    let end = new.run(&["restore", &file, "--json"]);
    assert_eq!(end.code, Some(1), "{}{}", end.stdout, end.stderr);
    assert!(json(&end.stdout)["damaged"].to_string().contains("key of its rig"), "{}", end.stdout);
    assert_ne!(rig_of(&desk), "Next");
    assert_eq!(rig_of(&new), rig_of(&desk));
    new.done(&["record", "verify", "--all"]);
}
