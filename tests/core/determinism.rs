//! Same capture, same options: the same bytes of result, however the bytes came in and wherever
//! the program runs.

use std::path::Path;
use std::process::Command;
use trundle_core::capture::{Entry, Record, encode};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::Session;
use trundle_sim::{Fault, Port, ReceiverClass, Scenario};
use trundle_tests::{Draws, plain_course, replay, replay_bytes, simulate, work_session};

/// Where a child process is to write its result.
const OUT: &str = "TRUNDLE_DETERMINISM_OUT";

/// A job with something of everything: slight damage on the lines, so that the order of faults
/// counts too. Two passes are enough for that.
fn scenario() -> Scenario {
    let mut scenario = Scenario::default().with_receiver(ReceiverClass::Corrected);
    scenario.passes = 2;
    scenario.faults = vec![
        Fault::ByteDamage { port: Port::Board, rate: 1e-4 },
        Fault::ByteDamage { port: Port::Receiver, rate: 1e-4 },
    ];
    scenario
}

fn records() -> Vec<Record> {
    simulate(&scenario(), 5, None).0
}

fn bytes_of(records: &[Record]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for record in records {
        encode(record, &mut bytes);
    }
    bytes
}

fn json(session: &Session) -> String {
    WorkV1::of(&work_session(session, Some(&plain_course(100.0)))).to_json()
}

#[test]
fn the_size_of_reads_does_not_matter() {
    let records = records();
    let bytes = bytes_of(&records);
    let live = json(&replay(&records));
    assert!(live.contains("\"wheel\""), "there must be a figure to compare: {live}");
    for chunk in [1, 7, 64, 4096, 65_536] {
        assert_eq!(json(&replay_bytes(&bytes, chunk)), live, "reads of {chunk} bytes");
    }
}

#[test]
fn working_twice_gives_the_same_bytes() {
    // The simulation, too, is run anew.
    let (a, b) = (records(), records());
    assert_eq!(bytes_of(&a), bytes_of(&b));
    assert_eq!(json(&replay(&a)), json(&replay(&b)));
    let session = replay(&a);
    assert_eq!(json(&session), json(&session));
}

/// The same bytes with the same stamps, in records of 1 to `most` bytes.
fn split(records: &[Record], most: usize, random: &mut Draws) -> Vec<Record> {
    let mut out = Vec::new();
    for record in records {
        let Entry::Bytes(role, bytes) = &record.entry else {
            out.push(record.clone());
            continue;
        };
        let mut rest = bytes.as_slice();
        while !rest.is_empty() {
            let (part, later) = rest.split_at((1 + random.below(most)).min(rest.len()));
            let entry = Entry::Bytes(*role, part.to_vec());
            out.push(Record { host_ns: record.host_ns, entry });
            rest = later;
        }
    }
    out
}

#[test]
fn the_size_of_records_does_not_matter() {
    let records = records();
    let whole = json(&replay(&records));
    let seed = 21;
    println!("seed {seed}");
    let mut random = Draws::new(seed);
    for most in [1, 2, 5, 17, 64] {
        let parts = split(&records, most, &mut random);
        assert!(parts.len() > records.len());
        assert_eq!(json(&replay(&parts)), whole, "records of at most {most} bytes");
    }
}

/// Runs itself as a child process in other places of the world. The child writes its result and
/// does nothing else.
#[test]
fn time_zone_and_locale_do_not_matter() {
    if let Some(path) = std::env::var_os(OUT) {
        std::fs::write(path, json(&replay(&records()))).unwrap();
        return;
    }
    let here = json(&replay(&records()));
    let folder = tempfile::tempdir().unwrap();
    let places = [
        ("UTC", "C"),
        ("Pacific/Apia", "de_DE.UTF-8"),
        ("America/St_Johns", "tr_TR.UTF-8"),
        ("Asia/Kathmandu", "fr_FR.UTF-8"),
    ];
    for (zone, locale) in places {
        let out = folder.path().join("result.json");
        let there = run_elsewhere(zone, locale, &out);
        assert_eq!(there, here, "TZ={zone} LC_ALL={locale}");
        std::fs::remove_file(&out).unwrap();
    }
}

fn run_elsewhere(zone: &str, locale: &str, out: &Path) -> String {
    let status = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "determinism::time_zone_and_locale_do_not_matter"])
        .env("TZ", zone)
        .env("LC_ALL", locale)
        .env("LANG", locale)
        .env(OUT, out)
        .status()
        .unwrap();
    assert!(status.success(), "the child failed: {status}");
    std::fs::read_to_string(out).unwrap()
}
