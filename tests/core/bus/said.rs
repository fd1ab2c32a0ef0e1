//! Frames to values: what is absent, who sends, distances that wrap, begin anew or are damaged.

use trundle_bounds::bus::line_of;
use trundle_core::wire::bus::frame::{CanFrame, ExtendedId, Id};
use trundle_core::wire::bus::message::{
    BusMessage, BusSpeed, Decoded, Direction, SelectedSource, decode,
};
use trundle_core::wire::bus::reader::{BusDistance, BusEvent, BusReader, BusSample, BusTotals};
use trundle_tests::Draws;

const TENTH_NS: u64 = 100_000_000;
const WHEEL: u32 = 0x18FE_48F0;
const SELECTED: u32 = 0x0CF0_22F0;
const SHAFT: u32 = 0x18FE_43F0;

fn frame(id: u32, data: &[u8]) -> CanFrame {
    CanFrame::new(Id::Extended(ExtendedId::new(id).unwrap()), data).unwrap()
}

fn speed(id: u32, mm_s: u16, mm: u32) -> CanFrame {
    let mut data = [0xFF; 8];
    data[..2].copy_from_slice(&mm_s.to_le_bytes());
    data[2..6].copy_from_slice(&mm.to_le_bytes());
    frame(id, &data)
}

/// Worked from the table of ISO 11783-7: 0.001 m/s and 0.001 m a bit, little endian.
#[test]
fn values_are_those_of_the_standards_scaling_and_no_data_is_no_number() {
    let message = |frame: &CanFrame| match decode(frame) {
        Decoded::Message(source, BusMessage::Speed(message)) => (source, message),
        other => panic!("{other:?}"),
    };
    // 8 km/h = 2.222 m/s = 08AE hex; 10,000 m = 10^7 mm = 00989680 hex; forward.
    let wheel = frame(WHEEL, &[0xAE, 0x08, 0x80, 0x96, 0x98, 0x00, 0xFF, 0xFD]);
    let (source, said) = message(&wheel);
    assert_eq!((source, said.kind), (0xF0, BusSpeed::Wheel));
    assert_eq!((said.speed_mm_s, said.distance_mm), (Some(2_222), Some(10_000_000)));
    assert_eq!((said.direction, said.source), (Some(Direction::Forward), None));
    // Selected: bits 1-2 of the last byte say reverse, 3-5 the ground-based speed.
    let (_, said) = message(&frame(SELECTED, &[0, 0, 0, 0, 0, 0, 0xFF, 0b1110_0100]));
    assert_eq!(said.kind, BusSpeed::Selected);
    assert_eq!(
        (said.direction, said.source),
        (Some(Direction::Reverse), Some(SelectedSource::Ground))
    );
    // 540 r/min = 4320 bits of 0.125 = 10E0 hex.
    let shaft = decode(&frame(SHAFT, &[0xE0, 0x10, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF]));
    let Decoded::Message(0xF0, BusMessage::RearShaft(shaft)) = shaft else { panic!("{shaft:?}") };
    assert_eq!((shaft.shaft_rpm, shaft.set_point_rpm), (Some(540.0), None));
    // The last value, the first reserved one, an error, and not available.
    for (raw, is) in [(0xFAFF_u16, true), (0xFB00, false), (0xFE00, false), (0xFFFF, false)] {
        let (_, said) = message(&speed(WHEEL, raw, u32::from(raw) << 16 | 0xFFFF));
        assert_eq!(said.speed_mm_s, is.then_some(raw));
        assert_eq!(said.distance_mm.is_some(), is, "{raw:x}");
    }
    assert_eq!(decode(&frame(WHEEL, &[0; 7])), Decoded::WrongLength);
    assert_eq!(decode(&frame(0x18FE_47F0, &[0; 8])), Decoded::Other);
}

/// What a reader makes of frames, each a tenth of a second after the last.
fn read(frames: &[CanFrame]) -> (Vec<BusSample>, BusTotals) {
    let (mut reader, mut out) = (BusReader::default(), Vec::new());
    for (n, frame) in (0..).zip(frames) {
        reader.push(&line_of(frame, None), n * TENTH_NS, |event| match event {
            BusEvent::Speed(sample) => out.push(sample),
            BusEvent::Shaft(_) => {}
        });
    }
    (out, reader.totals())
}

fn drive(id: u32, count: u32, from_mm: u32) -> Vec<CanFrame> {
    (0..count).map(|n| speed(id, 2_000, from_mm.wrapping_add(200 * n))).collect()
}

fn distances(samples: &[BusSample]) -> Vec<BusDistance> {
    samples.iter().filter_map(|sample| sample.distance).collect()
}

