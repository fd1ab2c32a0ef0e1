//! What steers a terminal, in every text of every file that somebody else may have made: none of
//! it reaches stdout or stderr of any command.

use crate::support::{Finished, TempDir, in_tree, trundle_in};
use std::path::Path;
use trundle::recorder::capture_read::read_from;
use trundle_core::capture::{Entry, HostMark, HostMarkAction, Piece, Record, encode};

/// Control sequences of 7 and 8 bits, one that sets the clipboard, the direction of writing, what
/// cannot be seen, delete, and a return to the start of the line.
const STEERS: &str =
    "x\u{1b}[2J\u{1b}]52;c;aGk=\u{7}\u{9b}31m\u{90}q\u{202e}\u{2066}\u{200b}\u{7f}\ry";

fn assert_safe(args: &[&str], finished: &Finished) {
    let steers = |c: char| {
        (c.is_control() && c != '\n' && c != '\t')
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}')
            || matches!(c, '\u{2066}'..='\u{2069}')
    };
    for (name, text) in [("stdout", &finished.stdout), ("stderr", &finished.stderr)] {
        let found = text.find(steers);
        let near = found.map(|at| text[at.saturating_sub(60).min(at)..].chars().take(90));
        let near: Option<String> = near.map(Iterator::collect);
        assert_eq!(near, None, "{args:?}: {name}");
    }
    assert_ne!(finished.code, Some(70), "{args:?}: {}", finished.stderr);
}

/// A sound capture with this in all of its texts.
fn hostile(course: &str) -> Vec<u8> {
    let bytes = std::fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let mut out = Vec::new();
    let mut put = |host_ns, entry| encode(&Record { host_ns, entry }, &mut out);
    let mut last_ns = 0;
    read_from(&bytes[..], Path::new("x"), |piece| {
        let mut record = match piece {
            Piece::Bytes { host_ns, role, bytes } => {
                Record { host_ns: *host_ns, entry: Entry::Bytes(*role, bytes.to_vec()) }
            }
            Piece::Record(record) => Record::clone(record),
            Piece::Damage(damage) => panic!("{damage:?}"),
        };
        last_ns = record.host_ns;
        match &mut record.entry {
            Entry::Header(header) => {
                header.software = STEERS.to_owned();
                header.started_utc = STEERS.to_owned();
            }
            Entry::Port(event) => event.detail = STEERS.to_owned(),
            Entry::Course(text) => *text = course.into(),
            Entry::HostMark(mark) => mark.text = STEERS.to_owned(),
            Entry::End => {
                for (key, action, text) in [
                    (901, HostMarkAction::Note, STEERS.to_owned()),
                    (902, HostMarkAction::Note, format!("rig: {STEERS}")),
                    (903, HostMarkAction::Note, format!("other board: {STEERS}")),
                    (904, HostMarkAction::Refuse, STEERS.to_owned()),
                    (905, HostMarkAction::Note, format!("implement: {STEERS}")),
                ] {
                    put(last_ns, Entry::HostMark(HostMark { key, action, text }));
                }
            }
            _ => {}
        }
        put(record.host_ns, record.entry);
    })
    .unwrap();
    out
}

/// Courses and rigs: damaged, with unknown keys, with texts of the wrong kind.
fn tomls() -> Vec<String> {
    let quoted = STEERS.chars().map(|c| format!("\\u{:04x}", u32::from(c))).collect::<String>();
    vec![
        format!("[course]\nnominal_m = 100.0\n\"{quoted}\" = 1\n"),
        format!("[course]\nnominal_m = 100.0\nname = \"{quoted}\"\n"),
        format!("[course]\nnominal_m = 100.0\n[tape]\nclass = \"{quoted}\"\n"),
        format!("[course]\nnominal_m = 100.0\n[\"{quoted}\"]\nx = 1\n"),
        format!("nominal_m = {STEERS}\n"),
        format!("# {STEERS}\n[rig]\nname = \"{quoted}\"\n{quoted} = 1\n"),
        format!("[[{STEERS}\n"),
    ]
}

#[test]
fn nothing_that_steers_a_terminal_comes_out_of_any_command() {
    let folder = TempDir::new();
    let data = folder.file("data");
    let run = |args: &[&str]| {
        let finished = trundle_in(args, &[("TRUNDLE_DATA", &data), ("TRUNDLE_SETTINGS", "/none")]);
        assert_safe(args, &finished);
        finished
    };
    for (number, toml) in tomls().iter().enumerate() {
        let capture = folder.write(&format!("{number}.capture"), &hostile(toml));
        let course = folder.write(&format!("{number}.toml"), toml.as_bytes());
        for command in ["work", "slip", "check", "speeds", "pto", "mount", "bus", "proof"] {
            run(&[command, &capture]);
            run(&[command, &capture, "--json"]);
        }
        run(&["work", &capture, "--course", &course]);
        run(&["sign", &capture]);
        run(&["course", &course]);
        run(&["rig", "import", &course]);
        for format in ["csv", "json", "geojson"] {
            run(&["export", "passes", &capture, "--format", format]);
        }
        for command in ["pack", "work", "unpack"] {
            run(&[command, &capture]);
        }
        let settings = trundle_in(&["where"], &[("TRUNDLE_SETTINGS", &course)]);
        assert_safe(&["where"], &settings);
    }
    // Signed with hostile texts, then listed, verified and printed.
    let capture = folder.write("signed.capture", &hostile("[course]\nnominal_m = 100.0\n"));
    run(&["sign", &capture, "--because", "a test", "--rig", "Rig"]);
    for args in [
        &["record", "list"][..],
        &["record", "list", "--json"],
        &["record", "verify", "--all"],
        &["record", "history"],
        &["work", STEERS],
        &["pack", STEERS],
        &["rig", "show", STEERS],
        &["drive", "--board", STEERS, "--no-receiver"],
        &["drive", "--length", STEERS],
        &[STEERS],
    ] {
        run(args);
    }
    let table = folder.write("c.csv", format!("board_s,{STEERS}\n1,2\n{STEERS},3\n").as_bytes());
    let log = format!("(1.0) {STEERS} 18FE48F0#00\n({STEERS}) can0 18FE48F0#00\n{STEERS}\n");
    let log = folder.write("bus.log", log.as_bytes());
    let out = folder.file("i.capture");
    for (read, file) in [("--counts", &table), ("--bus", &log)] {
        let finished = run(&["import", "--nmea", &table, read, file, "--out", &out]);
        // Read and refused, not stopped at the options.
        assert_eq!(finished.code, Some(5), "{read}: {}", finished.stderr);
    }
}
