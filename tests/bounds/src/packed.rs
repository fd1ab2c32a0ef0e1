//! Packed captures.

use std::io::{self, ErrorKind, Read};
use trundle::packed::plain::plain;
use trundle::packed::unpack::Lost;
use trundle::packed::{BLOCK, HEAD};

/// Plain bytes that are looked at: a few bytes may rightly stand for gigabytes that are lost.
const LOOKED_AT: usize = 4 * BLOCK;

/// A file that may be a packed capture, whole and in pieces of so many bytes: what is made of it
/// is bounded by what it holds, the same on any chunking, and refused as a whole unless every byte
/// of it is in its place.
#[must_use]
pub fn packed(input: &[u8], piece: usize) -> bool {
    let (is_packed, bytes, fault) = read(input, Lost::AsZeros);
    if !is_packed {
        assert!(fault.is_none() && bytes == input[..input.len().min(LOOKED_AT)], "not as it is");
        return false;
    }
    let held = bytes.iter().filter(|byte| **byte != 0).count();
    assert!(held <= input.len() / HEAD * BLOCK, "{held} bytes of {}", input.len());
    let pieces = Pieces { rest: input, piece: piece.max(1) };
    assert!(read(pieces, Lost::AsZeros) == (true, bytes.clone(), fault), "in pieces of {piece}");
    let (_, whole, refused) = read(input, Lost::Refused);
    assert!(bytes.starts_with(&whole), "another content when damage is refused");
    if refused.is_none() && whole.len() < LOOKED_AT {
        assert!(bytes == whole, "{} bytes when damage is refused", whole.len());
        let (_, _, cut) = read(&input[..input.len() - 1], Lost::Refused);
        let (_, _, more) = read(input.chain(&b"\0"[..]), Lost::Refused);
        assert!(cut.is_some() && more.is_some(), "a byte less or more is taken as whole");
    }
    held > 0
}

/// Whether it is packed, its first plain bytes, and what it was given up for.
fn read(source: impl Read, lost: Lost) -> (bool, Vec<u8>, Option<ErrorKind>) {
    let mut bytes = Vec::new();
    match plain(source, lost) {
        Ok(source) => {
            let is_packed = source.is_packed();
            let end = source.take(LOOKED_AT as u64).read_to_end(&mut bytes);
            (is_packed, bytes, end.err().map(|error| error.kind()))
        }
        Err(error) => (false, bytes, Some(error.kind())),
    }
}

/// Gives so many bytes at a time.
struct Pieces<'a> {
    rest: &'a [u8],
    piece: usize,
}

impl Read for Pieces<'_> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let count = to.len().min(self.piece);
        self.rest.read(&mut to[..count])
    }
}
