//! A long capture is read by two threads. The result is that of one, bit for bit, whatever is in
//! the capture and wherever it is damaged.

use trundle::packed::pack::pack;
use trundle::packed::{BLOCK, HEAD};
use trundle::recorder::replay::replay;
use trundle_core::capture::{BODY_MAX, Entry, PortRole, Record, encode};
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

/// Packed, each of the two unpacks it for itself.
#[test]
fn a_packed_one_gives_what_the_plain_one_gives() {
    let long = Long::new();
    // With noise on the receiver's line, so that it stays long.
    let (before, end) = long.bytes.split_at(long.begins[long.begins.len() - 1]);
    let host_ns = u64::from_le_bytes(end[7..15].try_into().expect("eight bytes"));
    let (mut draws, mut plain) = (Draws::new(3), before.to_vec());
    for _ in 0..300 {
        let noise = (0..BODY_MAX).map(|_| draws.bits() as u8).collect();
        let entry = Entry::Bytes(PortRole::Receiver, noise);
        encode(&Record { host_ns, entry }, &mut plain);
    }
    plain.extend_from_slice(end);
    let mut packed = Vec::new();
    pack(&mut &plain[..], plain.len() as u64, &mut packed).expect("no memory fails");
    assert!(packed.len() > 1 << 20, "{} bytes are read by one thread", packed.len());
    let path = long.folder.path().join("packed.capture");
    let read = |bytes: &[u8]| {
        std::fs::write(&path, bytes).expect("a file in the temporary folder");
        replay(&path, Session::default).expect("it is a capture")
    };
    let session = read(&packed);
    assert_eq!(all_of(&session), all_of(&replay_bytes(&plain, plain.len())));
    assert_eq!((session.passes().len(), session.totals().damaged_bytes), (24, 0));
    // A block that is damaged, and all behind a cut, as if their plain bytes were zeros.
    let frame = u32::from_le_bytes(packed[44..48].try_into().expect("four bytes")) as usize;
    let first = HEAD + frame;
    packed[first + HEAD + 100] ^= 1;
    plain[BLOCK..2 * BLOCK].fill(0);
    assert_eq!(all_of(&read(&packed)), all_of(&replay_bytes(&plain, plain.len())));
    packed.truncate(first);
    plain[2 * BLOCK..].fill(0);
    assert_eq!(all_of(&read(&packed)), all_of(&replay_bytes(&plain, plain.len())));
}
