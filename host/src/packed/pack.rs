//! Plain bytes to a packed capture.

use super::block::{FRAME, Head};
use super::{BLOCK, HEAD, MOST};
use sha2::{Digest as _, Sha256};
use std::io::{self, ErrorKind, Read, Write};
use trundle_core::units::hex;
use trundle_protocol::crc::crc32c;
use zstd::bulk::Compressor;
use zstd::zstd_safe::CParameter;

/// Captures up to this length are packed with more effort, bytes: at some 6 MB a second they are
/// done within three seconds, and come out a tenth smaller.
const CLOSELY: u64 = 16 << 20;
/// The library's levels for those, and for longer ones, of which 50 MB take a second.
const LEVELS: [i32; 2] = [16, 9];

/// What was packed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packed {
    /// SHA-256 of the plain bytes.
    pub sha256: String,
    /// Bytes of the packed file.
    pub length: u64,
}

/// Pack all that `source` gives, which is `total` bytes, into `sink`.
///
/// # Errors
/// [`ErrorKind::InvalidInput`] for a length that is not packed, [`ErrorKind::InvalidData`] when
/// `source` does not give so many bytes; else those of reading and writing.
pub fn pack(source: &mut impl Read, total: u64, sink: &mut impl Write) -> io::Result<Packed> {
    if !(1..=MOST).contains(&total) {
        let what = format!("captures of 1 to {MOST} bytes are packed");
        return Err(io::Error::new(ErrorKind::InvalidInput, what));
    }
    let mut compressor = Compressor::new(LEVELS[usize::from(total > CLOSELY)])?;
    compressor.set_parameter(CParameter::ChecksumFlag(true))?;
    let (mut plain, mut frame) = (vec![0; BLOCK], Vec::with_capacity(FRAME));
    let mut sum = Sha256::new();
    let (mut offset, mut at) = (0, 0);
    while offset < total {
        let length = fill(source, &mut plain)?;
        if length == 0 {
            break;
        }
        sum.update(&plain[..length]);
        frame.clear();
        compressor.compress_to_buffer(&plain[..length], &mut frame)?;
        let (plain, sum) = (length as u32, crc32c(&frame));
        let head = Head { total, offset, at, plain, frame: frame.len() as u32, sum };
        sink.write_all(&head.encode())?;
        sink.write_all(&frame)?;
        offset += length as u64;
        at += (HEAD + frame.len()) as u64;
    }
    if offset != total || fill(source, &mut plain[..1])? > 0 {
        return Err(io::Error::new(ErrorKind::InvalidData, "it changed while it was read"));
    }
    sink.write_all(&Head::end(total, at).encode())?;
    Ok(Packed { sha256: hex(&sum.finalize()), length: at + HEAD as u64 })
}

/// Fill `to` as far as the source goes; gives how far.
fn fill(source: &mut impl Read, to: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while filled < to.len() {
        match source.read(&mut to[filled..]) {
            Ok(0) => break,
            Ok(read) => filled += read,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(filled)
}
