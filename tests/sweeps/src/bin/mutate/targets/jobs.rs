//! Whole jobs: a capture whose records are sound and say what cannot be, worked to its figure.

use super::Attempt;
use super::pools::records;
use trundle_bounds::sums::frame_of;
use trundle_core::capture::{Entry, PortRole, Record};
use trundle_core::course::file::parse;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::ride::rides;
use trundle_protocol::message::ToHost;
use trundle_protocol::{Deframer, FRAME_MAX, WireMessage, version};
use trundle_tests::Draws;
use trundle_tests::mutation::Mutator;
use trundle_tests::work_session;

/// Records that one job has, at most.
const RECORDS: usize = 500;
/// One record in so many is damaged.
const DAMAGED_IN: usize = 40;

/// Captures with damage under right sums, through session, figure and ride.
pub fn job() -> Attempt {
    let captures = [records("simulated-rtk"), records("joined-real-receiver")];
    let words: [&[u8]; 6] = [&[0; 8], &[0xFF; 8], &[0x7F], &[0x80], b",", b"9"];
    let mutator = Mutator::text(vec![vec![0; 8]], &words, 4096);
    Box::new(move |draws, input| {
        let capture = &captures[draws.below(captures.len())];
        let from = draws.below(capture.len() / 2);
        let to = capture.len().min(from + 1 + draws.below(RECORDS));
        let shift_ns = if draws.below(4) == 0 { draws.bits() >> draws.below(64) } else { 0 };
        input.clear();
        let (mut session, mut trailing) = (Session::default(), Keeps::Bus(0).session());
        let mut events = Vec::new();
        // Header and course always; what follows is a part of the job.
        for record in capture.iter().take(2).chain(&capture[from..to]) {
            let mut record = record.clone();
            record.host_ns = record.host_ns.wrapping_add(shift_ns);
            if draws.below(DAMAGED_IN) == 0 {
                spoil(&mutator, draws, &mut record);
                input.extend(format!("{record:?}\n").bytes());
            }
            session.feed(&record, &mut events);
            trailing.feed(&record, &mut events);
            events.clear();
        }
        session.finish(&mut events);
        trailing.finish(&mut events);
        let course = session.course_text().and_then(|text| parse(text).ok());
        drop(work_session(&session, course.as_ref().map(|file| &file.spec)));
        if let Some(trail) = trailing.trail() {
            drop(rides(&trail));
        }
        !session.passes().is_empty()
    })
}

/// Other content for a record, of a kind that its reader believes.
fn spoil(mutator: &Mutator, draws: &mut Draws, record: &mut Record) {
    match &mut record.entry {
        Entry::Bytes(PortRole::Board, bytes) => *bytes = frames(mutator, draws, bytes),
        Entry::Bytes(PortRole::Receiver, bytes) => {
            for _ in 0..=draws.below(3) {
                let at = draws.below(bytes.len().max(1));
                if let Some(byte) = bytes.get_mut(at).filter(|byte| byte.is_ascii_digit()) {
                    *byte = b'0' + draws.below(10) as u8;
                }
            }
            mend(bytes);
        }
        Entry::Import(_, line) => mutator.damage(draws, line),
        Entry::HostMark(mark) => mark.key = draws.bits(),
        Entry::WallClock(wall) => wall.utc_ns = draws.bits().cast_signed(),
        _ => record.host_ns = draws.bits(),
    }
}

/// The same frames with a payload damaged, under a right sum.
fn frames(mutator: &Mutator, draws: &mut Draws, bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    Deframer::<ToHost>::new().push_slice(bytes, |frame| {
        let Ok(message) = frame else { return };
        let mut room = [0; FRAME_MAX];
        let len = message.write_payload(&mut room);
        // The first eight bytes are boot and sequence: a boot that changes with every frame
        // would hide the rest.
        let from = if draws.below(8) == 0 { 0 } else { 8.min(len) };
        if from < len {
            let at = from + draws.below(len - from);
            let end = len.min(at + 8);
            let value = if draws.below(2) == 0 { u64::MAX } else { draws.bits() };
            let value = value >> draws.below(64);
            room[at..end].copy_from_slice(&value.to_le_bytes()[..end - at]);
        }
        let head = [version::CURRENT, message.type_id()];
        out.extend(frame_of(&[&head[..], &room[..len]].concat()));
    });
    if out.is_empty() {
        out = bytes.to_vec();
        mutator.damage(draws, &mut out);
    }
    out
}

/// Right sums for the lines of a chunk.
fn mend(bytes: &mut [u8]) {
    let mut from = 0;
    while let Some(star) = bytes[from..].iter().position(|byte| *byte == b'*').map(|at| from + at) {
        let start = bytes[..star].iter().rposition(|byte| *byte == b'$').map_or(star, |at| at + 1);
        let sum = bytes[start..star].iter().fold(0, |sum, byte| sum ^ byte);
        if let Some(digits) = bytes.get_mut(star + 1..star + 3) {
            digits.copy_from_slice(format!("{sum:02X}").as_bytes());
        }
        from = star + 1;
    }
}
