//! Files of an earlier release, which are never made anew: each is read, and gives the same values.
//!
//! `tests/data/v1/make.sh` says how they were made. What has a space in it is a sentence;
//! sentences may be worded better, and only they.

use crate::support::{Finished, TempDir, in_tree, json, trundle_in};
use serde_json::Value;
use std::path::Path;

const KEPT: &str = "tests/data/v1";
/// The rig of the record.
const RIG: &str = "Grey one";

fn kept(name: &str) -> std::path::PathBuf {
    in_tree(&format!("{KEPT}/{name}"))
}

/// All that an old document says, a new one says too; what is new may stand beside it.
fn same(old: &Value, new: &Value, at: &str) {
    match (old, new) {
        (Value::Object(old), Value::Object(new)) => {
            for (key, value) in old.iter().filter(|(key, _)| *key != "software") {
                let at = format!("{at}/{key}");
                same(value, new.get(key).unwrap_or_else(|| panic!("{at} is gone")), &at);
            }
        }
        (Value::Array(old), Value::Array(new)) => {
            assert_eq!(old.len(), new.len(), "{at}");
            for (number, (old, new)) in old.iter().zip(new).enumerate() {
                same(old, new, &format!("{at}/{number}"));
            }
        }
        (Value::String(old), Value::String(new)) if old.contains(' ') && new.contains(' ') => {}
        _ => assert_eq!(old, new, "{at}"),
    }
}

fn read(name: &str) -> Value {
    json(&std::fs::read_to_string(kept(name)).unwrap())
}

/// The data folder of that release, in a place where it may be written to.
fn data(folder: &TempDir) -> String {
    let to = folder.path().join("data");
    copy(&kept("data"), &to);
    to.display().to_string()
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let to = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &to);
        } else {
            std::fs::copy(entry.path(), to).unwrap();
        }
    }
}

fn run(data: &str, args: &[&str]) -> Finished {
    trundle_in(args, &[("TRUNDLE_DATA", data)])
}

fn done(data: &str, args: &[&str]) -> String {
    let finished = run(data, args);
    assert_eq!(finished.code, Some(0), "{args:?}: {}", finished.stderr);
    finished.stdout
}

/// One document for each way to look at a capture.
#[test]
fn a_capture_of_version_1_gives_the_values_that_it_gave() {
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    for (name, args) in [
        ("work", &["work"][..]),
        ("check", &["check"]),
        ("slip", &["slip", "--zero-slip-value", "12700", "--right", "0.4", "--ahead", "1.5"]),
        ("speeds", &["speeds"]),
        ("pto", &["pto", "--display-step", "10"]),
        ("mount", &["mount"]),
        ("proof", &["proof", "--entered", "12676"]),
    ] {
        let folder = TempDir::new();
        let args = [args, &["--json", "--", &capture]].concat();
        let said = run(&folder.path().display().to_string(), &args).stdout;
        same(&read(&format!("{name}.json")), &json(&said), name);
    }
}

#[test]
fn a_register_and_a_backup_of_version_1_hold_what_they_held() {
    let folder = TempDir::new();
    let old = data(&folder);
    let restored = folder.path().join("restored").display().to_string();
    let backup = kept("all.backup").display().to_string();
    done(&restored, &["restore", &backup]);
    let record = read("record.json");
    let mut sheet = read("sheet.json");
    sheet.as_object_mut().unwrap().remove("made_utc");
    let id = record["id"].as_str().unwrap();
    for data in [&old, &restored] {
        // A record is its bytes.
        let shown = done(data, &["record", "show", id, "--json"]);
        assert_eq!(shown, std::fs::read_to_string(kept("record.json")).unwrap());
        done(data, &["record", "verify", id]);
        same(&sheet, &json(&run(data, &["sheet", RIG, "--json"]).stdout), "sheet");
        let to = folder.file("records.csv");
        done(data, &["export", "records", "--to", &to]);
        columns(&std::fs::read_to_string(&to).unwrap());
        std::fs::remove_file(&to).unwrap();
    }
}

/// Columns that were there are there in their order, with what stood in them; new ones follow.
fn columns(csv: &str) {
    let old = std::fs::read_to_string(kept("records.csv")).unwrap();
    assert_eq!(old.lines().count(), csv.lines().count());
    for (old, new) in old.lines().zip(csv.lines()) {
        assert!(new.starts_with(old), "{old}\n{new}");
    }
}

#[test]
fn a_rig_file_of_version_1_is_read() {
    let folder = TempDir::new();
    let data = folder.path().join("data").display().to_string();
    let file = kept("rig.toml").display().to_string();
    done(&data, &["rig", "import", &file]);
    let out = folder.file("again.toml");
    done(&data, &["rig", "export", RIG, "--to", &out]);
    let text = |path: &Path| std::fs::read_to_string(path).unwrap();
    assert_eq!(text(Path::new(&out)), text(&kept("rig.toml")));
}
