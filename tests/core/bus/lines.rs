//! Bytes to frames: the adapter's protocol and recordings.

use proptest::prelude::*;
use trundle_bounds::bus::line_of;
use trundle_core::wire::bus::adapter::{AdapterItem, AdapterReader, AdapterTotals};
use trundle_core::wire::bus::frame::{CanFrame, ExtendedId, Id, StandardId};
use trundle_core::wire::bus::group::GroupId;
use trundle_core::wire::bus::log::{read_line, write_line};

fn extended(raw: u32) -> Id {
    Id::Extended(ExtendedId::new(raw).unwrap())
}

fn items(bytes: &[u8]) -> (Vec<AdapterItem>, AdapterTotals) {
    let mut reader = AdapterReader::default();
    let mut items = Vec::new();
    // One byte at a time: the items may not hang on how the bytes were cut.
    bytes.chunks(1).for_each(|byte| reader.push(byte, |item| items.push(item)));
    (items, reader.totals())
}

fn frames(bytes: &[u8]) -> Vec<CanFrame> {
    let frame = |item| match item {
        AdapterItem::Frame(frame, _) => Some(frame),
        _ => None,
    };
    items(bytes).0.into_iter().filter_map(frame).collect()
}

/// Lines as the protocol's public description has them (Linux, `drivers/net/can/slcan`).
#[test]
fn frames_acknowledgements_refusals_and_the_version_are_told_apart() {
    let bytes = b"\r\x07V1013\rt12380011223344556677\rT18FE48F080102030405060708\rr7FF2\r\
        R1FFFFFFF0\rt1230EA5F\rT0000000020a0B\r";
    let (items, totals) = items(bytes);
    let frame = |id, data: &[u8]| CanFrame::new(id, data).unwrap();
    let standard = |raw| Id::Standard(StandardId::new(raw).unwrap());
    let expected = [
        AdapterItem::Acknowledged,
        AdapterItem::Refused,
        AdapterItem::Version(*b"1013"),
        AdapterItem::Frame(
            frame(standard(0x123), &[0, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77]),
            None,
        ),
        AdapterItem::Frame(frame(extended(0x18FE_48F0), &[1, 2, 3, 4, 5, 6, 7, 8]), None),
        AdapterItem::Frame(CanFrame::remote(standard(0x7FF), 2).unwrap(), None),
        AdapterItem::Frame(CanFrame::remote(extended(0x1FFF_FFFF), 0).unwrap(), None),
        AdapterItem::Frame(frame(standard(0x123), &[]), Some(59_999)),
        AdapterItem::Frame(frame(extended(0), &[0x0A, 0x0B]), None),
    ];
    assert_eq!(items, expected);
    assert_eq!((totals.frames, totals.answers, totals.refusals), (6, 2, 1));
    assert_eq!(totals.dropped(), 0);
}

#[test]
fn what_is_no_line_is_dropped_counted_and_the_next_one_read() {
    let good = b"T18FE48F01AA\r";
    let bad: [&[u8]; 12] = [
        b"T18FE48F019\r", // half a byte
        b"T18FE48F0900112233445566778\r",
        b"T18FE48G01AA\r", // no digit
        b"T38FE48F01AA\r", // 30 bits
        b"t80010A\r",      // 12 bits
        b"t1231AAEA60\r",  // no such millisecond
        b"T18FE48F01AA0\r",
        b"D18FE48F01AA\r", // the longer frames of a newer bus
        b"x\r",
        b"T18FE48F0\x07",
        b"T18FE4", // its end was lost
        b"\xFF\x00\x1B[2J\r",
    ];
    for bytes in bad {
        let all = [bytes, good].concat();
        assert_eq!(frames(&all).len(), 1, "{}", bytes.escape_ascii());
        assert_eq!(items(&all).1.dropped(), 1, "{}", bytes.escape_ascii());
    }
    // Anything without an end is passed over in a buffer of one line.
    let long = [&vec![b'0'; 1 << 20][..], b"\r", good].concat();
    assert_eq!((frames(&long).len(), items(&long).1.overlong), (1, 1));
}

