//! Values from outside the project: the checksum, the byte stuffing and the serialisation, each
//! against a published table.

use crate::common::{all_to_host, payload, receive, sealed, stuffed};
use trundle_protocol::crc::crc32c;
use trundle_protocol::message::ToHost;
use trundle_protocol::{FrameFault, WireMessage, version};

/// Catalogue of parametrised CRC algorithms, entry CRC-32/ISCSI: check.
#[test]
fn crc_check_value() {
    assert_eq!(crc32c(b"123456789"), 0xE306_9283);
}

/// RFC 3720, appendix B.4, CRC examples (from memory; recomputed with the crc crate).
#[test]
fn crc_of_the_iscsi_standard() {
    let rising: Vec<u8> = (0..32).collect();
    let falling: Vec<u8> = (0..32).rev().collect();
    assert_eq!(crc32c(&[0; 32]), 0x8A91_36AA);
    assert_eq!(crc32c(&[0xFF; 32]), 0x62A8_AB43);
    assert_eq!(crc32c(&rising), 0x46DD_794E);
    assert_eq!(crc32c(&falling), 0x113F_DB5C);
}

/// The same catalogue entry: residue 0xB798B438. It is what is left, before the final
/// exclusive-or, of any message followed by its checksum, lowest byte first: the order we send.
#[test]
fn crc_residue_fixes_the_order_of_the_checksum_bytes() {
    for message in all_to_host() {
        let mut covered = vec![version::CURRENT, 0x02];
        covered.extend(payload(&message));
        covered.extend(crc32c(&covered).to_le_bytes());
        assert_eq!(crc32c(&covered) ^ 0xFFFF_FFFF, 0xB798_B438);
    }
}

fn run(range: std::ops::RangeInclusive<u8>) -> Vec<u8> {
    range.collect()
}

fn join(parts: &[&[u8]]) -> Vec<u8> {
    parts.concat()
}

/// In, out without delimiter. Cheshire and Baker 1999 (the algorithm); the examples are the
/// common ones of the encyclopaedia's article on COBS, computed alike by two public
/// implementations (cobs 0.5.1 for Rust and cobs 1.2.2 for Python); DEADBEEF: iceworks.cc.
fn cobs_table() -> Vec<(Vec<u8>, Vec<u8>)> {
    vec![
        (vec![], vec![0x01]),
        (vec![0], vec![1, 1]),
        (vec![0, 0], vec![1, 1, 1]),
        (vec![0, 0x11, 0], vec![1, 2, 0x11, 1]),
        (vec![0x11, 0x22, 0, 0x33], vec![3, 0x11, 0x22, 2, 0x33]),
        (vec![0x11, 0x22, 0x33, 0x44], vec![5, 0x11, 0x22, 0x33, 0x44]),
        (vec![0x11, 0, 0, 0], vec![2, 0x11, 1, 1, 1]),
        (vec![0xDE, 0xAD, 0xBE, 0xEF], vec![5, 0xDE, 0xAD, 0xBE, 0xEF]),
        (vec![0xDE, 0xAD, 0, 0xBE, 0xEF], vec![3, 0xDE, 0xAD, 3, 0xBE, 0xEF]),
        (run(0x01..=0xFE), join(&[&[0xFF], &run(0x01..=0xFE)])),
        (run(0x00..=0xFE), join(&[&[0x01, 0xFF], &run(0x01..=0xFE)])),
        (run(0x01..=0xFF), join(&[&[0xFF], &run(0x01..=0xFE), &[0x02, 0xFF]])),
        (join(&[&run(0x02..=0xFF), &[0x00]]), join(&[&[0xFF], &run(0x02..=0xFF), &[0x01, 0x01]])),
        (
            join(&[&run(0x03..=0xFF), &[0x00, 0x01]]),
            join(&[&[0xFE], &run(0x03..=0xFF), &[0x02, 0x01]]),
        ),
    ]
}

#[test]
fn byte_stuffing_table() {
    for (plain, encoded) in cobs_table() {
        let mut with_delimiter = encoded.clone();
        with_delimiter.push(0);
        assert_eq!(stuffed(&plain), with_delimiter, "sending {plain:02X?}");
        let mut room = encoded.clone();
        let len = cobs::decode_in_place(&mut room).unwrap();
        assert_eq!(room[..len], plain, "receiving {encoded:02X?}");
    }
}

