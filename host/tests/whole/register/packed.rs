//! Packed captures through the built program: every command reads them as they are, sign-off and
//! backup pack them, and what was spoilt is reported.

use super::{Desk, visit};
use crate::support::{Finished, Program, in_tree, json};
use std::fs;
use std::path::Path;
use std::time::{Duration, SystemTime};

/// The first four bytes of a packed capture (RFC 8878, 3.1.2).
const PACKED: [u8; 4] = [0x5E, 0x2A, 0x4D, 0x18];

fn run_in(desk: &Desk, folder: &Path, args: &[&str]) -> Finished {
    let data = desk.folder.file("data");
    let mut program = Program::start_in(folder, args, &[("TRUNDLE_DATA", &data)]);
    program.close_stdin();
    program.finish()
}

fn is_packed(path: &Path) -> bool {
    fs::read(path).unwrap().starts_with(&PACKED)
}

/// The same captures, plain in one folder and packed in another.
fn two_folders(desk: &Desk) -> [std::path::PathBuf; 2] {
    let files = &*visit::FILES;
    let folders = ["plain", "packed"].map(|name| desk.folder.path().join(name));
    for folder in &folders {
        fs::create_dir(folder).unwrap();
        let logs = in_tree("logs/simulated-rtk.capture");
        fs::copy(logs, folder.join("course.capture")).unwrap();
        for (name, from) in
            [("shaft", &files.pto), ("circles", &files.mount), ("steps", &files.speeds)]
        {
            fs::copy(from, folder.join(format!("{name}.capture"))).unwrap();
        }
        for scenario in ["bus", "proof", "check"] {
            let bytes = visit::capture(scenario, &[]);
            fs::write(folder.join(format!("{scenario}.capture")), bytes).unwrap();
        }
    }
    let names = fs::read_dir(&folders[1]).unwrap().map(|one| one.unwrap().path());
    let names: Vec<String> = names.map(|path| path.display().to_string()).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let said = desk.done(&[&["pack"][..], &names].concat());
    assert_eq!(said.lines().filter(|line| line.contains(": packed, ")).count(), 7, "{said}");
    folders
}

#[test]
fn every_command_gives_the_same_bytes_of_a_packed_capture() {
    let desk = Desk::with_rig();
    let folders = two_folders(&desk);
    for args in [
        &["work", "course.capture", "--json", "--report", "work.html"][..],
        &["slip", "course.capture", "--zero-slip-value", "12680", "--report", "slip.html"],
        &["speeds", "steps.capture", "--json", "--report", "speeds.html"],
        &["check", "check.capture", "--json"],
        &["pto", "shaft.capture", "--json"],
        &["mount", "circles.capture", "--json"],
        &["proof", "proof.capture", "--length", "100 m", "--json"],
        &["bus", "bus.capture", "--json"],
        &["export", "speeds", "steps.capture", "--format", "json"],
        &["export", "slip", "course.capture", "--zero-slip-value", "12680", "--format", "csv"],
        &["work", "check.capture"],
    ] {
        let [plain, packed] = folders.each_ref().map(|folder| run_in(&desk, folder, args));
        assert_eq!(plain.code, packed.code, "{args:?}: {}", packed.stderr);
        assert_eq!(plain.stdout, packed.stdout, "{args:?}");
        assert_eq!(plain.stderr, packed.stderr, "{args:?}");
        assert!(plain.code.is_some_and(|code| code <= 1), "{args:?}: {}", plain.stderr);
    }
    for page in ["work.html", "slip.html", "speeds.html"] {
        let [plain, packed] = folders.each_ref().map(|folder| fs::read(folder.join(page)).unwrap());
        assert!(plain == packed, "{page}");
    }
    // A record that is made of packed captures names the plain bytes.
    let parts = ["--pto", "shaft.capture", "--mount", "circles.capture"];
    let sign = ["sign", "course.capture", "--set-now", "12", "--dry-run", "--json"];
    let signed = folders.each_ref().map(|folder| {
        let end = run_in(&desk, folder, &[&sign[..], &parts].concat());
        assert_eq!(end.code, Some(0), "{}", end.stderr);
        json(&end.stdout)
    });
    assert_eq!(signed[0]["capture"], signed[1]["capture"]);
    assert_eq!(signed[0]["parts"], signed[1]["parts"]);
    let plain = fs::metadata(folders[0].join("course.capture")).unwrap().len();
    assert_eq!(signed[1]["capture"]["bytes"], plain);
}