#[test]
fn a_distance_that_wraps_runs_on() {
    for from_mm in [0xFAFF_FFFF - 1_000, 0xFAFF_FFFF, u32::MAX - 999] {
        let wrap = if from_mm > 0xFAFF_FFFF { 1 << 32 } else { 0xFB00_0000_u64 };
        let raw = |n: u64| ((u64::from(from_mm) + 200 * n) % wrap) as u32;
        let frames: Vec<CanFrame> = (0..20).map(|n| speed(WHEEL, 2_000, raw(n))).collect();
        let (samples, totals) = read(&frames);
        let found = distances(&samples);
        assert!(found.iter().all(|at| at.run == 0), "{from_mm:x}: {found:?}");
        let way = found.last().unwrap().distance_mm;
        // The last message has nothing behind it yet; no data is no distance.
        let first = (0..20).find(|n| raw(*n) <= 0xFAFF_FFFF).unwrap();
        assert_eq!(way, 200 * (18 - first), "{from_mm:x}: {found:?}");
        assert_eq!(totals.unborne, 0);
    }
}

#[test]
fn after_the_ignition_a_distance_begins_a_new_run() {
    let frames = [drive(WHEEL, 10, 5_000_000), drive(WHEEL, 10, 0)].concat();
    let (samples, totals) = read(&frames);
    let runs: Vec<u32> = distances(&samples).iter().map(|at| at.run).collect();
    assert_eq!(runs, [vec![0; 10], vec![1; 9]].concat());
    assert_eq!(distances(&samples)[10].distance_mm, 0);
    assert_eq!(totals.unborne, 0);
    // Just before a multiple of 2^32 it is no wrap either: it is too far.
    let (samples, _) = read(&[drive(WHEEL, 9, 0xF000_0000), drive(WHEEL, 9, 70)].concat());
    assert_eq!(distances(&samples).last().unwrap().run, 1);
}

/// One digit of a frame is another: no checksum shows it.
#[test]
fn a_damaged_number_moves_no_distance_and_begins_no_run() {
    let mut draws = Draws::new(86);
    for seed in 0..2_000 {
        let mut lines: Vec<Vec<u8>> =
            drive(WHEEL, 40, 77_000).iter().map(|frame| line_of(frame, None)).collect();
        let hit = 2 + draws.below(36);
        let digit = 10 + draws.below(12);
        lines[hit][digit] = b"0123456789ABCDEF"[draws.below(16)];
        let (mut reader, mut found) = (BusReader::default(), Vec::new());
        for (n, line) in (0..).zip(&lines) {
            reader.push(line, n * TENTH_NS, |event| {
                if let BusEvent::Speed(sample) = event {
                    found.push(sample);
                }
            });
        }
        let distances = distances(&found);
        assert!(distances.iter().all(|at| at.run == 0), "{seed}: {hit} {digit} {distances:?}");
        assert_eq!(distances.last().unwrap().distance_mm, 38 * 200, "{seed}: {hit} {digit}");
        // What is not seen is less than a tractor drives in a message or two.
        let off = |n: usize, at: &BusDistance| at.distance_mm.abs_diff(200 * n as u64);
        let whole = distances.len() == 39;
        assert!(!whole || (0..).zip(&distances).all(|(n, at)| off(n, at) < 4_600), "{seed}");
    }
}

#[test]
fn senders_are_told_apart_and_an_address_that_speaks_once_is_none() {
    let other = WHEEL & !0xFF | 0x17;
    let mut frames = Vec::new();
    for n in 0..20 {
        frames.push(speed(WHEEL, 2_000, 200 * n));
        frames.push(speed(other, 1_000, 9_000_000 + 100 * n));
        frames.push(speed(SELECTED, 2_000, 200 * n));
        // A damaged address, another one each time.
        frames.push(speed(WHEEL & !0xFF | (0x30 + n), 2_000, 200 * n));
    }
    let (samples, totals) = read(&frames);
    let of = |sender, kind| samples.iter().filter(|s| s.sender == sender && s.kind == kind).count();
    assert_eq!(of(0xF0, BusSpeed::Wheel), 19);
    assert_eq!(of(0x17, BusSpeed::Wheel), 19);
    assert_eq!(of(0xF0, BusSpeed::Selected), 19);
    assert_eq!(samples.len(), 57);
    assert_eq!((totals.frames, totals.read, totals.overflow), (80, 80, 0));
}

#[test]
fn thousands_of_damaged_addresses_take_no_room_from_who_is_known() {
    let mut frames = drive(WHEEL, 3, 0);
    for n in 0..5_000_u32 {
        frames.push(speed(WHEEL & !0xFF | (n * 7 % 0xEF), 2_000, n.wrapping_mul(0x9E37_79B9)));
        frames.push(speed(0x18FE_49F0, 2_000, 3_000 + 40 * n));
    }
    let (samples, totals) = read(&frames);
    let ground = samples.iter().filter(|sample| sample.kind == BusSpeed::Ground).count();
    assert!(ground > 4_900, "{ground} of 5,000");
    assert!(samples.len() < 5_100, "{} samples", samples.len());
    assert_eq!(totals.overflow, 0);
}
