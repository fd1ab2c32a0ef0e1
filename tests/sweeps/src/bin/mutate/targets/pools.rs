//! Sound pieces to be damaged: recordings, captures, texts.
#![allow(clippy::unwrap_used)]

use std::path::PathBuf;
use trundle_bounds::streams;
use trundle_core::capture::{Entry, PortRole, Record};
use trundle_protocol::message::{
    EdgeTrain, HelloRequest, Identify, PpsEdge, Reply, Stamp, TRAIN_INTERVALS, ToBoard, ToHost,
};
use trundle_protocol::units::{BoardMicros, Channel, Fixed16, Fixed32};
use trundle_protocol::{Deframer, FRAME_MAX, WireMessage, version};

/// Recordings of the pool: several talkers, all the sentences that are read, small ones.
const RECORDINGS: [u8; 8] = [2, 12, 14, 16, 28, 34, 37, 42];
/// Lines taken of each recording.
const LINES: usize = 120;

/// A place among the tests' files.
fn place(path: &str) -> PathBuf {
    trundle_tests::folder().join(path)
}

/// The lines of real receivers, with their line ends.
pub fn lines() -> Vec<Vec<u8>> {
    let mut out = Vec::new();
    for number in RECORDINGS {
        let path = place(&format!("data/receivers/receiver-{number:02}.nmea"));
        let bytes = std::fs::read(path).unwrap();
        let lines = bytes.split_inclusive(|byte| *byte == b'\n');
        out.extend(lines.take(LINES).map(<[u8]>::to_vec));
    }
    out
}

/// The records of a capture in `logs/`.
pub fn records(name: &str) -> Vec<Record> {
    let bytes = std::fs::read(place(&format!("../logs/{name}.capture"))).unwrap();
    streams::read(&bytes, bytes.len()).into_iter().map(Result::unwrap).collect()
}

/// Bodies of the board's frames, before byte stuffing: of a simulated job, and one of each type
/// that is in none.
pub fn bodies() -> Vec<Vec<u8>> {
    let mut out = Vec::new();
    let mut deframer = Deframer::<ToHost>::new_mid_stream();
    for record in records("simulated-rtk") {
        if let Entry::Bytes(PortRole::Board, bytes) = &record.entry {
            deframer.push_slice(bytes, |frame| out.extend(frame.ok().as_ref().map(body)));
        }
    }
    out.truncate(400);
    let train = EdgeTrain {
        stamp: Stamp::default(),
        channel: Channel::Radar,
        request: 3,
        first: Fixed16(16),
        used: TRAIN_INTERVALS as u8,
        last: false,
        start_us: BoardMicros(1_402_000_000),
        intervals_us: [Fixed32(2_700); TRAIN_INTERVALS],
    };
    let rare = [
        ToHost::EdgeTrain(train),
        ToHost::PpsEdge(PpsEdge::default()),
        ToHost::Reply(Reply::default()),
    ];
    out.extend(rare.iter().map(body));
    let nonce = Fixed32(0x0102_0304);
    out.push(body(&ToBoard::HelloRequest(HelloRequest { nonce })));
    out.push(body(&ToBoard::Identify(Identify { request: 1, seconds: 2 })));
    out
}

/// Version, type and payload.
fn body<M: WireMessage>(message: &M) -> Vec<u8> {
    let mut room = [0; FRAME_MAX];
    let len = message.write_payload(&mut room);
    [&[version::CURRENT, message.type_id()], &room[..len]].concat()
}
