//! A capture that was cut, scratched, spliced or filled with nonsense loses only the records that
//! were hit, and says how many bytes those were.

use trundle_bounds::streams;
use trundle_core::capture::{
    Arrival, BODY_MAX, Entry, HEADER_FORMAT, Header, HostMark, HostMarkAction, PortRole, Reader,
    Record, encode,
};
use trundle_tests::{Draws, replay_bytes};

/// Bytes of a record around its body, as the format's table gives them.
const FRAME: usize = 19;

/// Records of every sort, with sync words and their beginnings inside the bodies.
fn sample(random: &mut Draws, count: usize) -> Vec<Record> {
    let header = Header {
        format: HEADER_FORMAT.to_owned(),
        version: 1,
        software: "0".to_owned(),
        started_utc: "2026-05-01T08:00:00.000Z".to_owned(),
        arrival: Arrival::Measured,
        pace: 1.0,
        practice: false,
    };
    let mut records = vec![Record { host_ns: 0, entry: Entry::Header(header) }];
    for i in 1..count {
        let entry = match i % 9 {
            0 => Entry::HostMark(HostMark {
                key: i as u64,
                action: HostMarkAction::Note,
                text: "gate post on the left".to_owned(),
            }),
            1 => Entry::Bytes(PortRole::Receiver, vec![0xA7; random.below(40) + 1]),
            2 => {
                let sync = [0xA7, 0x54, 0x72, 0x5E, 0x05, 0x00, 0x02];
                Entry::Bytes(PortRole::Board, sync.repeat(random.below(6) + 1))
            }
            3 => Entry::Course("[course]\nnominal_m = 100\n".to_owned()),
            _ => {
                let length = random.below(90) + 1;
                let bytes = (0..length).map(|_| random.bits() as u8).collect();
                Entry::Bytes(PortRole::Board, bytes)
            }
        };
        records.push(Record { host_ns: 20_000_000 * i as u64, entry });
    }
    records
}

/// The file, and where each record starts; the last entry is the end of the file.
fn file_of(records: &[Record]) -> (Vec<u8>, Vec<usize>) {
    let mut bytes = Vec::new();
    let mut starts = vec![0];
    for record in records {
        encode(record, &mut bytes);
        starts.push(bytes.len());
    }
    (bytes, starts)
}

/// Everything a reader makes of a file given in pieces.
fn read(bytes: &[u8], piece: usize) -> (Vec<Record>, Vec<(u64, u64)>) {
    let mut records = Vec::new();
    let mut damage = Vec::new();
    for item in streams::read(bytes, piece) {
        match item {
            Ok(record) => records.push(record),
            Err(d) => damage.push((d.offset, d.bytes)),
        }
    }
    (records, damage)
}

fn encoded_len(records: &[Record]) -> usize {
    file_of(records).0.len()
}

#[test]
fn a_cut_anywhere_loses_at_most_the_record_that_was_cut() {
    let seed = 11;
    println!("seed {seed}");
    let mut random = Draws::new(seed);
    let records = sample(&mut random, 40);
    let (bytes, starts) = file_of(&records);
    assert!(bytes.len() > 1500, "several hundred offsets are to be tried");
    for cut in 0..=bytes.len() {
        let whole = starts.iter().filter(|&&start| start <= cut).count() - 1;
        let left = cut - starts[whole];
        for piece in [1, 37, 4096] {
            let (got, damage) = read(&bytes[..cut], piece);
            assert_eq!(got, records[..whole], "cut at {cut}, pieces of {piece}");
            let expected: Vec<(u64, u64)> =
                if left == 0 { vec![] } else { vec![(starts[whole] as u64, left as u64)] };
            assert_eq!(damage, expected, "cut at {cut}, pieces of {piece}");
        }
    }
}

#[test]
fn a_file_cut_at_its_front_gives_the_rest() {
    let seed = 12;
    println!("seed {seed}");
    let records = sample(&mut Draws::new(seed), 25);
    let (bytes, starts) = file_of(&records);
    for cut in 0..bytes.len() {
        let first = starts.iter().position(|&start| start >= cut).unwrap();
        let (got, damage) = read(&bytes[cut..], 512);
        assert_eq!(got, records[first..], "cut at {cut}");
        assert_eq!(damage.iter().map(|d| d.1).sum::<u64>(), (starts[first] - cut) as u64);
    }
}

