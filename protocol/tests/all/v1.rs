//! The bytes of protocol version 1, one frame of every message.
//!
//! If a test here fails, do not change the test: the wire has changed.
//!
//! `body` is the frame before byte stuffing, one field a line; `sent` is what crosses the wire.
//! Both were written by a program of its own, from SPEC.md, not by the code under test.

use trundle_protocol::message::*;
use trundle_protocol::units::{BoardMicros, Channel, Fixed16, Fixed32, Impulses};
use trundle_protocol::{Deframer, WireMessage, exact_payload_len};

fn stamp(sequence: u32, board_us: u64) -> Stamp {
    Stamp {
        boot_id: Fixed32(0xA1B2_C3D4),
        sequence: Fixed32(sequence),
        board_us: BoardMicros(board_us),
    }
}

/// Hexadecimal bytes; a remark may follow `|` on each line.
fn bytes(text: &str) -> Vec<u8> {
    text.lines()
        .flat_map(|line| line.split('|').next().unwrap().split_whitespace())
        .map(|hex| u8::from_str_radix(hex, 16).unwrap())
        .collect()
}

/// Takes the byte stuffing out, from its definition and for blocks below 254 bytes only.
fn unstuff(sent: &[u8]) -> Vec<u8> {
    let (zero, mut rest) = sent.split_last().unwrap();
    assert_eq!(*zero, 0);
    let mut body = Vec::new();
    while let Some((code, tail)) = rest.split_first() {
        let (block, after) = tail.split_at(usize::from(*code) - 1);
        body.extend_from_slice(block);
        if !after.is_empty() {
            body.push(0);
        }
        rest = after;
    }
    body
}

fn frozen<M: WireMessage + PartialEq + std::fmt::Debug>(message: M, body: &str, sent: &str) {
    let (body, sent) = (bytes(body), bytes(sent));
    assert_eq!(message.frame().as_bytes(), sent, "sending");
    assert_eq!(unstuff(&sent), body, "stuffing");
    assert_eq!(body[..2], [1, message.type_id()], "header");
    assert_eq!(exact_payload_len(body[1]), Some(body.len() - 6), "length");
    let mut deframer = Deframer::<M>::new();
    let mut received = Vec::new();
    deframer.push_slice(&sent, |frame| received.push(frame.unwrap()));
    assert_eq!(received, [message], "receiving");
}

#[test]
fn hello() {
    let message = ToHost::Hello(Hello {
        stamp: stamp(0, 1000),
        nonce: Fixed32(0x0BAD_CAFE),
        board_id: Identity(0x1122_3344_5566_7788),
        firmware: [0, 1, 2],
        reset_cause: ResetCause::BrownOut,
        capabilities: 0b1100_0111,
        report_period_us: Fixed32(20_000),
        min_edge_interval_us: [Fixed32(150), Fixed32(0), Fixed32(100_000)],
    });
    let body = "
        01 01                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        00 00 00 00                | stamp.sequence
        E8 03 00 00 00 00 00 00    | stamp.board_us
        FE CA AD 0B                | nonce
        88 77 66 55 44 33 22 11    | board_id
        00 01 02                   | firmware
        02                         | reset_cause: BrownOut
        C7                         | capabilities
        20 4E 00 00                | report_period_us
        96 00 00 00                | min_edge_interval_us, wheel
        00 00 00 00                | radar
        A0 86 01 00                | pto
        1C 31 63 F2                | CRC-32C
    ";
    let sent = "
        07 01 01 D4 C3 B2 A1 01 01 01 03 E8 03 01 01 01 01 01 0D FE CA AD 0B 88
        77 66 55 44 33 22 11 07 01 02 02 C7 20 4E 01 02 96 01 01 01 01 01 01 04
        A0 86 01 05 1C 31 63 F2 00
    ";
    frozen(message, body, sent);
}

