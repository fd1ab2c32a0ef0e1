//! A long capture is read by two threads. The result is that of one, bit for bit, whatever is in
//! the capture and wherever it is damaged.

use trundle::recorder::replay::replay;
use trundle_core::capture::encode;
use trundle_core::session::Session;
use trundle_core::wire::receiver::ReceiverTotals;
use trundle_sim::Scenario;
use trundle_tests::{Draws, replay_bytes, seeds, simulate};

/// Everything that a session can be asked.
fn all_of(session: &Session) -> String {
    format!(
        "{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}",
        session.header(),
        session.totals(),
        session.passes(),
        session.latest(),
        session.notes(),
        session.course_text(),
        session.ended(),
        session.trail(),
    )
}

/// A capture of over a megabyte, where its records begin, and a place to keep what is made of it.
struct Long {
    bytes: Vec<u8>,
    begins: Vec<usize>,
    folder: tempfile::TempDir,
}

impl Long {
    fn new() -> Self {
        let scenario = Scenario { passes: 24, ..Scenario::default() };
        let (records, _) = simulate(&scenario, 5, Some("nominal_length = \"100 m\"\n"));
        let (mut bytes, mut begins) = (Vec::new(), Vec::new());
        for record in &records {
            begins.push(bytes.len());
            encode(record, &mut bytes);
        }
        assert!(bytes.len() > 1 << 20, "{} bytes are read by one thread", bytes.len());
        Self { bytes, begins, folder: tempfile::tempdir().expect("a temporary folder") }
    }

    /// What came of these bytes, which is the same both ways.
    fn both(&self, bytes: &[u8], what: &str) -> Session {
        let path = self.folder.path().join("c.capture");
        std::fs::write(&path, bytes).expect("a file in the temporary folder");
        let shared = replay(&path, Session::default).expect("it is a capture");
        let alone = replay_bytes(bytes, bytes.len());
        assert_eq!(all_of(&shared), all_of(&alone), "{what}");
        shared
    }
}

#[test]
fn two_threads_give_what_one_gives() {
    let long = Long::new();
    let (bytes, begins) = (&long.bytes, &long.begins);
    let session = long.both(bytes, "sound");
    assert_eq!(session.passes().len(), 24);
    let heard = session.totals().receiver;
    assert!(heard != ReceiverTotals::default() && heard.sentences > 1000, "{heard:?}");
    // Cut anywhere: inside a record, and between two.
    for cut in [bytes.len() - 1, bytes.len() - 30, begins[begins.len() - 1], begins[9000] + 7] {
        long.both(&bytes[..cut], &format!("cut at {cut}"));
    }
}

#[test]
fn damage_anywhere_is_told_as_by_one_thread() {
    let long = Long::new();
    let (bytes, begins) = (&long.bytes, &long.begins);
    for seed in 0..seeds(6, 30) {
        println!("seed {seed}");
        let mut draws = Draws::new(seed);
        let mut below = |limit: usize| (draws.bits() % limit as u64) as usize;
        let mut scratched = bytes.clone();
        // Each field of a record in turn: sync word, length, kind, time, body, sum.
        let record = 3 + below(begins.len() - 5);
        let length = begins[record + 1] - begins[record];
        let place = match seed % 6 {
            0 => below(4),
            1 => 4 + below(2),
            2 => 6,
            3 => 7 + below(8),
            4 => 15 + below(length - 19),
            _ => length - 4 + below(4),
        };
        // A kind may become that of the other port.
        let flip = if seed % 6 == 2 { 1 } else { 1 << below(8) };
        scratched[begins[record] + place] ^= flip;
        let session = long.both(&scratched, &format!("seed {seed}, record {record}, {place}"));
        assert!(session.totals().damaged_bytes > 0, "seed {seed}");
    }
}

#[test]
fn what_both_halves_of_the_work_meet_is_as_before() {
    let long = Long::new();
    let (bytes, begins) = (&long.bytes, &long.begins);
    // Pieces that were lost whole: frames and sentences are missing, but no sum is wrong.
    for seed in 0..seeds(2, 6) {
        println!("seed {seed}");
        let mut draws = Draws::new(1000 + seed);
        let from = 3 + (draws.bits() % (begins.len() as u64 - 600)) as usize;
        let to = from + 1 + (draws.bits() % 500) as usize;
        let holed = [&bytes[..begins[from]], &bytes[begins[to]..]].concat();
        let session = long.both(&holed, &format!("seed {seed}, records {from} to {to} missing"));
        assert_eq!(session.totals().damaged_bytes, 0);
    }
}