/// One edit of the file: at an offset, take some bytes away and put others in.
struct Edit {
    at: usize,
    taken: usize,
    put: Vec<u8>,
}

/// Edits that do not overlap, from the back of the file to its front.
fn edits(random: &mut Draws, length: usize) -> Vec<Edit> {
    let mut places: Vec<usize> =
        (0..1 + random.below(6)).map(|_| random.below(length + 1)).collect();
    places.sort_unstable();
    places.dedup();
    let mut limit = length;
    let mut out = Vec::new();
    for at in places.into_iter().rev() {
        let span = random.below(60).min(limit - at);
        let noise: Vec<u8> = (0..random.below(60)).map(|_| random.bits() as u8).collect();
        let (taken, put) = match random.below(4) {
            0 => (0, noise),
            1 => (span, Vec::new()),
            2 => (span, (0..span).map(|_| random.bits() as u8).collect()),
            // The beginning of a record that never comes: the worst of insertions.
            _ => (0, vec![0xA7, 0x54, 0x72, 0x5E, 0xFF, 0x0F, 2, 1, 2, 3]),
        };
        limit = at;
        out.push(Edit { at, taken, put });
    }
    out
}

/// Is `part` what is left of `whole` when some are taken out?
fn in_order(part: &[Record], whole: &[Record]) -> bool {
    let mut rest = whole.iter();
    part.iter().all(|wanted| rest.any(|record| record == wanted))
}

#[test]
fn records_that_were_not_hit_all_come_out() {
    let mut hit = 0;
    for seed in 0..400 {
        let mut random = Draws::new(seed);
        let records = sample(&mut random, 30);
        let (mut bytes, starts) = file_of(&records);
        let edits = edits(&mut random, bytes.len());
        let mut sound = vec![true; records.len()];
        for edit in &edits {
            let before = bytes[edit.at..edit.at + edit.taken].to_vec();
            bytes.splice(edit.at..edit.at + edit.taken, edit.put.iter().copied());
            for (i, span) in starts.windows(2).enumerate() {
                let inside = edit.at > span[0] && edit.at < span[1];
                let over = edit.at < span[1] && edit.at + edit.taken > span[0];
                if (inside || over) && before != edit.put {
                    sound[i] = false;
                }
            }
        }
        let expected: Vec<Record> =
            records.iter().zip(&sound).filter(|(_, s)| **s).map(|(r, _)| r.clone()).collect();
        hit += records.len() - expected.len();
        let (got, damage) = read(&bytes, 1 + random.below(300));
        // A record may survive a hit: taken from the third byte of one to the third of the next,
        // the sync word heals. But nothing comes out that was never written.
        assert!(in_order(&expected, &got), "seed {seed}: an untouched record is missing");
        assert!(in_order(&got, &records), "seed {seed}: a record that was never written");
        let lost: u64 = damage.iter().map(|d| d.1).sum();
        assert_eq!(lost as usize + encoded_len(&got), bytes.len(), "seed {seed}");
        for (offset, length) in damage {
            assert!(length > 0 && offset + length <= bytes.len() as u64, "seed {seed}");
        }
        // The stages behind the reader meet the same file and must not stumble.
        let session = replay_bytes(&bytes, 256);
        assert_eq!(session.totals().damaged_bytes, lost, "seed {seed}");
    }
    println!("400 seeds, {hit} records hit");
    assert!(hit > 400, "the edits must hit records, else this shows nothing");
}

#[test]
fn every_flip_of_a_bit_costs_only_its_record() {
    let seed = 13;
    println!("seed {seed}");
    let records = sample(&mut Draws::new(seed), 12);
    let (bytes, starts) = file_of(&records);
    for at in 0..bytes.len() {
        let mut damaged = bytes.clone();
        damaged[at] ^= 1 << (at % 8);
        let hit = starts.iter().filter(|&&start| start <= at).count() - 1;
        let mut expected = records.clone();
        expected.remove(hit);
        let (got, damage) = read(&damaged, 700);
        assert_eq!(got, expected, "byte {at}");
        let span = ((starts[hit]) as u64, (starts[hit + 1] - starts[hit]) as u64);
        assert_eq!(damage, [span], "byte {at}");
    }
}