/// A body that ends on a full block of 254 bytes is stuffed with or without a closing 01,
/// depending on who wrote the encoder. Both must open: here as an undamaged frame of a newer
/// version, since no frame of ours is that long.
#[test]
fn both_conventions_of_the_full_block_open() {
    // Version 9 and filler without zeros; fillers whose checksum holds a zero are passed over.
    let body = (1..=255_u8)
        .map(|filler| {
            let mut body = vec![9, 0x02];
            body.resize(250, filler);
            body.extend(crc32c(&body).to_le_bytes());
            body
        })
        .find(|body| !body.contains(&0))
        .unwrap();
    assert_eq!(body.len(), 254);
    let trimmed = join(&[&[0xFF], &body, &[0x00]]);
    let original = join(&[&[0xFF], &body, &[0x01, 0x00]]);
    assert_eq!(stuffed(&body), trimmed);
    for stream in [trimmed, original] {
        assert_eq!(receive::<ToHost>(&stream), [Err(FrameFault::WrongVersion { found: 9 })]);
    }
}

/// postcard, spec/src/wire-format.md of jamesmunns/postcard: variable-length integers, zig-zag,
/// floats, and the maximum of each length.
#[test]
fn serialisation_table() {
    fn check<T: serde::Serialize>(value: T, expected: &[u8]) {
        let mut room = [0; 32];
        assert_eq!(postcard::to_slice(&value, &mut room).unwrap(), expected);
    }
    check(0_u16, &[0x00]);
    check(127_u16, &[0x7F]);
    check(128_u16, &[0x80, 0x01]);
    check(16_383_u16, &[0xFF, 0x7F]);
    check(16_384_u16, &[0x80, 0x80, 0x01]);
    check(16_385_u16, &[0x81, 0x80, 0x01]);
    check(65_535_u16, &[0xFF, 0xFF, 0x03]);
    check(0_i16, &[0x00]);
    check(-1_i16, &[0x01]);
    check(1_i16, &[0x02]);
    check(63_i16, &[0x7E]);
    check(-64_i16, &[0x7F]);
    check(64_i16, &[0x80, 0x01]);
    check(-65_i16, &[0x81, 0x01]);
    check(32_767_i16, &[0xFE, 0xFF, 0x03]);
    check(-32_768_i16, &[0xFF, 0xFF, 0x03]);
    check(u32::MAX, &[0xFF, 0xFF, 0xFF, 0xFF, 0x0F]);
    check(i64::MIN, &[0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x01]);
    check(-32.005_859_375_f32, &[0x00, 0x06, 0x00, 0xC2]);
    check(-32.005_859_375_f64, &[0x00, 0x00, 0x00, 0x00, 0xC0, 0x00, 0x40, 0xC0]);
    check(
        (13_000_u32, -5_i16, true, Some(40_u8), "PTO"),
        &[0xC8, 0x65, 0x09, 0x01, 0x01, 0x28, 0x03, 0x50, 0x54, 0x4F],
    );
}

/// The same text, on decoding: longer spellings of a number are taken if they fit, which is why
/// an enumeration spelt in two bytes has to fall to our rule of the exact length.
#[test]
fn other_spellings_of_a_number() {
    assert_eq!(postcard::from_bytes::<u16>(&[0x80, 0x00]).unwrap(), 0);
    assert_eq!(postcard::from_bytes::<u16>(&[0x80, 0x80, 0x00]).unwrap(), 0);
    assert!(postcard::from_bytes::<u16>(&[0x80, 0x80, 0x80, 0x00]).is_err());
    assert!(postcard::from_bytes::<u16>(&[0xFF, 0xFF, 0x83, 0x00]).is_err());
    assert!(postcard::from_bytes::<u16>(&[0xFF, 0xFF, 0x07]).is_err());

    let health = all_to_host().into_iter().find(|message| message.type_id() == 0x06).unwrap();
    let mut spelt_long = payload(&health);
    spelt_long.splice(18..19, [0x80, 0x00]);
    let (found, expected) = (spelt_long.len(), spelt_long.len() - 1);
    let fault = FrameFault::WrongLength { type_id: 0x06, expected, found };
    assert_eq!(receive::<ToHost>(&sealed(1, 0x06, &spelt_long)), [Err(fault)]);
    // Cut to the right length, it leaves the last field a byte short.
    spelt_long.pop();
    let fault = FrameFault::BadValue { type_id: 0x06 };
    assert_eq!(receive::<ToHost>(&sealed(1, 0x06, &spelt_long)), [Err(fault)]);
}