#[test]
fn counts() {
    let message = ToHost::Counts(Counts {
        stamp: stamp(258, 5160000),
        channels: [
            ChannelCounts {
                impulses: Impulses(13_004),
                last_edge_us: BoardMicros(5_159_310),
                rejected: Fixed32(7),
            },
            ChannelCounts {
                impulses: Impulses(0x1_0000_0001),
                last_edge_us: BoardMicros(5_159_999),
                rejected: Fixed32(0),
            },
            ChannelCounts { rejected: Fixed32(65_536), ..ChannelCounts::default() },
        ],
        working: Working {
            in_work: true,
            changes: Fixed32(3),
            last_change_us: BoardMicros(4_000_001),
        },
        overruns: Fixed32(2),
        dropped_frames: Fixed32(0x0102_0304),
    });
    let body = "
        01 02                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        02 01 00 00                | stamp.sequence
        40 BC 4E 00 00 00 00 00    | stamp.board_us
        CC 32 00 00 00 00 00 00    | wheel.impulses
        8E B9 4E 00 00 00 00 00    | wheel.last_edge_us
        07 00 00 00                | wheel.rejected
        01 00 00 00 01 00 00 00    | radar.impulses
        3F BC 4E 00 00 00 00 00    | radar.last_edge_us
        00 00 00 00                | radar.rejected
        00 00 00 00 00 00 00 00    | pto.impulses
        00 00 00 00 00 00 00 00    | pto.last_edge_us
        00 00 01 00                | pto.rejected
        01                         | working.in_work
        03 00 00 00                | working.changes
        01 09 3D 00 00 00 00 00    | working.last_change_us
        02 00 00 00                | overruns
        04 03 02 01                | dropped_frames
        4A C8 E3 AF                | CRC-32C
    ";
    let sent = "
        09 01 02 D4 C3 B2 A1 02 01 01 04 40 BC 4E 01 01 01 01 03 CC 32 01 01 01
        01 01 04 8E B9 4E 01 01 01 01 02 07 01 01 02 01 01 01 02 01 01 01 04 3F
        BC 4E 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01
        01 01 01 01 02 01 03 01 03 01 01 04 01 09 3D 01 01 01 01 02 02 01 01 09
        04 03 02 01 4A C8 E3 AF 00
    ";
    frozen(message, body, sent);
}

#[test]
fn mark() {
    let message = ToHost::Mark(Mark {
        stamp: stamp(259, 5161234),
        number: Fixed32(1),
        source: MarkSource::Gate,
        impulses: [Impulses(13_005), Impulses(13_127), Impulses(255)],
        last_edge_us: [BoardMicros(5_161_100), BoardMicros(5_161_200), BoardMicros(256)],
    });
    let body = "
        01 03                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        03 01 00 00                | stamp.sequence
        12 C1 4E 00 00 00 00 00    | stamp.board_us
        01 00 00 00                | number
        01                         | source: Gate
        CD 32 00 00 00 00 00 00    | impulses, wheel
        47 33 00 00 00 00 00 00    | radar
        FF 00 00 00 00 00 00 00    | pto
        8C C0 4E 00 00 00 00 00    | last_edge_us, wheel
        F0 C0 4E 00 00 00 00 00    | radar
        00 01 00 00 00 00 00 00    | pto
        F8 DF C2 B9                | CRC-32C
    ";
    let sent = "
        09 01 03 D4 C3 B2 A1 03 01 01 04 12 C1 4E 01 01 01 01 02 01 01 01 04 01
        CD 32 01 01 01 01 01 03 47 33 01 01 01 01 01 02 FF 01 01 01 01 01 01 04
        8C C0 4E 01 01 01 01 04 F0 C0 4E 01 01 01 01 01 02 01 01 01 01 01 01 05
        F8 DF C2 B9 00
    ";
    frozen(message, body, sent);
}

#[test]
fn pps_edge() {
    let message = ToHost::PpsEdge(PpsEdge { stamp: stamp(260, 6000002), number: Fixed32(6) });
    let body = "
        01 04                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        04 01 00 00                | stamp.sequence
        82 8D 5B 00 00 00 00 00    | stamp.board_us
        06 00 00 00                | number
        5B 84 E9 F9                | CRC-32C
    ";
    let sent = "
        09 01 04 D4 C3 B2 A1 04 01 01 04 82 8D 5B 01 01 01 01 02 06 01 01 05 5B
        84 E9 F9 00
    ";
    frozen(message, body, sent);
}

#[test]
fn edge_train() {
    let mut intervals_us = [Fixed32(0); TRAIN_INTERVALS];
    intervals_us[..4].copy_from_slice(&[2_769, 2_770, 40, 2_729].map(Fixed32));
    let message = ToHost::EdgeTrain(EdgeTrain {
        stamp: stamp(0xFFFF_FFFF, 0x1_0000_0000),
        channel: Channel::Radar,
        request: 42,
        first: Fixed16(4_080),
        used: 4,
        last: true,
        start_us: BoardMicros(0xFFFF_D000),
        intervals_us,
    });
    let body = "
        01 05                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        FF FF FF FF                | stamp.sequence
        00 00 00 00 01 00 00 00    | stamp.board_us
        01                         | channel: Radar
        2A                         | request
        F0 0F                      | first
        04                         | used
        01                         | last
        00 D0 FF FF 00 00 00 00    | start_us
        D1 0A 00 00                | intervals_us[0]
        D2 0A 00 00                | intervals_us[1]
        28 00 00 00                | intervals_us[2]
        A9 0A 00 00                | intervals_us[3]
        00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 | intervals_us[4..8]
        00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 | intervals_us[8..12]
        00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 | intervals_us[12..16]
        B5 AE 8C 68                | CRC-32C
    ";
    let sent = "
        0B 01 05 D4 C3 B2 A1 FF FF FF FF 01 01 01 02 01 01 01 07 01 2A F0 0F 04
        01 04 D0 FF FF 01 01 01 03 D1 0A 01 03 D2 0A 01 02 28 01 01 03 A9 0A 01
        01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01
        01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01 01
        05 B5 AE 8C 68 00
    ";
    frozen(message, body, sent);
}

