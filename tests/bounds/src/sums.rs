//! Sound sums around any content, so that what stands behind a checksum is reached too.

use trundle_protocol::crc::crc32c;
use trundle_protocol::frame::DELIMITER;

/// A frame of the board's line around any body of at most 249 bytes, with the right sum. Written
/// from Cheshire and Baker's description of the byte stuffing (1999), not with the decoder's.
#[must_use]
pub fn frame_of(body: &[u8]) -> Vec<u8> {
    let sum = crc32c(body).to_le_bytes();
    let mut out = vec![0];
    let mut code = 0;
    for &byte in body.iter().take(249).chain(&sum) {
        if byte == 0 {
            out[code] = (out.len() - code) as u8;
            code = out.len();
        }
        out.push(byte);
    }
    out[code] = (out.len() - code) as u8;
    out.push(DELIMITER);
    out
}

/// A sentence around any body, with the right sum and a line end.
#[must_use]
pub fn sentence_of(body: &[u8]) -> Vec<u8> {
    let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
    [b"$", body, format!("*{sum:02X}\r\n").as_bytes()].concat()
}

/// A record of a capture around any body of at most 4096 bytes, with the right sum; the table
/// stands in `host/core/src/capture/mod.rs`.
#[must_use]
pub fn record_of(kind: u8, host_ns: u64, body: &[u8]) -> Vec<u8> {
    let mut out = vec![0xA7, 0x54, 0x72, 0x5E];
    out.extend_from_slice(&(body.len() as u16).to_le_bytes());
    out.push(kind);
    out.extend_from_slice(&host_ns.to_le_bytes());
    out.extend_from_slice(body);
    let sum = crc32c(&out[4..]);
    out.extend_from_slice(&sum.to_le_bytes());
    out
}

/// A block of a packed capture around any frame, with the right sums; the table stands in
/// `host/src/packed/mod.rs`. The numbers: bytes of the whole plain capture, those before this
/// block, and those of the packed file before this head.
#[must_use]
pub fn block_of(numbers: [u64; 3], plain: u32, frame: &[u8]) -> Vec<u8> {
    let mut out = vec![0x5E, 0x2A, 0x4D, 0x18, 48, 0, 0, 0];
    out.extend_from_slice(b"trpack\x01\x00");
    numbers.iter().for_each(|number| out.extend_from_slice(&number.to_le_bytes()));
    for number in [plain, frame.len() as u32, crc32c(frame)] {
        out.extend_from_slice(&number.to_le_bytes());
    }
    let sum = crc32c(&out);
    out.extend_from_slice(&sum.to_le_bytes());
    out.extend_from_slice(frame);
    out
}

/// A frame of Zstandard that holds at most 255 bytes as they are: a single segment of one raw
/// block (RFC 8878, 3.1.1.1 and 3.1.1.2).
#[must_use]
pub fn stored_frame(bytes: &[u8]) -> Vec<u8> {
    let bytes = &bytes[..bytes.len().min(255)];
    let length = bytes.len() as u8;
    let block = u32::from(length) << 3 | 1;
    let head = [0x28, 0xB5, 0x2F, 0xFD, 0x20, length];
    [&head[..], &block.to_le_bytes()[..3], bytes].concat()
}
