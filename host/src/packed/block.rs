//! The head of a block.

use trundle_protocol::crc::crc32c;

/// Plain bytes of a block: some seconds of a job, and so much is lost where one is damaged. Larger
/// ones came out hardly smaller (2 % at four times the length).
pub const BLOCK: usize = 64 << 10;
/// Longest plain capture that is packed, and that a packed one may say it holds, bytes: some eighty
/// hours. It bounds what can be made of a few bytes.
pub const MOST: u64 = 4 << 30;
/// Bytes of a head.
pub const HEAD: usize = 56;
/// Longest frame of a block, bytes: its own bound for what cannot be made smaller is one part in
/// 256 and a few bytes (`ZSTD_compressBound`).
pub(super) const FRAME: usize = BLOCK + BLOCK / 128 + 64;

/// A number of the skippable frames of RFC 8878, 3.1.2.
const MAGIC: [u8; 4] = 0x184D_2A5E_u32.to_le_bytes();
const WORD: &[u8; 6] = b"trpack";
/// Version of the format.
pub const VERSION: u16 = 1;

/// What a head says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Head {
    /// Bytes of the whole plain capture.
    pub total: u64,
    /// Plain bytes before this block.
    pub offset: u64,
    /// Bytes of the packed file before this head.
    pub at: u64,
    /// Plain bytes in it; none in the end.
    pub plain: u32,
    /// Bytes of its frame.
    pub frame: u32,
    /// CRC-32C of its frame.
    pub sum: u32,
}

/// What stands where a head is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// A head that can be.
    Head(Head),
    /// One of a version that is not known here.
    Later(u16),
    /// One that says that the capture is longer than any.
    TooLong(u64),
    /// None.
    Nothing,
}

impl Head {
    pub fn encode(&self) -> [u8; HEAD] {
        let mut out = [0; HEAD];
        let mut at = 0;
        let mut put = |bytes: &[u8]| {
            out[at..at + bytes.len()].copy_from_slice(bytes);
            at += bytes.len();
        };
        put(&MAGIC);
        put(&(HEAD as u32 - 8).to_le_bytes());
        put(WORD);
        put(&VERSION.to_le_bytes());
        [self.total, self.offset, self.at].iter().for_each(|number| put(&number.to_le_bytes()));
        [self.plain, self.frame, self.sum].iter().for_each(|number| put(&number.to_le_bytes()));
        let sum = crc32c(&out[..HEAD - 4]);
        out[HEAD - 4..].copy_from_slice(&sum.to_le_bytes());
        out
    }

    pub fn decode(bytes: &[u8; HEAD]) -> Found {
        let long = |at: usize| u64::from_le_bytes(part(bytes, at));
        let short = |at: usize| u32::from_le_bytes(part(bytes, at));
        let ours = begins(bytes) && short(4) == HEAD as u32 - 8 && bytes[8..14] == *WORD;
        if !ours || short(52) != crc32c(&bytes[..HEAD - 4]) {
            return Found::Nothing;
        }
        let version = u16::from_le_bytes(part(bytes, 14));
        if version != VERSION {
            return Found::Later(version);
        }
        let head = Self {
            total: long(16),
            offset: long(24),
            at: long(32),
            plain: short(40),
            frame: short(44),
            sum: short(48),
        };
        if head.total > MOST {
            return Found::TooLong(head.total);
        }
        let to = head.offset.checked_add(u64::from(head.plain));
        let fits = to.is_some_and(|to| to <= head.total);
        let sizes = head.plain as usize <= BLOCK && head.frame as usize <= FRAME;
        let is_end = head.plain == 0 && head.frame == 0 && head.offset == head.total;
        let is_block = head.plain > 0 && head.frame > 0;
        if fits && sizes && (is_end || is_block) { Found::Head(head) } else { Found::Nothing }
    }

    /// What stands behind the last block.
    pub const fn end(total: u64, at: u64) -> Self {
        Self { total, offset: total, at, plain: 0, frame: 0, sum: 0 }
    }
}

/// True for bytes that begin as a packed capture does.
pub(super) fn begins(bytes: &[u8]) -> bool {
    bytes.starts_with(&MAGIC)
}

/// Where in `bytes` a head may begin, at the first place from `from` on; the end if nowhere.
pub(super) fn next(bytes: &[u8], from: usize) -> usize {
    let mut at = from;
    while let Some(found) = bytes[at..].iter().position(|&byte| byte == MAGIC[0]) {
        at += found;
        let rest = &bytes[at..];
        if MAGIC.starts_with(&rest[..rest.len().min(MAGIC.len())]) {
            return at;
        }
        at += 1;
    }
    bytes.len()
}

fn part<const N: usize>(bytes: &[u8; HEAD], at: usize) -> [u8; N] {
    let mut out = [0; N];
    out.copy_from_slice(&bytes[at..at + N]);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD_OF_ALL: Head =
        Head { total: 70_000, offset: 65_536, at: 99, plain: 4464, frame: 31, sum: 0x0102_0304 };

    /// The bytes of version 1.
    #[test]
    fn a_head_is_these_bytes() {
        let bytes = HEAD_OF_ALL.encode();
        let first = [
            0x5E, 0x2A, 0x4D, 0x18, 48, 0, 0, 0, b't', b'r', b'p', b'a', b'c', b'k', 1, 0, 0x70,
            0x11, 1, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 99, 0, 0, 0, 0, 0, 0, 0, 0x70, 0x11, 0,
            0, 31, 0, 0, 0, 4, 3, 2, 1,
        ];
        assert_eq!(bytes[..52], first);
        assert_eq!(Head::decode(&bytes), Found::Head(HEAD_OF_ALL));
    }

    #[test]
    fn a_head_that_cannot_be_is_none() {
        let bytes = HEAD_OF_ALL.encode();
        for at in 0..HEAD {
            let mut changed = bytes;
            changed[at] ^= 1;
            assert_eq!(Head::decode(&changed), Found::Nothing, "byte {at}");
        }
        for (head, found) in [
            (Head { total: MOST + 1, ..HEAD_OF_ALL }, Found::TooLong(MOST + 1)),
            (Head { total: 69_999, ..HEAD_OF_ALL }, Found::Nothing),
            (Head { offset: u64::MAX, ..HEAD_OF_ALL }, Found::Nothing),
            (Head { plain: BLOCK as u32 + 1, offset: 0, ..HEAD_OF_ALL }, Found::Nothing),
            (Head { frame: FRAME as u32 + 1, ..HEAD_OF_ALL }, Found::Nothing),
            (Head { frame: 0, ..HEAD_OF_ALL }, Found::Nothing),
            (Head { plain: 0, ..HEAD_OF_ALL }, Found::Nothing),
            (Head { offset: 7, ..Head::end(9, 0) }, Found::Nothing),
        ] {
            assert_eq!(Head::decode(&head.encode()), found, "{head:?}");
        }
        let end = Head::end(70_000, 4000);
        assert_eq!(Head::decode(&end.encode()), Found::Head(end));
        let mut later = bytes;
        later[14] = 2;
        let sum = crc32c(&later[..52]);
        later[52..].copy_from_slice(&sum.to_le_bytes());
        assert_eq!(Head::decode(&later), Found::Later(2));
    }

    #[test]
    fn the_next_place_may_be_cut_by_the_end_of_what_is_there() {
        let bytes = [0, 0x5E, 0x2A, 0, 0x5E, 0x2A, 0x4D, 0x18, 9, 0x5E, 0x2A];
        assert_eq!([0, 2, 5].map(|from| next(&bytes, from)), [4, 4, 9]);
        assert_eq!(next(&bytes, 10), 11);
    }
}
