//! Message to bytes: version, type, postcard payload, CRC-32C, byte stuffing, delimiter.
//!
//! Every type has one exact payload length, because every field has a fixed length. The receiver
//! holds it against each frame, so that a damaged length code cannot shorten or lengthen a
//! message unseen, and the longest frame is known when the program is built.

use crate::crc::crc32c;
use crate::message::{
    AskEdgeTrain, EdgeTrain, HelloRequest, Identify, SetMinEdgeInterval, SetReportPeriod,
    TRAIN_INTERVALS, ToBoard, ToHost,
};
use crate::version;
use serde::{Deserialize, Serialize};

/// The type byte of each message. Below 0x80: board to host; above: host to board.
pub mod types {
    /// [`Hello`](crate::message::Hello).
    pub const HELLO: u8 = 0x01;
    /// [`Counts`](crate::message::Counts).
    pub const COUNTS: u8 = 0x02;
    /// [`Mark`](crate::message::Mark).
    pub const MARK: u8 = 0x03;
    /// [`PpsEdge`](crate::message::PpsEdge).
    pub const PPS_EDGE: u8 = 0x04;
    /// [`EdgeTrain`](crate::message::EdgeTrain).
    pub const EDGE_TRAIN: u8 = 0x05;
    /// [`Health`](crate::message::Health).
    pub const HEALTH: u8 = 0x06;
    /// [`Reply`](crate::message::Reply).
    pub const REPLY: u8 = 0x07;
    /// [`HelloRequest`](crate::message::HelloRequest).
    pub const HELLO_REQUEST: u8 = 0x81;
    /// [`SetReportPeriod`](crate::message::SetReportPeriod).
    pub const SET_REPORT_PERIOD: u8 = 0x82;
    /// [`SetMinEdgeInterval`](crate::message::SetMinEdgeInterval).
    pub const SET_MIN_EDGE_INTERVAL: u8 = 0x83;
    /// [`AskEdgeTrain`](crate::message::AskEdgeTrain).
    pub const ASK_EDGE_TRAIN: u8 = 0x84;
    /// [`Identify`](crate::message::Identify).
    pub const IDENTIFY: u8 = 0x85;
}

/// The delimiter: ends every frame, occurs nowhere inside one, and alone it is idle fill.
pub const DELIMITER: u8 = 0x00;
/// Version byte and type byte.
pub const HEADER_LEN: usize = 2;
/// The checksum.
pub const CRC_LEN: usize = 4;

/// Payload length of a message type of either direction, bytes; `None` if there is no such type.
///
/// A stamp is 16 bytes (boot id 4, sequence 4, board time 8); enumerations and flags are 1.
#[must_use]
pub const fn exact_payload_len(type_id: u8) -> Option<usize> {
    const STAMP: usize = 4 + 4 + 8;
    const CHANNEL_COUNTS: usize = 8 + 8 + 4;
    const WORKING: usize = 1 + 4 + 8;
    Some(match type_id {
        types::HELLO => STAMP + 4 + 8 + 3 + 1 + 1 + 4 + 3 * 4,
        types::COUNTS => STAMP + 3 * CHANNEL_COUNTS + WORKING + 4 + 4,
        types::MARK => STAMP + 4 + 1 + 3 * 8 + 3 * 8,
        types::PPS_EDGE => STAMP + 4,
        types::EDGE_TRAIN => STAMP + 1 + 1 + 2 + 1 + 1 + 8 + TRAIN_INTERVALS * 4,
        types::HEALTH => STAMP + 2 + 1 + 4 + 4,
        types::REPLY => STAMP + 1 + 1,
        types::HELLO_REQUEST => 4,
        types::SET_REPORT_PERIOD => 1 + 4,
        types::SET_MIN_EDGE_INTERVAL => 1 + 1 + 4,
        types::ASK_EDGE_TRAIN => 1 + 1 + 2,
        types::IDENTIFY => 1 + 1,
        _ => return None,
    })
}

/// Longest payload of any type, bytes.
pub const PAYLOAD_MAX: usize = longest_payload();
/// Longest frame before byte stuffing.
const BODY_MAX: usize = HEADER_LEN + PAYLOAD_MAX + CRC_LEN;
/// Longest encoded frame, bytes, delimiter included.
pub const FRAME_MAX: usize = BODY_MAX + 2;

/// Length of the encoded frame of a type, bytes, delimiter included; `None` if no such type.
#[must_use]
pub const fn encoded_len(type_id: u8) -> Option<usize> {
    match exact_payload_len(type_id) {
        Some(payload) => Some(HEADER_LEN + payload + CRC_LEN + 2),
        None => None,
    }
}

const fn longest_payload() -> usize {
    let mut longest = 0;
    let mut type_id = 0;
    while type_id < u8::MAX {
        if let Some(len) = exact_payload_len(type_id)
            && len > longest
        {
            longest = len;
        }
        type_id += 1;
    }
    longest
}

// One stuffing byte is enough for up to 254 bytes; FRAME_MAX counts on it.
const _: () = assert!(BODY_MAX <= 254);
// A regular report stays within 128 bytes: 50 a second are then at most 56 % of 115200 baud.
const _: () = assert!(matches!(encoded_len(types::COUNTS), Some(len) if len <= 128));

/// One frame, ready to be sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EncodedFrame {
    bytes: [u8; FRAME_MAX],
    len: usize,
}

impl EncodedFrame {
    /// The bytes to send, delimiter included.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes[..self.len]
    }
}

/// A message of one direction: [`ToHost`] or [`ToBoard`].
pub trait WireMessage: Sized + Copy {
    /// The types of this direction.
    const TYPES: &'static [u8];

    /// The type byte of this message.
    fn type_id(&self) -> u8;