/// Worked by hand from SAE J1939-21: PDU format 240 and above is for everyone.
#[test]
fn identifiers_come_apart_as_by_the_standard() {
    let of = |raw| GroupId::of(ExtendedId::new(raw).unwrap());
    let wheel = GroupId { priority: 6, group: 65_096, destination: None, source: 240 };
    assert_eq!(of(0x18FE_48F0), wheel);
    let selected = GroupId { priority: 3, group: 61_474, destination: None, source: 240 };
    assert_eq!(of(0x0CF0_22F0), selected);
    // Address claimed: for all, but by its destination.
    let claim = GroupId { priority: 6, group: 0xEE00, destination: Some(255), source: 0x26 };
    assert_eq!(of(0x18EE_FF26), claim);
    let top = GroupId { priority: 7, group: 0x3_FFFF, destination: None, source: 255 };
    assert_eq!(of(0x1FFF_FFFF), top);
}

#[test]
fn a_recording_is_read_line_by_line_and_what_is_no_frame_is_told_from_damage() {
    let line = read_line(b"(1700000000.123456) can0 18FE48F0#F40110270000FFFD\n").unwrap();
    assert_eq!((line.time_us, line.interface), (1_700_000_000_123_456, "can0"));
    let data = [0xF4, 0x01, 0x10, 0x27, 0, 0, 0xFF, 0xFD];
    assert_eq!(line.frame, CanFrame::new(extended(0x18FE_48F0), &data));
    let sound: [&[u8]; 5] = [
        b"(0.5) vcan1 123#",
        b"(12.000001) can0 123#R",
        b"(12.000001) can0 123#R8\r\n",
        b"(12.123456789) can0 00000123#00 T",
        b"(12.123456) can0 00000123#00 R\n",
    ];
    assert!(sound.iter().all(|line| read_line(line).is_some_and(|line| line.frame.is_some())));
    let no_frame: [&[u8]; 2] =
        [b"(12.000001) can0 20000080#0000000000000000", b"(1.0) can0 123##1001122"];
    assert!(no_frame.iter().all(|line| read_line(line).is_some_and(|line| line.frame.is_none())));
    let damaged: [&[u8]; 8] = [
        b"",
        b"(1700000000.123456) can0 18FE48F0#F4011027000",
        b"(1700000000.12x456) can0 18FE48F0#F4",
        b"(99999999999.0) can0 123#",
        b"(1.0) can0 1234#00",
        b"(1.0) can0 FFF#00",
        b"1.0 can0 123#00",
        b"(1.0) can0 123#00 S",
    ];
    assert!(damaged.iter().all(|line| read_line(line).is_none()));
}

prop_compose! {
    fn any_frame()(
        long in any::<bool>(), raw in any::<u32>(), remote in any::<bool>(),
        data in prop::collection::vec(any::<u8>(), 0..=8),
    ) -> CanFrame {
        let id = match long {
            true => extended(raw & 0x1FFF_FFFF),
            false => Id::Standard(StandardId::new(raw as u16 & 0x7FF).unwrap()),
        };
        let frame =
            if remote { CanFrame::remote(id, data.len()) } else { CanFrame::new(id, &data) };
        frame.unwrap()
    }
}

proptest! {
    #[test]
    fn frames_come_back_from_both_texts(
        frame in any_frame(), stamp in prop::option::of(0_u16..60_000), time in 0_u64..1 << 50,
    ) {
        let (items, _) = items(&line_of(&frame, stamp));
        prop_assert_eq!(items, vec![AdapterItem::Frame(frame, stamp)]);
        let text = write_line(time, "can0", &frame);
        let line = read_line(text.as_bytes()).unwrap();
        prop_assert_eq!((line.time_us, line.frame), (time, Some(frame)));
    }
}
