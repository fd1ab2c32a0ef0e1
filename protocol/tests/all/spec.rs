//! Holds SPEC.md against the code: worked frames, lengths, offsets, load.

use crate::common::{receive, stuffed};
use trundle_protocol::frame::{encoded_len, types};
use trundle_protocol::message::*;
use trundle_protocol::units::{BoardMicros, Fixed32};
use trundle_protocol::{
    DEFRAME_BUFFER, FRAME_MAX, WireMessage, crc::crc32c, exact_payload_len, version,
};

const SPEC: &str = include_str!("../../SPEC.md");

/// The bytes of one line of a worked frame.
fn worked(name: &str, line: &str) -> Vec<u8> {
    let fence = format!("```hex {name}\n");
    let block = SPEC.split_once(&fence).unwrap().1.split_once("```").unwrap().0;
    let text = block.lines().find_map(|text| text.strip_prefix(line)).unwrap();
    text.split_whitespace().map(|hex| u8::from_str_radix(hex, 16).unwrap()).collect()
}

fn check<M: WireMessage + PartialEq + std::fmt::Debug>(name: &str, message: M) {
    let (body, wire) = (worked(name, "body"), worked(name, "wire"));
    assert_eq!(message.frame().as_bytes(), wire);
    assert_eq!(stuffed(&body), wire);
    assert_eq!(receive::<M>(&wire), [Ok(message)]);
    let (covered, carried) = body.split_last_chunk::<4>().unwrap();
    assert_eq!(crc32c(covered), u32::from_le_bytes(*carried));
}

#[test]
fn worked_hello_request() {
    check("hello_request", ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(0xC0FF_EE01) }));
    assert!(SPEC.contains("checksum 0x1764C1C0"));
}

#[test]
fn worked_reply() {
    let stamp = Stamp {
        boot_id: Fixed32(0xA1B2_C3D4),
        sequence: Fixed32(301),
        board_us: BoardMicros(8_000_100),
    };
    check("reply", ToHost::Reply(Reply { stamp, request: 9, outcome: Outcome::NoSuchChannel }));
}

/// Each table of a report: the rows follow on without a gap up to the length in the heading.
#[test]
fn tables_add_up() {
    let mut seen = Vec::new();
    for section in SPEC.split("\n### ").skip(1) {
        let section = section.split("\n## ").next().unwrap();
        let (heading, rest) = section.split_once('\n').unwrap();
        let type_id = u8::from_str_radix(&heading[2..4], 16).unwrap();
        let len = heading.split(", ").last().unwrap().strip_suffix(" bytes").unwrap();
        assert_eq!(exact_payload_len(type_id), len.parse().ok(), "{heading}");
        let mut offset = 0;
        for row in rest.lines().filter(|line| line.starts_with("| ")).skip(1) {
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            assert_eq!(cells[1].parse(), Ok(offset), "{heading}: {row}");
            offset += cells[2].parse::<usize>().unwrap();
        }
        assert_eq!(exact_payload_len(type_id), Some(offset), "{heading}");
        seen.push(type_id);
    }
    assert_eq!(seen, ToHost::TYPES);
}

#[test]
fn commands_are_listed_with_their_lengths() {
    for type_id in ToBoard::TYPES {
        let start = format!("| 0x{type_id:02X} |");
        let row = SPEC.lines().find(|line| line.starts_with(&start)).unwrap();
        let len = row.split('|').nth(3).unwrap().trim();
        assert_eq!(exact_payload_len(*type_id), len.parse().ok(), "{row}");
    }
}

#[test]
fn figures_in_the_text() {
    assert!(SPEC.starts_with(&format!("# The wire, version {}\n", version::CURRENT)));
    assert!(SPEC.contains(&format!("now: {} to {}.", version::MIN, version::CURRENT)));
    assert!(SPEC.contains(&format!("a frame on the wire at most {FRAME_MAX}.")));
    assert!(SPEC.contains(&format!("More than {DEFRAME_BUFFER} bytes without a zero")));
    for type_id in ToHost::TYPES.iter().chain(ToBoard::TYPES) {
        assert_eq!(encoded_len(*type_id), exact_payload_len(*type_id).map(|len| len + 8));
    }
}

#[test]
fn load_on_a_serial_line() {
    let line = 115_200.0 / 10.0;
    let counts = encoded_len(types::COUNTS).unwrap() as f64;
    for (reports, share) in [(10.0, "9.1 %"), (50.0, "45.6 %"), (100.0, "91.1 %")] {
        assert_eq!(format!("{:.1} %", 100.0 * reports * counts / line), share);
        assert!(SPEC.contains(share));
    }
    let health = encoded_len(types::HEALTH).unwrap() as f64 / 2.0;
    let pps = encoded_len(types::PPS_EDGE).unwrap() as f64;
    let train = encoded_len(types::EDGE_TRAIN).unwrap() as f64 * 400.0 / 16.0;
    let share = format!("{:.1} % in all", 100.0 * (50.0 * counts + health + pps + train) / line);
    assert!(SPEC.contains(&share), "{share}");
    assert!(SPEC.contains(&format!("{:.1} %: only over USB", 100.0 * 200.0 * counts / line)));
}

/// The board has no operating system: nothing outside the tests may bring in std or alloc.
#[test]
fn the_package_stays_without_std() {
    let root = include_str!("../../src/lib.rs");
    assert!(root.lines().any(|line| line == "#![no_std]"));
    assert!(!root.contains("extern crate alloc"));
    assert_eq!(root.matches("extern crate std").count(), root.matches("#[cfg(test)]\n").count());
}