/// CRC-32/ISCSI bit by bit, from the parameters of the public catalogue (reflected polynomial
/// 0x82F63B78, start and final exclusive-or all ones): a second way to the sum.
fn crc32c(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, &byte| {
        (0..8).fold(sum ^ u32::from(byte), |s, _| (s >> 1) ^ (0x82F6_3B78 & (s & 1).wrapping_neg()))
    })
}

fn raw_record(kind: u8, host_ns: u64, body: &[u8]) -> Vec<u8> {
    let mut bytes = vec![0xA7, 0x54, 0x72, 0x5E];
    bytes.extend((body.len() as u16).to_le_bytes());
    bytes.push(kind);
    bytes.extend(host_ns.to_le_bytes());
    bytes.extend(body);
    let sum = crc32c(&bytes[4..]);
    bytes.extend(sum.to_le_bytes());
    bytes
}

#[test]
fn the_bytes_of_a_record_are_the_documented_ones() {
    // The catalogue's check value of CRC-32/ISCSI.
    assert_eq!(crc32c(b"123456789"), 0xE306_9283);
    let record = Record { host_ns: 7, entry: Entry::Bytes(PortRole::Receiver, b"$GP".to_vec()) };
    let mut bytes = Vec::new();
    encode(&record, &mut bytes);
    assert_eq!(bytes, raw_record(3, 7, b"$GP"));
    assert_eq!(bytes.len(), FRAME + 3);
}

#[test]
fn kinds_of_later_versions_are_skipped_and_counted() {
    let seed = 14;
    println!("seed {seed}");
    let records = sample(&mut Draws::new(seed), 6);
    let mut bytes = file_of(&records).0;
    bytes.extend(raw_record(200, 5, b"of a later version"));
    bytes.extend(raw_record(8, 6, b""));
    let (got, damage) = read(&bytes, 64);
    assert!(damage.is_empty());
    assert_eq!(got[6].entry, Entry::Unknown(200));
    assert_eq!(got[7].entry, Entry::End);
    let session = replay_bytes(&bytes, 64);
    assert_eq!(session.totals().unknown_records, 1);
    assert!(session.ended());
}

#[test]
fn a_sound_sum_over_an_unreadable_body_is_damage() {
    let mut bytes = raw_record(1, 0, b"{not json");
    let length = bytes.len() as u64;
    bytes.extend(raw_record(8, 6, b""));
    let (got, damage) = read(&bytes, 64);
    assert_eq!(damage, [(0, length)]);
    assert_eq!(got.len(), 1);
}

#[test]
fn the_reader_holds_at_most_one_record_and_one_push() {
    let held_max = |piece: usize| BODY_MAX + FRAME + piece;
    let seed = 15;
    println!("seed {seed}");
    let mut random = Draws::new(seed);
    let mut reader = Reader::default();
    let piece = 512;
    let mut push: Vec<u8> = Vec::new();
    for round in 0..3000 {
        push.clear();
        match round % 3 {
            // Noise, heads of records that never come, and noise full of first sync bytes.
            0 => push.extend((0..piece).map(|_| random.bits() as u8)),
            1 => push.extend([0xA7, 0x54, 0x72, 0x5E, 0x00, 0x10, 2, 0].repeat(piece / 8)),
            _ => push.extend(vec![0xA7; piece]),
        }
        reader.push(&push);
        while reader.take().is_some() {}
        let held = reader.held();
        assert!(held <= held_max(piece), "round {round}: {held} bytes");
    }
}

#[test]
fn a_record_comes_out_with_its_last_byte() {
    let seed = 16;
    println!("seed {seed}");
    let records = sample(&mut Draws::new(seed), 30);
    let (bytes, starts) = file_of(&records);
    let mut reader = Reader::default();
    let mut out = 0;
    for (at, byte) in bytes.iter().enumerate() {
        reader.push(&[*byte]);
        while let Some(item) = reader.take() {
            assert_eq!(streams::owned(&item).as_ref(), Ok(&records[out]));
            out += 1;
        }
        let whole = starts.iter().filter(|&&start| start <= at + 1).count() - 1;
        assert_eq!(out, whole, "after byte {at}");
    }
}
