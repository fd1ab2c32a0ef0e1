//! Readers of byte streams: frames, sentences, captures.

use trundle_core::capture::{Damage, Entry, Piece, Reader, Record};
use trundle_core::wire::board::BoardReader;
use trundle_core::wire::receiver::{ReceiverEvent, ReceiverReader};
use trundle_core::wire::sentence::{Sentence, parse};
use trundle_protocol::frame::DELIMITER;
use trundle_protocol::message::{ToBoard, ToHost};
use trundle_protocol::{DEFRAME_BUFFER, Deframer, WireMessage};

/// Bytes of a record beside its body.
const RECORD_EXTRA: usize = 19;

/// The board's line: deframer of both directions, and the reader behind it. `cut` is a place in
/// the input.
#[must_use]
pub fn frames(input: &[u8], cut: usize) -> bool {
    one_direction::<ToHost>(input, cut);
    one_direction::<ToBoard>(input, cut);
    let mut reader = BoardReader::default();
    let mut events = 0;
    reader.push(input, 0, |_| events += 1);
    let most = 2 * reader.line().frames + reader.line().refused();
    assert!(events <= most, "{events} events, at most {most}");
    reader.line().frames > 0
}

/// What is accepted stands in the input as a whole frame, every byte is accounted for, and a cut
/// changes nothing.
fn one_direction<M: WireMessage>(input: &[u8], cut: usize) {
    let mut whole = Deframer::<M>::new();
    let (mut accepted_bytes, mut settled) = (0, 0);
    whole.push_slice(input, |frame| {
        settled += 1;
        if let Ok(message) = frame {
            let frame = message.frame();
            let bytes = frame.as_bytes();
            accepted_bytes += bytes.len() as u64;
            let mut parts = input.split_inclusive(|byte| *byte == DELIMITER);
            assert!(parts.any(|part| part == bytes), "never sent");
        }
    });
    let stats = *whole.stats();
    assert_eq!(stats.bytes, input.len() as u64);
    assert_eq!(stats.frames + stats.refused(), settled);
    let told = accepted_bytes + stats.refused_bytes + stats.idle_bytes + stats.mid_stream_bytes;
    assert!(told <= stats.bytes && stats.bytes - told <= DEFRAME_BUFFER as u64, "{stats:?}");
    let mut pieces = Deframer::<M>::new();
    pieces.push_slice(&input[..cut], |_| ());
    pieces.push_slice(&input[cut..], |_| ());
    assert_eq!(pieces.stats(), whole.stats());
}

/// One line.
#[must_use]
pub fn sentence(input: &[u8]) -> bool {
    let read = parse(input);
    if let Ok(sentence) = &read {
        possible(sentence);
    }
    read.is_ok()
}

/// Every value that comes through is one that can be.
fn possible(sentence: &Sentence) {
    let (place, speed) = match sentence {
        Sentence::Gga(gga) => (gga.position, None),
        Sentence::Rmc(rmc) => (rmc.position, rmc.speed),
        Sentence::Gll(gll) => (gll.position, None),
        Sentence::Gns(gns) => (gns.position, None),
        Sentence::Vtg(vtg) => (None, vtg.speed),
        _ => (None, None),
    };
    if let Some(place) = place {
        assert!(place.lat_deg.abs() <= 90.0 && place.lon_deg.abs() <= 180.0, "{sentence:?}");
        assert!(place.quantum_m > 0.0, "{sentence:?}");
    }
    if let Some(speed) = speed {
        assert!(speed.m_s >= 0.0 && speed.m_s.is_finite(), "{sentence:?}");
    }
}

/// The receiver's line: splitter, sentences, epochs, plausible fixes. `cut` is a place in the
/// input.
#[must_use]
pub fn receiver(input: &[u8], cut: usize) -> bool {
    let mut reader = ReceiverReader::default();
    let mut events = 0;
    let mut tell = |event| {
        events += 1;
        if let ReceiverEvent::Fix { fix, .. } = event {
            assert!(fix.lat_deg.abs() <= 90.0 && fix.lon_deg.abs() <= 180.0, "{fix:?}");
            assert!(fix.speed_m_s.is_none_or(|speed_m_s| speed_m_s.is_finite()), "{fix:?}");
        }
    };
    reader.push(input, 7, &mut tell);
    reader.flush(&mut tell);
    let totals = reader.totals();
    assert!(events <= totals.sentences, "{events} events, {totals:?}");
    assert!(totals.lines.lines <= input.len() as u64, "{totals:?}");
    let mut pieces = ReceiverReader::default();
    pieces.push(&input[..cut], 7, |_| ());
    pieces.push(&input[cut..], 7, |_| ());
    pieces.flush(|_| ());
    assert_eq!(pieces.totals(), totals);
    events > 0
}

/// The capture's file, whole and in pieces of so many bytes.
#[must_use]
pub fn capture(input: &[u8], piece: usize) -> bool {
    let items = read(input, input.len());
    let mut told = 0;
    for item in &items {
        told += match item {
            Err(damage) => damage.bytes as usize,
            Ok(record) => match &record.entry {
                Entry::Bytes(_, bytes) => RECORD_EXTRA + bytes.len(),
                _ => RECORD_EXTRA,
            },
        };
    }
    assert!(told <= input.len(), "{told} bytes told of {}", input.len());
    assert_eq!(read(input, piece), items);
    items.iter().any(Result::is_ok)
}

/// A piece to keep: the record, or the damage.
///
/// # Errors
/// [`Damage`] where it is that.
pub fn owned(piece: &Piece<'_>) -> Result<Record, Damage> {
    match piece {
        Piece::Bytes { host_ns, role, bytes } => {
            Ok(Record { host_ns: *host_ns, entry: Entry::Bytes(*role, bytes.to_vec()) })
        }
        Piece::Record(record) => Ok(Record::clone(record)),
        Piece::Damage(damage) => Err(*damage),
    }
}

/// Everything a reader makes of a file given in pieces of so many bytes.
#[must_use]
pub fn read(bytes: &[u8], piece: usize) -> Vec<Result<Record, Damage>> {
    let mut reader = Reader::default();
    let mut items = Vec::new();
    for part in bytes.chunks(piece.max(1)) {
        reader.push(part);
        items.extend(std::iter::from_fn(|| reader.take().as_ref().map(owned)));
    }
    items.extend(std::iter::from_fn(|| reader.finish().as_ref().map(owned)));
    items
}