#[test]
fn health() {
    let message = ToHost::Health(Health {
        stamp: stamp(300, 8000000),
        supply_mv: Fixed16(13_800),
        reset_cause: ResetCause::Software,
        dropped_frames: Fixed32(1),
        refused_frames: Fixed32(513),
    });
    let body = "
        01 06                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        2C 01 00 00                | stamp.sequence
        00 12 7A 00 00 00 00 00    | stamp.board_us
        E8 35                      | supply_mv
        05                         | reset_cause: Software
        01 00 00 00                | dropped_frames
        01 02 00 00                | refused_frames
        25 13 55 36                | CRC-32C
    ";
    let sent = "
        09 01 06 D4 C3 B2 A1 2C 01 01 01 03 12 7A 01 01 01 01 05 E8 35 05 01 01
        01 03 01 02 01 05 25 13 55 36 00
    ";
    frozen(message, body, sent);
}

#[test]
fn reply() {
    let message = ToHost::Reply(Reply {
        stamp: stamp(301, 8000100),
        request: 9,
        outcome: Outcome::NoSuchChannel,
    });
    let body = "
        01 07                      | version, type
        D4 C3 B2 A1                | stamp.boot_id
        2D 01 00 00                | stamp.sequence
        64 12 7A 00 00 00 00 00    | stamp.board_us
        09                         | request
        02                         | outcome: NoSuchChannel
        3D F8 77 5B                | CRC-32C
    ";
    let sent = "
        09 01 07 D4 C3 B2 A1 2D 01 01 04 64 12 7A 01 01 01 01 07 09 02 3D F8 77
        5B 00
    ";
    frozen(message, body, sent);
}

#[test]
fn hello_request() {
    let message = ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(0xC0FF_EE01) });
    let body = "
        01 81                      | version, type
        01 EE FF C0                | nonce
        C0 C1 64 17                | CRC-32C
    ";
    let sent = "
        0B 01 81 01 EE FF C0 C0 C1 64 17 00
    ";
    frozen(message, body, sent);
}

#[test]
fn set_report_period() {
    let message =
        ToBoard::SetReportPeriod(SetReportPeriod { request: 1, period_us: Fixed32(50_000) });
    let body = "
        01 82                      | version, type
        01                         | request
        50 C3 00 00                | period_us
        2F E7 06 C8                | CRC-32C
    ";
    let sent = "
        06 01 82 01 50 C3 01 05 2F E7 06 C8 00
    ";
    frozen(message, body, sent);
}

#[test]
fn set_min_edge_interval() {
    let message = ToBoard::SetMinEdgeInterval(SetMinEdgeInterval {
        request: 2,
        channel: Channel::Wheel,
        interval_us: Fixed32(300),
    });
    let body = "
        01 83                      | version, type
        02                         | request
        00                         | channel: Wheel
        2C 01 00 00                | interval_us
        22 C0 F1 AC                | CRC-32C
    ";
    let sent = "
        04 01 83 02 03 2C 01 01 05 22 C0 F1 AC 00
    ";
    frozen(message, body, sent);
}

#[test]
fn ask_edge_train() {
    let message = ToBoard::AskEdgeTrain(AskEdgeTrain {
        request: 3,
        channel: Channel::Pto,
        intervals: Fixed16(4_096),
    });
    let body = "
        01 84                      | version, type
        03                         | request
        02                         | channel: Pto
        00 10                      | intervals
        24 60 EE 0B                | CRC-32C
    ";
    let sent = "
        05 01 84 03 02 06 10 24 60 EE 0B 00
    ";
    frozen(message, body, sent);
}

#[test]
fn identify() {
    let message = ToBoard::Identify(Identify { request: 4, seconds: 10 });
    let body = "
        01 85                      | version, type
        04                         | request
        0A                         | seconds
        BC E9 F2 00                | CRC-32C
    ";
    let sent = "
        08 01 85 04 0A BC E9 F2 01 00
    ";
    frozen(message, body, sent);
}
