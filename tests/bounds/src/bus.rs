//! Readers of the implement bus: an adapter's lines, recordings as text.

use std::collections::BTreeMap;
use trundle_core::wire::bus::adapter::{AdapterItem, AdapterReader};
use trundle_core::wire::bus::frame::{CanFrame, Id};
use trundle_core::wire::bus::log::{read_line, write_line};
use trundle_core::wire::bus::reader::{BusEvent, BusReader};

/// The adapter's line: frames out of bytes, and what the bus says in them. `cut` is a place in the
/// input.
#[must_use]
pub fn adapter(input: &[u8], cut: usize) -> bool {
    let mut whole = AdapterReader::default();
    let mut items = Vec::new();
    whole.push(input, |item| items.push(item));
    for item in &items {
        if let AdapterItem::Frame(frame, stamp_ms) = item {
            assert!(stands_in(&line_of(frame, *stamp_ms), input), "never sent: {frame:?}");
        }
    }
    let totals = whole.totals();
    let told = totals.frame_bytes + totals.answer_bytes + totals.dropped_bytes;
    assert_eq!(told + whole.open_bytes() as u64, input.len() as u64, "{totals:?}");
    assert_eq!(totals.bytes, input.len() as u64);
    assert_eq!(items.len() as u64, totals.frames + totals.answers + totals.refusals);
    let mut pieces = AdapterReader::default();
    let mut again = Vec::new();
    pieces.push(&input[..cut], |item| again.push(item));
    pieces.push(&input[cut..], |item| again.push(item));
    assert_eq!((again, pieces.totals()), (items, totals));
    said(input);
    totals.frames > 0
}

/// A line with its end, its digits in either case.
fn stands_in(line: &[u8], input: &[u8]) -> bool {
    input.split_inclusive(|byte| *byte == b'\r').any(|part| {
        let tail = part.len().checked_sub(line.len()).map(|from| &part[from..]);
        tail.is_some_and(|tail| tail[0] == line[0] && tail.eq_ignore_ascii_case(line))
    })
}

/// Every value that comes through is one that can be, and a distance never runs back.
fn said(input: &[u8]) {
    let mut reader = BusReader::default();
    let mut last = BTreeMap::new();
    let mut events = 0;
    // A chunk for every tenth of a second.
    for (at, part) in (0_u64..).zip(input.chunks(64)) {
        reader.push(part, at * 100_000_000, |event| {
            events += 1;
            let BusEvent::Speed(sample) = event else { return };
            assert!(sample.speed_mm_s.is_none_or(|speed| speed <= 0xFAFF), "{sample:?}");
            let Some(now) = sample.distance else { return };
            let before = last.insert((sample.sender, sample.kind), now);
            assert!(
                before.is_none_or(|before| {
                    (before.run, before.distance_mm) <= (now.run, now.distance_mm)
                }),
                "{before:?} {now:?}"
            );
        });
    }
    let totals = reader.totals();
    assert!(events <= totals.read && totals.read <= totals.frames, "{totals:?}");
    assert!(totals.unborne + totals.overflow + totals.wrong_length <= totals.read, "{totals:?}");
}

/// One line of a recording.
#[must_use]
pub fn log(input: &[u8]) -> bool {
    let Some(line) = read_line(input) else { return false };
    let Some(frame) = line.frame else { return false };
    let text = write_line(line.time_us, line.interface, &frame);
    assert_eq!(read_line(text.as_bytes()), Some(line));
    true
}

/// The line an adapter sends for a frame, with its end.
#[must_use]
pub fn line_of(frame: &CanFrame, stamp_ms: Option<u16>) -> Vec<u8> {
    let mut out = match (frame.id, frame.remote) {
        (Id::Extended(id), false) => format!("T{:08X}", id.as_raw()),
        (Id::Extended(id), true) => format!("R{:08X}", id.as_raw()),
        (Id::Standard(id), false) => format!("t{:03X}", id.as_raw()),
        (Id::Standard(id), true) => format!("r{:03X}", id.as_raw()),
    };
    out += &format!("{:X}", frame.stated_length());
    out.extend(frame.data().iter().map(|byte| format!("{byte:02X}")));
    out.extend(stamp_ms.map(|ms| format!("{ms:04X}")));
    out.push('\r');
    out.into_bytes()
}