#[test]
fn packed_and_unpacked_a_capture_is_what_it_was() {
    let desk = Desk::new();
    let bytes = fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let file = desk.folder.write("day.capture", &bytes);
    let path = Path::new(&file);
    let then = SystemTime::UNIX_EPOCH + Duration::from_secs(1_700_000_000);
    fs::File::options().write(true).open(path).unwrap().set_modified(then).unwrap();
    desk.done(&["pack", &file]);
    let packed = fs::read(path).unwrap();
    assert!(packed.starts_with(&PACKED) && packed.len() * 3 < bytes.len(), "{}", packed.len());
    assert_eq!(path.metadata().unwrap().modified().unwrap(), then, "when it was recorded");
    assert!(desk.done(&["pack", &file]).contains("packed already"));
    assert!(fs::read(path).unwrap() == packed);
    desk.done(&["unpack", &file]);
    assert!(fs::read(path).unwrap() == bytes);
    assert_eq!(path.metadata().unwrap().modified().unwrap(), then);
    assert!(desk.done(&["unpack", &file]).contains("not packed"));

    // One that is no capture is left alone, the others are packed all the same.
    let other = desk.folder.write("notes.txt", b"not a capture");
    let end = desk.run(&["pack", &other, &file]);
    assert_eq!(end.code, Some(5), "{}", end.stderr);
    assert!(end.stderr.contains("not a capture") && is_packed(path), "{}", end.stderr);
    assert_eq!(fs::read(&other).unwrap(), b"not a capture");

    // Neither is an empty one.
    let none = desk.folder.write("none.capture", b"");
    for command in ["pack", "unpack"] {
        desk.refused(&[command, &none], 5);
    }
    assert_eq!(fs::read(&none).unwrap(), b"");
    fs::remove_file(&none).unwrap();

    // What is spoilt stays packed, and what precedes it is read.
    fs::write(path, &packed[..packed.len() / 2]).unwrap();
    let said = desk.refused(&["unpack", &file], 5);
    assert!(said.contains("was cut or damaged"), "{said}");
    assert!(is_packed(path));
    let work = json(&desk.run(&["work", &file, "--json"]).stdout);
    let flags = work["flags"].to_string();
    assert!(flags.contains("CAPTURE_DAMAGED") && flags.contains("CAPTURE_CUT"), "{flags}");
    assert!(!work["passes"].as_array().unwrap().is_empty());
    let left = fs::read_dir(desk.folder.path()).unwrap().count();
    assert_eq!(left, 2, "nothing is left beside them");
}

#[test]
fn a_capture_that_may_still_grow_is_not_packed() {
    let desk = Desk::new();
    let bytes = fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let begun = &bytes[..bytes.len() - 19];
    let file = desk.folder.write("day.capture", begun);
    let said = desk.refused(&["pack", &file], 4);
    assert!(said.contains("within the last minute"), "{said}");
    assert!(fs::read(&file).unwrap() == begun);
    // A time to come says nothing of when it was written last.
    let ahead = SystemTime::now() + Duration::from_secs(3600);
    fs::File::options().write(true).open(&file).unwrap().set_modified(ahead).unwrap();
    desk.refused(&["pack", &file], 4);
    assert!(fs::read(&file).unwrap() == begun);
    // Of a job that broke off a while ago nothing comes any more.
    let then = SystemTime::now() - Duration::from_secs(61);
    fs::File::options().write(true).open(&file).unwrap().set_modified(then).unwrap();
    desk.done(&["pack", &file]);
    assert!(is_packed(Path::new(&file)));
}

#[cfg(unix)]
#[test]
fn packed_behind_a_link_the_link_stays_and_so_do_the_permissions() {
    use std::os::unix::fs::{PermissionsExt as _, symlink};
    let desk = Desk::new();
    let bytes = fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let file = desk.folder.write("day.capture", &bytes);
    fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
    let link = desk.folder.file("link.capture");
    symlink(&file, &link).unwrap();
    desk.done(&["pack", &link]);
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(is_packed(Path::new(&file)));
    assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o640);
}

