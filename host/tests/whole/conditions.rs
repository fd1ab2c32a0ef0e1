//! Conditions of a job: said once before driving, kept in the capture, printed on its record.

use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, entries, in_tree, json, notes, trundle_in};
use trundle_core::capture::{Entry, HostMark, HostMarkAction, Record, encode};
use trundle_sim::Scenario;

/// A data folder with an active rig.
fn desk() -> TempDir {
    let desk = TempDir::new();
    let rig = ["rig", "add", "Ours", "--source", "wheel"];
    for args in [&["tractor", "add", "Old one"][..], &rig] {
        let added = run(&desk, args);
        assert_eq!(added.code, Some(0), "{}", added.stderr);
    }
    desk
}

fn run(desk: &TempDir, args: &[&str]) -> Finished {
    trundle_in(args, &[("TRUNDLE_DATA", &desk.file("data"))])
}

/// The stored log as a job that noted this before its first mark.
fn said(desk: &TempDir, said: &[&str]) -> String {
    let mut records = entries(&in_tree("logs/simulated-rtk.capture").display().to_string());
    let first = records.iter().position(|r| matches!(r.entry, Entry::Bytes(..))).unwrap();
    let host_ns = records[first].host_ns;
    for (at, text) in said.iter().enumerate() {
        let key = u64::MAX - at as u64;
        let text = (*text).to_owned();
        let mark = HostMark { key, action: HostMarkAction::Note, text };
        records.insert(first + at, Record { host_ns, entry: Entry::HostMark(mark) });
    }
    let mut bytes = Vec::new();
    records.iter().for_each(|record| encode(record, &mut bytes));
    desk.write("said.capture", &bytes)
}

#[test]
fn conditions_are_said_before_driving_and_the_replay_is_the_same() {
    let desk = desk();
    let scenario = Scenario { rest_s: 3600.0, ..Scenario::named("no-button").unwrap() };
    let tractor = Tractor::start(&scenario, 1, 1.0, None);
    let (board, receiver, capture) = (tractor.board(), tractor.receiver(), desk.file("c"));
    let file = "[course]\nnominal_m = 100.0\n[conditions]\nground = \"gravel\"\nload = \"empty\"\n";
    let course = desk.write("course.toml", file.as_bytes());
    let ports = ["--board", &board, "--receiver", &receiver, "--capture", &capture];
    let given = ["--course", &course, "--surface", "dry stubble", "--inflation-rear", "1.1 bar"];
    let more = ["--four-wheel-drive", "ON", "--implement", "the red sprayer", "--json"];
    let args = [&["drive"], &ports[..], &given, &more].concat();
    let mut driving = Program::start(&args, &[("TRUNDLE_DATA", &desk.file("data"))]);
    assert!(driving.until("recording", |p| p.said("Recording to ") > 0), "{}", driving.stderr());
    driving.types("n inflation: 0 bar");
    assert!(driving.until("refused", |p| p.said("Not saved. Inflation") > 0));
    driving.types("n gear: C2");
    driving.types("n wet: by the hedge");
    assert!(driving.until("saved", |p| p.said("Note saved.") > 1), "{}", driving.stderr());
    driving.types("q");
    let finished = driving.finish();
    let records = entries(&capture);
    let wanted = [
        "rig: Ours",
        "Load: empty",
        "Ground: dry stubble",
        "Inflation, rear: 1.1 bar",
        "Four-wheel drive: ON",
        "Implement: the red sprayer",
        "gear: C2",
        "wet: by the hedge",
    ];
    assert_eq!(notes(&records), wanted, "{}", finished.stderr);
    assert_eq!(run(&desk, &["work", &capture, "--json"]).stdout, finished.stdout);
}

#[test]
fn conditions_of_a_capture_stand_on_both_papers_and_can_be_amended() {
    let desk = desk();
    let capture = said(
        &desk,
        &[
            "Inflation, front: 1.4 bar",
            "Inflation, rear: 1.5 bar",
            "Gear: C1",
            "Gear: C2",
            "Terminal: the grey box",
            "Load: \u{1b}[31mred",
        ],
    );
    let signed = run(&desk, &["sign", &capture, "--load", "2000 kg", "--stated", "load", "--json"]);
    assert_eq!(signed.code, Some(0), "{}", signed.stderr);
    let record = json(&signed.stdout);
    let wanted = serde_json::json!({
        "gear": "C2",
        "inflation_front_kpa": 140.0,
        "inflation_rear_kpa": 150.0,
        "load": "2000 kg",
        "terminal": "the grey box",
    });
    assert_eq!(record["conditions"], wanted, "what was not said is absent");
    let id = record["id"].as_str().unwrap();
    let amended = ["record", "amend", id, "--reason", "misread", "--inflation", "1.2 bar"];
    let amended = run(&desk, &[&amended[..], &["--differential-lock", "off", "--json"]].concat());
    assert_eq!(amended.code, Some(0), "{}", amended.stderr);
    let newer = json(&amended.stdout);
    let wanted = serde_json::json!({
        "differential_lock": "off",
        "gear": "C2",
        "inflation_kpa": 120.0,
        "load": "2000 kg",
        "terminal": "the grey box",
    });
    assert_eq!(newer["conditions"], wanted);
    let id = newer["id"].as_str().unwrap();
    assert_eq!(run(&desk, &["record", "verify", id]).code, Some(0));
    let printed = |form: &[&str]| {
        let page = desk.file("record.html");
        let made = run(&desk, &[&["record", "print", id, "--to", &page], form].concat());
        assert_eq!(made.code, Some(0), "{}", made.stderr);
        std::fs::read_to_string(&page).unwrap()
    };
    for shown in [run(&desk, &["record", "show", id]).stdout, printed(&[]), printed(&["--short"])] {
        for words in ["120 kPa", "C2", "2000 kg", "the grey box"] {
            assert!(shown.contains(words), "no {words:?} in {shown}");
        }
    }
}

#[test]
fn conditions_that_cannot_be_are_refused_before_anything_is_recorded() {
    let desk = desk();
    let capture = desk.file("never.capture");
    let stored = in_tree("logs/simulated-rtk.capture").display().to_string();
    let long = "x".repeat(100_000);
    for (option, typed, says) in [
        ("--inflation", "0 bar", "a pressure from 0.3 to 10 bar"),
        ("--inflation-front", "2000 kPa", "a pressure from 0.3 to 10 bar"),
        ("--four-wheel-drive", "perhaps", "it can be on, off"),
        ("--implement", &long, "100000 characters; at most 80"),
        ("--terminal", "grey\u{1b}[2J", "control characters"),
    ] {
        for (args, means) in [
            (&["drive", "--capture", &capture][..], "Nothing was recorded."),
            (&["sign", &stored], "Nothing was signed off."),
        ] {
            let refused = run(&desk, &[args, &[option, typed]].concat());
            assert_eq!(refused.code, Some(2), "{option}: {}", refused.stderr);
            for words in [says, means, &format!("Give {option} again, or leave it out.")] {
                assert!(refused.stderr.contains(words), "no {words:?} in {}", refused.stderr);
            }
            assert!(refused.stderr.len() < 1000 && !refused.stderr.contains('\u{1b}'));
        }
    }
    assert!(!std::path::Path::new(&capture).exists());
    let both = ["drive", "--inflation", "1 bar", "--inflation-rear", "1 bar"];
    assert_eq!(run(&desk, &both).code, Some(2), "all tyres, or axle by axle");
}