    /// Writes the payload to `out` and returns its length.
    ///
    /// # Panics
    /// If `out` is shorter than [`exact_payload_len`] of the type.
    fn write_payload(&self, out: &mut [u8]) -> usize;

    /// Reads a payload; `None` if `type_id` is not of this direction, if a field holds a value
    /// that does not exist, or if bytes are left over or wanting.
    fn read_payload(type_id: u8, payload: &[u8]) -> Option<Self>;

    /// The encoded frame, in the current protocol version.
    ///
    /// The values are sent as they are: a message with a field out of its documented range is
    /// refused at the other end.
    fn frame(&self) -> EncodedFrame {
        let mut body = [0_u8; BODY_MAX];
        body[0] = version::CURRENT;
        body[1] = self.type_id();
        let covered = HEADER_LEN + self.write_payload(&mut body[HEADER_LEN..BODY_MAX - CRC_LEN]);
        let crc = crc32c(&body[..covered]).to_le_bytes();
        body[covered..covered + CRC_LEN].copy_from_slice(&crc);
        let mut bytes = [DELIMITER; FRAME_MAX];
        let stuffed = cobs::encode(&body[..covered + CRC_LEN], &mut bytes);
        EncodedFrame { bytes, len: stuffed + 1 }
    }
}

/// Writes one payload. `out` has room for the longest there is.
fn write<T: Serialize>(message: &T, out: &mut [u8]) -> usize {
    postcard::to_slice(message, out)
        .expect("the room is computed from the same fixed field lengths")
        .len()
}

/// Reads one payload of which nothing may be left over.
fn read<'a, T: Deserialize<'a>>(payload: &'a [u8]) -> Option<T> {
    match postcard::take_from_bytes(payload) {
        Ok((message, [])) => Some(message),
        _ => None,
    }
}

impl WireMessage for ToHost {
    const TYPES: &'static [u8] = &[
        types::HELLO,
        types::COUNTS,
        types::MARK,
        types::PPS_EDGE,
        types::EDGE_TRAIN,
        types::HEALTH,
        types::REPLY,
    ];

    fn type_id(&self) -> u8 {
        match self {
            ToHost::Hello(_) => types::HELLO,
            ToHost::Counts(_) => types::COUNTS,
            ToHost::Mark(_) => types::MARK,
            ToHost::PpsEdge(_) => types::PPS_EDGE,
            ToHost::EdgeTrain(_) => types::EDGE_TRAIN,
            ToHost::Health(_) => types::HEALTH,
            ToHost::Reply(_) => types::REPLY,
        }
    }

    fn write_payload(&self, out: &mut [u8]) -> usize {
        match self {
            ToHost::Hello(message) => write(message, out),
            ToHost::Counts(message) => write(message, out),
            ToHost::Mark(message) => write(message, out),
            ToHost::PpsEdge(message) => write(message, out),
            ToHost::EdgeTrain(message) => write(message, out),
            ToHost::Health(message) => write(message, out),
            ToHost::Reply(message) => write(message, out),
        }
    }

    #[inline]
    fn read_payload(type_id: u8, payload: &[u8]) -> Option<Self> {
        match type_id {
            types::HELLO => read(payload).map(ToHost::Hello),
            types::COUNTS => crate::counts::read(payload).map(ToHost::Counts),
            types::MARK => read(payload).map(ToHost::Mark),
            types::PPS_EDGE => read(payload).map(ToHost::PpsEdge),
            types::EDGE_TRAIN => read(payload)
                .filter(|train: &EdgeTrain| (1..=TRAIN_INTERVALS).contains(&train.used.into()))
                .map(ToHost::EdgeTrain),
            types::HEALTH => read(payload).map(ToHost::Health),
            types::REPLY => read(payload).map(ToHost::Reply),
            _ => None,
        }
    }
}

impl WireMessage for ToBoard {
    const TYPES: &'static [u8] = &[
        types::HELLO_REQUEST,
        types::SET_REPORT_PERIOD,
        types::SET_MIN_EDGE_INTERVAL,
        types::ASK_EDGE_TRAIN,
        types::IDENTIFY,
    ];

    fn type_id(&self) -> u8 {
        match self {
            ToBoard::HelloRequest(_) => types::HELLO_REQUEST,
            ToBoard::SetReportPeriod(_) => types::SET_REPORT_PERIOD,
            ToBoard::SetMinEdgeInterval(_) => types::SET_MIN_EDGE_INTERVAL,
            ToBoard::AskEdgeTrain(_) => types::ASK_EDGE_TRAIN,
            ToBoard::Identify(_) => types::IDENTIFY,
        }
    }

    fn write_payload(&self, out: &mut [u8]) -> usize {
        match self {
            ToBoard::HelloRequest(message) => write(message, out),
            ToBoard::SetReportPeriod(message) => write(message, out),
            ToBoard::SetMinEdgeInterval(message) => write(message, out),
            ToBoard::AskEdgeTrain(message) => write(message, out),
            ToBoard::Identify(message) => write(message, out),
        }
    }

    fn read_payload(type_id: u8, payload: &[u8]) -> Option<Self> {
        match type_id {
            types::HELLO_REQUEST => read::<HelloRequest>(payload).map(ToBoard::HelloRequest),
            types::SET_REPORT_PERIOD => {
                read::<SetReportPeriod>(payload).map(ToBoard::SetReportPeriod)
            }
            types::SET_MIN_EDGE_INTERVAL => {
                read::<SetMinEdgeInterval>(payload).map(ToBoard::SetMinEdgeInterval)
            }
            types::ASK_EDGE_TRAIN => read::<AskEdgeTrain>(payload).map(ToBoard::AskEdgeTrain),
            types::IDENTIFY => read::<Identify>(payload).map(ToBoard::Identify),
            _ => None,
        }
    }
}