#[test]
fn signed_off_it_is_packed_and_verified_as_before() {
    let desk = Desk::with_rig();
    let record = desk.sign(&[]);
    let sha = record["capture"]["sha256"].as_str().unwrap();
    let saved = desk.folder.path().join(format!("data/captures/{sha}.capture"));
    assert!(is_packed(&saved), "it is saved packed");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        assert_eq!(saved.metadata().unwrap().permissions().mode() & 0o777, 0o600);
    }
    let id = record["id"].as_str().unwrap();
    let packed = desk.done(&["record", "verify", id, "--json"]);
    assert_eq!(json(&packed)["records"][0]["outcome"], "same bytes");
    let listed = desk.done(&["record", "list", "--json"]);

    // As an older version saved it: all the same, and in a backup it is packed.
    let plain = fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let bytes = fs::read(&saved).unwrap();
    fs::write(&saved, &plain).unwrap();
    assert_eq!(desk.done(&["record", "verify", id, "--json"]), packed);
    assert_eq!(desk.done(&["record", "list", "--json"]), listed);
    let backup = desk.folder.file("plain.backup");
    desk.done(&["backup", &backup]);
    let new = Desk::new();
    assert!(new.done(&["restore", &backup]).contains("1 records, 1 captures"));
    let restored = new.folder.path().join(format!("data/captures/{sha}.capture"));
    assert!(fs::read(&restored).unwrap() == bytes, "the same bytes as at sign-off");
    assert_eq!(new.done(&["record", "verify", id, "--json"]), packed);

    // Signed off twice, also from the packed one: one capture, packed.
    desk.sign(&["--surface", "gravel"]);
    assert!(fs::read(&saved).unwrap() == bytes);
    let file = desk.folder.write("again.capture", &bytes);
    let again = json(&desk.done(&["sign", &file, "--json", "--surface", "stubble"]));
    assert_eq!(again["capture"]["sha256"], sha);
    assert_eq!(again["capture"]["bytes"], plain.len() as u64);
    assert!(fs::read(&saved).unwrap() == bytes);
    let captures = fs::read_dir(desk.folder.path().join("data/captures")).unwrap().count();
    assert_eq!(captures, 1);
}

/// A backup in which captures are plain, as older versions wrote them.
#[test]
fn a_backup_with_plain_captures_is_restored() {
    let (desk, new) = (Desk::with_rig(), Desk::new());
    let record = desk.sign(&[]);
    let file = desk.folder.file("all.backup");
    desk.done(&["backup", &file]);
    let plain = fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let db = rusqlite::Connection::open(&file).unwrap();
    let held: Vec<u8> = db.query_row("SELECT bytes FROM capture", [], |row| row.get(0)).unwrap();
    assert!(held.starts_with(&PACKED) && held.len() * 3 < plain.len());
    db.execute("UPDATE capture SET bytes = ?1", [&plain]).unwrap();
    drop(db);
    new.done(&["restore", &file]);
    let id = record["id"].as_str().unwrap();
    assert!(new.done(&["record", "verify", id]).contains("the same bytes"));

    // A packed one that is spoilt in the backup is named, and the record restored.
    let db = rusqlite::Connection::open(&file).unwrap();
    for spoilt in [held[..held.len() - 1].to_vec(), [&held[..], b"x"].concat()] {
        db.execute("UPDATE capture SET bytes = ?1", [&spoilt]).unwrap();
        let new = Desk::new();
        let end = new.run(&["restore", &file]);
        assert_eq!(end.code, Some(1), "{}", end.stderr);
        assert!(end.stdout.contains("is damaged in the backup"), "{}", end.stdout);
    }
}

/// Spoilt anywhere, a saved capture is named: by the list where it was cut, by the verification
/// in any case.
#[test]
fn a_saved_capture_that_was_spoilt_is_named() {
    let desk = Desk::with_rig();
    let record = desk.sign(&[]);
    let (id, sha) = (record["id"].as_str().unwrap(), record["capture"]["sha256"].as_str().unwrap());
    let saved = desk.folder.path().join(format!("data/captures/{sha}.capture"));
    let bytes = fs::read(&saved).unwrap();
    for cut in [0, 3, 40, bytes.len() / 2, bytes.len() - 1] {
        fs::write(&saved, &bytes[..cut]).unwrap();
        let listed = json(&desk.run(&["record", "list", "--json"]).stdout);
        let damage = listed["records"][0]["damage"].as_str().unwrap().to_owned();
        assert!(damage.contains("bytes"), "cut at {cut}: {damage}");
        let end = desk.run(&["record", "verify", id, "--json"]);
        assert_eq!(end.code, Some(5), "cut at {cut}: {}", end.stderr);
        assert!(end.stdout.contains("backup"), "cut at {cut}: {}", end.stdout);
        let backup = desk.folder.file(&format!("cut-{cut}.backup"));
        let end = desk.run(&["backup", &backup, "--json"]);
        assert!(end.code == Some(1) && end.stdout.contains("is damaged"), "{cut}: {}", end.stdout);
    }
    for at in [0, 20, 60, bytes.len() / 3, bytes.len() - 30, bytes.len() - 1] {
        let mut changed = bytes.clone();
        changed[at] ^= 8;
        fs::write(&saved, &changed).unwrap();
        let end = desk.run(&["record", "verify", id, "--json"]);
        assert_eq!(end.code, Some(5), "byte {at}: {}", end.stderr);
        let backup = desk.folder.file(&format!("{at}.backup"));
        assert_eq!(desk.run(&["backup", &backup, "--json"]).code, Some(1), "byte {at}");
    }
}
