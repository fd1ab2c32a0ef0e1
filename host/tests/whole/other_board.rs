//! Another counter board than the rig's: nothing is recorded or signed off until a person says why
//! it is right, and then the capture and the record say so.

use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, entries, in_tree, json, notes, trundle_in};
use std::path::Path;
use trundle_core::capture::{Entry, HostMark, HostMarkAction, PortRole, Record, encode};
use trundle_protocol::message::{Hello, Identity, ToHost};
use trundle_protocol::{Deframer, WireMessage as _};
use trundle_sim::Scenario;

const WHY: &str = "lent by the neighbour, ours is being mended";

/// A data folder whose active rig goes with a board that nothing here has.
struct Desk(TempDir);

impl Desk {
    fn new() -> Self {
        let desk = Self(TempDir::new());
        assert_eq!(desk.run(&["tractor", "add", "Old one"]).code, Some(0));
        let rig = ["rig", "add", "Ours", "--tractor", "Old one", "--source", "wheel"];
        let added = desk.run(&[&rig[..], &["--board", "1"]].concat());
        assert_eq!(added.code, Some(0), "{}", added.stderr);
        desk
    }

    fn write(&self, name: &str, records: &[Record]) -> String {
        let mut bytes = Vec::new();
        records.iter().for_each(|record| encode(record, &mut bytes));
        self.0.write(name, &bytes)
    }

    fn run(&self, args: &[&str]) -> Finished {
        trundle_in(args, &[("TRUNDLE_DATA", &self.0.file("data"))])
    }
}

/// The board says who it is, as it does at the beginning of every live job; the stored log begins
/// later.
fn say_hello(records: &mut Vec<Record>) {
    let board = |record: &Record| matches!(record.entry, Entry::Bytes(PortRole::Board, _));
    let first = records.iter().position(board).unwrap();
    let (mut deframer, mut stamp) = (Deframer::<ToHost>::new_mid_stream(), None);
    for record in records.iter().filter(|record| board(record)) {
        let Entry::Bytes(_, bytes) = &record.entry else { continue };
        deframer.push_slice(bytes, |frame| {
            if let (Ok(ToHost::Counts(counts)), None) = (frame, stamp) {
                stamp = Some(counts.stamp);
            }
        });
    }
    let mut stamp = stamp.unwrap();
    stamp.sequence.0 = stamp.sequence.0.wrapping_sub(1);
    let hello = Hello { stamp, board_id: Identity(0xA), ..Hello::default() };
    let bytes = [&[0], ToHost::Hello(hello).frame().as_bytes()].concat();
    let host_ns = records[first].host_ns;
    records.insert(first, Record { host_ns, entry: Entry::Bytes(PortRole::Board, bytes) });
}

#[test]
fn a_job_with_another_board_begins_only_once_it_is_confirmed() {
    let desk = Desk::new();
    let scenario = Scenario { rest_s: 3600.0, ..Scenario::named("no-button").unwrap() };
    let tractor = Tractor::start(&scenario, 1, 1.0, None);
    let (board, receiver, capture) = (tractor.board(), tractor.receiver(), desk.0.file("c"));
    let args =
        ["drive", "--board", &board, "--receiver", &receiver, "--capture", &capture, "--json"];
    let refused = desk.run(&args);
    assert_eq!(refused.code, Some(2), "{}", refused.stderr);
    for words in ["goes with counter board 1, but this is board", "--other-board"] {
        assert!(refused.stderr.contains(words), "{}", refused.stderr);
    }
    assert!(!Path::new(&capture).exists());

    let data = desk.0.file("data");
    let confirmed = [&args[..], &["--other-board", WHY]].concat();
    let mut driving = Program::start(&confirmed, &[("TRUNDLE_DATA", &data)]);
    assert!(driving.until("recording", |p| p.said("Recording to ") > 0), "{}", driving.stderr());
    driving.types("q");
    let finished = driving.finish();
    assert!(finished.stderr.contains(WHY), "{}", finished.stderr);
    let records = entries(&capture);
    let told = notes(&records);
    assert!(told.iter().any(|note| note.starts_with("other board: ") && note.ends_with(WHY)));
    assert!(told.contains(&"rig: Ours"), "{told:?}");
}

#[test]
fn a_record_says_that_another_board_was_confirmed() {
    let desk = Desk::new();
    let mut records = entries(&in_tree("logs/simulated-rtk.capture").display().to_string());
    say_hello(&mut records);
    let plain = desk.write("plain.capture", &records);
    let refused = desk.run(&["sign", &plain]);
    assert_eq!(refused.code, Some(2), "{}", refused.stderr);
    assert!(refused.stderr.contains("goes with counter board 1"), "{}", refused.stderr);

    // The same capture as a job that was confirmed leaves it.
    let first = records.iter().position(|r| matches!(r.entry, Entry::Bytes(..))).unwrap();
    let text = format!("other board: not board 1. Confirmed: {WHY}");
    let mark = HostMark { key: u64::MAX, action: HostMarkAction::Note, text };
    let host_ns = records[first].host_ns;
    records.insert(first, Record { host_ns, entry: Entry::HostMark(mark) });
    let confirmed = desk.write("confirmed.capture", &records);
    let signed = desk.run(&["sign", &confirmed, "--json"]);
    assert_eq!(signed.code, Some(0), "{}", signed.stderr);
    let record = json(&signed.stdout);
    let id = record["id"].as_str().unwrap();
    let printed = |form: &[&str]| {
        let page = desk.0.file("record.html");
        let made = desk.run(&[&["record", "print", id, "--to", &page], form].concat());
        assert_eq!(made.code, Some(0), "{}", made.stderr);
        std::fs::read_to_string(&page).unwrap()
    };
    let told = desk.run(&["record", "show", id]).stdout;
    for shown in [told, printed(&[]), printed(&["--short"])] {
        let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(shown.contains("not board 1") && shown.contains(WHY), "{shown}");
    }
}
