//! Random damage of register, captures, settings and backups: what is damaged is named, everything
//! else works, and nothing is called a fault of the program.
//!
//! `damage TRUNDLE CAPTURE [TIMES] [SEED]`. Each time, one file of a sound folder gets flipped
//! bits, an overwritten page, a new end, or another value in one cell of the register. Then every
//! command that uses it is asked. Prints the seed and a table; exit code 1 when a record that is
//! called sound is not what was signed off, when one is missing without a word, or on any code
//! that stands for none of this.
#![allow(clippy::print_stdout, clippy::print_stderr, clippy::unwrap_used)]

use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Output};
use trundle::store::place::DataFolder;
use trundle::store::register::{Register, Wanted, insert};
use trundle_core::result::record_v1::RecordV1;
use trundle_tests::Draws;

/// Records in the folder.
const RECORDS: usize = 40;
/// Codes that say what is wrong, or that nothing is: done, flagged, usage, damaged.
const TOLD: [i32; 4] = [0, 1, 2, 5];

/// A folder for one trial.
struct Desk<'a> {
    trundle: &'a str,
    folder: PathBuf,
}

impl Desk<'_> {
    fn file(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    fn ask(&self, data: &str, args: &[&str]) -> Output {
        let mut command = Command::new(self.trundle);
        command.arg("--data").arg(self.file(data)).args(args);
        command.env("TRUNDLE_SETTINGS", self.file("settings.toml")).output().unwrap()
    }
}

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().collect();
    let [_, trundle, capture, rest @ ..] = args.as_slice() else {
        eprintln!("damage TRUNDLE CAPTURE [TIMES] [SEED]");
        return ExitCode::from(2);
    };
    let number = |at: usize, default: u64| rest.get(at).map_or(default, |n| n.parse().unwrap());
    let (times, seed) = (number(0, 200), number(1, 1));
    println!("seed {seed}, {times} damages");
    let folder = tempfile::tempdir().unwrap();
    let sound = Desk { trundle, folder: folder.path().join("sound") };
    let signed = prepare(&sound, capture);
    let mut numbers = Draws::new(seed);
    let mut table: BTreeMap<String, [usize; 2]> = BTreeMap::new();
    let mut wrong = 0;
    for time in 0..times {
        let trial = Desk { trundle, folder: folder.path().join(format!("{time}")) };
        copy(&sound.folder, &trial.folder);
        let what = damage(&trial, &mut numbers);
        let (faults, named) = judge(&trial, &signed);
        for fault in &faults {
            println!("damage {time}, {what}: {fault}");
        }
        wrong += faults.len();
        let count = table.entry(what).or_default();
        count[0] += 1;
        count[1] += usize::from(named);
        std::fs::remove_dir_all(&trial.folder).unwrap();
    }
    for (what, [all, named]) in table {
        println!("{what:40} {all:4} damages, {named:4} with another code than 0");
    }
    println!("{wrong} faults");
    if wrong == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// A sound folder with settings and a backup; gives its records by name.
fn prepare(desk: &Desk<'_>, capture: &str) -> BTreeMap<String, String> {
    std::fs::create_dir_all(&desk.folder).unwrap();
    std::fs::write(desk.file("settings.toml"), "receiver_speed = 38400\n").unwrap();
    let done = |args: &[&str]| {
        let end = desk.ask("data", args);
        assert!(end.status.success(), "{args:?}: {}", String::from_utf8_lossy(&end.stderr));
    };
    done(&["tractor", "add", "Big one", "--make", "Own build"]);
    done(&["tyres", "add", "Wide", "--inflation", "1.2 bar"]);
    done(&["rig", "add", "Rig of the sweep", "--tractor", "Big one", "--tyres", "Wide"]);
    done(&["sign", capture]);
    let place = DataFolder::at(&desk.file("data"));
    let register = Register::read(&place).unwrap();
    let first = register.record(&register.records(&Wanted::default()).unwrap()[0].id).unwrap();
    let db = rusqlite::Connection::open(place.register()).unwrap();
    let mut signed = BTreeMap::from([(first.id.clone(), first.to_json())]);
    for number in 1..RECORDS {
        let remark = Some(format!("remark {number}"));
        let record = RecordV1 { remark, ..first.clone() }.seal();
        insert(&db, &record, Some(1), None).unwrap();
        signed.insert(record.id.clone(), record.to_json());
    }
    done(&["backup", &desk.file("all.backup").display().to_string()]);
    signed
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let to = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &to);
        } else {
            std::fs::copy(entry.path(), to).unwrap();
        }
    }
}

/// Damage one file; gives what was done.
fn damage(desk: &Desk<'_>, numbers: &mut Draws) -> String {
    let captures = desk.file("data/captures");
    let capture = std::fs::read_dir(captures).unwrap().next().unwrap().unwrap().path();
    let register = desk.file("data/register.db");
    let files = [
        ("register", register.clone()),
        ("register", register.clone()),
        ("backup", desk.file("all.backup")),
        ("capture", capture),
        ("settings", desk.file("settings.toml")),
    ];
    let (name, path) = &files[numbers.below(files.len())];
    let kind = numbers.below(4);
    if kind == 3 && *name == "register" {
        return cell(&register, numbers);
    }
    let mut bytes = std::fs::read(path).unwrap();
    let kind = match kind {
        0 | 3 => {
            for _ in 0..=numbers.below(8) {
                let at = numbers.below(bytes.len());
                bytes[at] ^= 1 << numbers.below(8);
            }
            "flipped bits"
        }
        1 => {
            let page = numbers.below(bytes.len().div_ceil(4096)) * 4096;
            let end = bytes.len().min(page + 4096);
            bytes[page..end].fill_with(|| numbers.below(256) as u8);
            "a page overwritten"
        }
        _ => {
            bytes.truncate(numbers.below(bytes.len()));
            "cut off"
        }
    };
    std::fs::write(path, bytes).unwrap();
    format!("{name}: {kind}")
}

