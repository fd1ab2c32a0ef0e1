//! Messages and frames shared by the tests of this package.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

use trundle_protocol::crc::crc32c;
use trundle_protocol::message::*;
use trundle_protocol::units::{BoardMicros, Channel, Fixed16, Fixed32, Impulses};
use trundle_protocol::{Deframer, FrameFault, WireMessage};

pub fn stamp(sequence: u32) -> Stamp {
    Stamp {
        boot_id: Fixed32(0x5EED_0001),
        sequence: Fixed32(sequence),
        board_us: BoardMicros(u64::from(sequence) * 20_000),
    }
}

pub fn counts(sequence: u32) -> ToHost {
    let impulses = u64::from(sequence) * 7;
    let channel = ChannelCounts {
        impulses: Impulses(impulses),
        last_edge_us: BoardMicros(u64::from(sequence) * 20_000 - u64::from(sequence % 2_700)),
        rejected: Fixed32(sequence / 100),
    };
    ToHost::Counts(Counts {
        stamp: stamp(sequence),
        channels: [channel; CHANNELS],
        ..Counts::default()
    })
}

/// One of each, with many zero bytes in some and none in others.
pub fn all_to_host() -> Vec<ToHost> {
    let mut intervals_us = [Fixed32(0); TRAIN_INTERVALS];
    for (index, interval) in intervals_us.iter_mut().enumerate() {
        interval.0 = 2_700 + index as u32;
    }
    vec![
        ToHost::Hello(Hello {
            stamp: stamp(0),
            board_id: Identity(0x0102_0304_0506_0708),
            firmware: [0, 1, 0],
            reset_cause: ResetCause::PowerOn,
            capabilities: 0xC7,
            report_period_us: Fixed32(20_000),
            ..Hello::default()
        }),
        counts(70_123),
        ToHost::Mark(Mark {
            stamp: stamp(70_124),
            number: Fixed32(2),
            source: MarkSource::Button,
            impulses: [Impulses(490_861), Impulses(u64::MAX), Impulses(0)],
            last_edge_us: [BoardMicros(1_402_459_000); CHANNELS],
        }),
        ToHost::PpsEdge(PpsEdge { stamp: stamp(70_125), number: Fixed32(1_402) }),
        ToHost::EdgeTrain(EdgeTrain {
            stamp: stamp(70_126),
            channel: Channel::Pto,
            request: 5,
            first: Fixed16(16),
            used: 16,
            last: false,
            start_us: BoardMicros(1_402_000_000),
            intervals_us,
        }),
        ToHost::Health(Health {
            stamp: stamp(70_127),
            supply_mv: Fixed16(12_600),
            ..Health::default()
        }),
        ToHost::Reply(Reply { stamp: stamp(70_128), request: 5, outcome: Outcome::Busy }),
    ]
}

pub fn all_to_board() -> Vec<ToBoard> {
    vec![
        ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(0x1234_5678) }),
        ToBoard::SetReportPeriod(SetReportPeriod { request: 1, period_us: Fixed32(100_000) }),
        ToBoard::SetMinEdgeInterval(SetMinEdgeInterval {
            request: 2,
            channel: Channel::Radar,
            interval_us: Fixed32(0),
        }),
        ToBoard::AskEdgeTrain(AskEdgeTrain {
            request: 3,
            channel: Channel::Wheel,
            intervals: Fixed16(256),
        }),
        ToBoard::Identify(Identify { request: 4, seconds: 0 }),
    ]
}

/// A frame with any body, checksum right.
pub fn sealed(version: u8, type_id: u8, payload: &[u8]) -> Vec<u8> {
    let mut body = vec![version, type_id];
    body.extend_from_slice(payload);
    body.extend_from_slice(&crc32c(&body).to_le_bytes());
    stuffed(&body)
}

/// Byte stuffing and delimiter around any body.
pub fn stuffed(body: &[u8]) -> Vec<u8> {
    let mut out = vec![0; cobs::max_encoding_length(body.len()) + 1];
    let len = cobs::encode(body, &mut out);
    out.truncate(len);
    out.push(0);
    out
}

/// The payload of a message.
pub fn payload<M: WireMessage>(message: &M) -> Vec<u8> {
    let mut room = [0; 256];
    let len = message.write_payload(&mut room);
    room[..len].to_vec()
}

pub fn receive<M: WireMessage>(bytes: &[u8]) -> Vec<Result<M, FrameFault>> {
    let mut deframer = Deframer::<M>::new();
    let mut out = Vec::new();
    deframer.push_slice(bytes, |frame| out.push(frame));
    out
}

/// The single outcome of a stream.
pub fn only<M: WireMessage + std::fmt::Debug>(bytes: &[u8]) -> Result<M, FrameFault> {
    let outcomes = receive(bytes);
    assert_eq!(outcomes.len(), 1, "{outcomes:?}");
    outcomes.into_iter().next().unwrap()
}
