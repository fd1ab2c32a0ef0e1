//! Bytes to records, in pieces of any size, past any damage.

use super::entry::{Entry, ImportRow, PortRole, Record};
use super::{BODY_MAX, CRC, HEAD_LEN, SYNC, TAIL_LEN};

/// Bytes that belong to no sound record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Damage {
    /// Where the damage begins, bytes from the start of the file.
    pub offset: u64,
    /// How many bytes were passed over.
    pub bytes: u64,
}

/// What comes next in a capture.
#[derive(Clone, Debug, PartialEq)]
pub enum ReadItem {
    /// A sound record.
    Record(Record),
    /// A stretch that is not a record.
    Damage(Damage),
}

/// Streaming reader: push bytes in, take items out. Holds at most one record and one push.
#[derive(Debug, Default)]
pub struct Reader {
    buffer: Vec<u8>,
    /// Bytes of `buffer` already used up.
    used: usize,
    /// Offset in the file of `buffer[0]`.
    base: u64,
    /// Start of the damaged stretch being passed over.
    damaged_from: Option<u64>,
}

impl Reader {
    /// An empty reader, at the start of a file.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Give the next bytes of the file.
    pub fn push(&mut self, bytes: &[u8]) {
        if self.used > 0 {
            self.buffer.drain(..self.used);
            self.base += self.used as u64;
            self.used = 0;
        }
        self.buffer.extend_from_slice(bytes);
    }

    /// Bytes held at present.
    #[must_use]
    pub const fn held(&self) -> usize {
        self.buffer.len()
    }

    /// The next item, or `None` until more bytes are pushed.
    pub fn take(&mut self) -> Option<ReadItem> {
        loop {
            let rest = &self.buffer[self.used..];
            match split(rest) {
                Split::Sound(kind, host_ns, body) => {
                    let length = (HEAD_LEN + body.len() + TAIL_LEN) as u64;
                    if self.damaged_from.is_some() {
                        return self.end_damage().map(ReadItem::Damage);
                    }
                    let entry = decode(kind, body);
                    let offset = self.base + self.used as u64;
                    self.used += length as usize;
                    return Some(match entry {
                        Some(entry) => ReadItem::Record(Record { host_ns, entry }),
                        // A sound sum over a body that cannot be read: written by a fault of
                        // some other program. Reported as damage, never guessed at.
                        None => ReadItem::Damage(Damage { offset, bytes: length }),
                    });
                }
                Split::NeedMore => return None,
                Split::Unsound => {
                    let here = self.base + self.used as u64;
                    self.damaged_from.get_or_insert(here);
                    let skip = rest[1..]
                        .iter()
                        .position(|&byte| byte == SYNC[0])
                        .map_or(rest.len(), |at| at + 1);
                    self.used += skip;
                }
            }
        }
    }

    /// Tell the reader that the file ends here: what is left over is a cut record, reported as
    /// damage unless something sound hides behind a damaged length.
    pub fn finish(&mut self) -> Option<ReadItem> {
        loop {
            if let Some(item) = self.take() {
                return Some(item);
            }
            if self.used == self.buffer.len() {
                return self.end_damage().map(ReadItem::Damage);
            }
            // The head looks sound but its record does not fit in the file. It may be a damaged
            // length with sound records behind it: pass one byte over and look again.
            let here = self.base + self.used as u64;
            self.damaged_from.get_or_insert(here);
            self.used += 1;
        }
    }

    fn end_damage(&mut self) -> Option<Damage> {
        let offset = self.damaged_from.take()?;
        Some(Damage { offset, bytes: self.base + self.used as u64 - offset })
    }
}

enum Split<'a> {
    Sound(u8, u64, &'a [u8]),
    NeedMore,
    Unsound,
}

fn split(bytes: &[u8]) -> Split<'_> {
    let known = bytes.len().min(SYNC.len());
    if bytes.is_empty() {
        return Split::NeedMore;
    }
    if bytes[..known] != SYNC[..known] {
        return Split::Unsound;
    }
    if bytes.len() < HEAD_LEN {
        return Split::NeedMore;
    }
    let length = usize::from(u16::from_le_bytes([bytes[4], bytes[5]]));
    if length > BODY_MAX {
        return Split::Unsound;
    }
    let end = HEAD_LEN + length;
    if bytes.len() < end + TAIL_LEN {
        return Split::NeedMore;
    }
    let mut tail = [0; TAIL_LEN];
    tail.copy_from_slice(&bytes[end..end + TAIL_LEN]);
    if CRC.checksum(&bytes[SYNC.len()..end]) != u32::from_le_bytes(tail) {
        return Split::Unsound;
    }
    let mut time = [0; 8];
    time.copy_from_slice(&bytes[7..15]);
    Split::Sound(bytes[6], u64::from_le_bytes(time), &bytes[HEAD_LEN..end])
}

fn decode(kind: u8, body: &[u8]) -> Option<Entry> {
    Some(match kind {
        1 => Entry::Header(serde_json::from_slice(body).ok()?),
        2 => Entry::Bytes(PortRole::Board, body.to_vec()),
        3 => Entry::Bytes(PortRole::Receiver, body.to_vec()),
        4 => Entry::HostMark(serde_json::from_slice(body).ok()?),
        5 => Entry::Port(serde_json::from_slice(body).ok()?),
        6 => Entry::Course(String::from_utf8(body.to_vec()).ok()?),
        7 => Entry::WallClock(serde_json::from_slice(body).ok()?),
        8 => Entry::End,
        9 => Entry::Import(ImportRow::Counts, body.to_vec()),
        10 => Entry::Import(ImportRow::Marks, body.to_vec()),
        11 => Entry::Slept(serde_json::from_slice(body).ok()?),
        other => Entry::Unknown(other),
    })
}