/// Another value in one cell of one record, past every guard.
fn cell(register: &Path, numbers: &mut Draws) -> String {
    const VALUES: [&str; 5] = ["0", "7.5", "'other'", "CAST(X'b3ff00' AS TEXT)", "NULL"];
    let db = rusqlite::Connection::open(register).unwrap();
    db.execute_batch("DROP TRIGGER records_never_change").unwrap();
    // All but the key, which no damage of a cell changes.
    let mut asked =
        db.prepare("SELECT name FROM pragma_table_info('record') WHERE pk = 0").unwrap();
    let columns: Vec<String> =
        asked.query_map((), |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    let (column, number) = (&columns[numbers.below(columns.len())], 1 + numbers.below(RECORDS));
    // What the table's own rules do not allow is not what damage of a cell makes.
    for at in 0..VALUES.len() {
        let value = VALUES[(at + number) % VALUES.len()];
        let sql = format!("UPDATE record SET {column} = {value} WHERE number = {number}");
        if db.execute_batch(&sql).is_ok() {
            break;
        }
    }
    "register: a cell".to_owned()
}

/// What is wrong with what was said, and whether something was named.
fn judge(desk: &Desk<'_>, signed: &BTreeMap<String, String>) -> (Vec<String>, bool) {
    let mut faults = Vec::new();
    let mut named = false;
    let backup = desk.file("all.backup").display().to_string();
    let mut restored = false;
    for data in ["data", "restored"] {
        if data == "restored" {
            let end = desk.ask(data, &["restore", &backup]);
            named |= heard("restore", &end, &mut faults);
            restored = matches!(end.status.code(), Some(0 | 1));
            if !restored && desk.file("restored").exists() {
                faults.push("a refused restore left something behind".to_owned());
            }
        }
        if data == "restored" && !restored {
            break;
        }
        for args in [
            &["rig", "list"][..],
            &["tractor", "list"],
            &["bin", "list"],
            &["doctor", "--no-ports"],
            &["where"],
            &["record", "list", "remark 7"],
            &["record", "history"],
            &["backup", "again.backup"],
        ] {
            let mut args = args.to_vec();
            let file = desk.file(&format!("{data}.backup")).display().to_string();
            if args[0] == "backup" {
                args[1] = &file;
            }
            named |=
                heard(&format!("{data}: {}", args.join(" ")), &desk.ask(data, &args), &mut faults);
        }
        named |= records(desk, data, signed, &mut faults);
    }
    (faults, named)
}

/// Held to its code; tells whether it named something.
fn heard(what: &str, end: &Output, faults: &mut Vec<String>) -> bool {
    let code = end.status.code();
    if !code.is_some_and(|code| TOLD.contains(&code)) {
        let said = String::from_utf8_lossy(&end.stderr);
        faults.push(format!("{what}: code {code:?}: {said}"));
    }
    code != Some(0)
}

/// Lists, verdicts and exports against what was signed off.
fn records(
    desk: &Desk<'_>,
    data: &str,
    signed: &BTreeMap<String, String>,
    faults: &mut Vec<String>,
) -> bool {
    let list = desk.ask(data, &["record", "list", "--all", "--json"]);
    let mut named = heard("list", &list, faults);
    let Ok(listed) = serde_json::from_slice::<Value>(&list.stdout) else { return true };
    let rows = listed["records"].as_array().unwrap();
    let sound: Vec<&str> = rows
        .iter()
        .filter(|row| row["damage"].is_null())
        .map(|row| row["id"].as_str().unwrap())
        .collect();
    if !named && sound.len() < signed.len() && data == "data" {
        faults.push(format!("{} records are missing without a word", signed.len() - sound.len()));
    }
    for row in rows.iter().filter(|row| row["damage"].is_null()) {
        let whole = signed.get(row["id"].as_str().unwrap());
        let whole: Option<Value> = whole.map(|text| serde_json::from_str(text).unwrap());
        let same = |key: &str| whole.as_ref().is_some_and(|whole| whole[key] == row[key]);
        if !["issued_utc", "channel", "to_enter", "practice"].into_iter().all(same) {
            faults.push(format!("listed as sound: {row}"));
        }
    }
    // One of the sound ones, and one of the others, each by itself.
    for (id, code) in [
        (sound.first(), 0),
        (
            rows.iter()
                .find_map(|row| (row["state"] == "damaged").then(|| row["id"].as_str()).flatten())
                .as_ref(),
            5,
        ),
    ] {
        let Some(id) = id else { continue };
        let end = desk.ask(data, &["record", "show", id, "--json"]);
        heard("show", &end, faults);
        let shown = String::from_utf8_lossy(&end.stdout);
        let whole = signed.get(*id).is_some_and(|text| shown.trim_end() == text);
        if code == 5 && end.status.success() {
            faults.push(format!("{id} is listed as damaged and shown"));
        }
        if code == 0 && !whole {
            faults.push(format!("{id} is listed as sound and not shown"));
        }
    }
    let export = desk.ask(data, &["export", "records", "--format", "json"]);
    named |= heard("export", &export, faults);
    let verify = desk.ask(data, &["record", "verify", sound.first().copied().unwrap_or("none")]);
    named | heard("verify", &verify, faults)
}
