//! Bytes to records, in pieces of any size, past any damage.

use super::entry::{Entry, ImportRow, PortRole, Record};
use super::{BODY_MAX, HEAD_LEN, SYNC, TAIL_LEN, crc32c, kind_of};

const BOARD: u8 = kind_of(PortRole::Board);
const RECEIVER: u8 = kind_of(PortRole::Receiver);
const BUS: u8 = kind_of(PortRole::Bus);

/// Bytes that belong to no sound record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Damage {
    /// Where the damage begins, bytes from the start of the file.
    pub offset: u64,
    /// How many bytes were passed over.
    pub bytes: u64,
}

/// What comes next in a capture, with what came from a port still where it lies: most of a long
/// capture is that.
#[derive(Debug, PartialEq)]
pub enum Piece<'a> {
    /// A record of kind 2, 3 or 13.
    Bytes {
        /// Host time, nanoseconds, as in [`Record`].
        host_ns: u64,
        /// The port it came from.
        role: PortRole,
        /// As they came from it.
        bytes: &'a [u8],
    },
    /// A sound record of any other kind.
    Record(Box<Record>),
    /// A span that is not a record.
    Damage(Damage),
}

/// Whose records' sums a [`Reader`] looks at. Two that read the same bytes can share the work: of
/// the first record that is unsound, the one that is to look at it says so, and until then both
/// see the same records.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sums {
    /// All bytes were taken.
    #[default]
    All,
    /// All but those with bytes of this port.
    NotOf(PortRole),
    /// Only those with bytes of this port.
    OnlyOf(PortRole),
}

impl Sums {
    const fn cover(self, kind: u8) -> bool {
        match self {
            Sums::All => true,
            Sums::NotOf(role) => kind != kind_of(role),
            Sums::OnlyOf(role) => kind == kind_of(role),
        }
    }
}

/// Streaming reader: push bytes in, take items out. Holds at most one record and one push.
#[derive(Debug, Default)]
pub struct Reader {
    /// Room, of which `used..end` holds what is still to be read.
    buffer: Vec<u8>,
    used: usize,
    end: usize,
    sums: Sums,
    /// Offset in the file of `buffer[0]`.
    base: u64,
    /// Start of the damaged span being passed over.
    damaged_from: Option<u64>,
}

impl Reader {
    /// A reader that looks at some of the sums only.
    #[must_use]
    pub fn checking(sums: Sums) -> Self {
        Self { sums, ..Self::default() }
    }

    /// Give the next bytes of the file.
    pub fn push(&mut self, bytes: &[u8]) {
        self.room(bytes.len()).copy_from_slice(bytes);
        self.filled(bytes.len());
    }

    /// Room for the next `length` bytes of the file, to be read straight into. What was in it
    /// means nothing; [`Self::filled`] shows how much of it was written.
    pub fn room(&mut self, length: usize) -> &mut [u8] {
        self.buffer.copy_within(self.used..self.end, 0);
        self.base += self.used as u64;
        self.end -= self.used;
        self.used = 0;
        let to = self.end + length;
        if self.buffer.len() < to {
            self.buffer.resize(to, 0);
        }
        &mut self.buffer[self.end..to]
    }

    /// The first `length` bytes of the room given last are bytes of the file.
    pub fn filled(&mut self, length: usize) {
        self.end = (self.end + length).min(self.buffer.len());
    }

    /// Bytes held at present.
    #[must_use]
    pub const fn held(&self) -> usize {
        self.end
    }

    /// The next item, or `None` until more bytes are pushed.
    #[inline]
    pub fn take(&mut self) -> Option<Piece<'_>> {
        // Nearly always the next record is whole and sound, and nothing before it was damaged.
        if self.damaged_from.is_none()
            && let Split::Sound(length) = split(&self.buffer[self.used..self.end], self.sums)
        {
            self.used += length;
            return Some(self.piece(self.used - length));
        }
        match self.find()? {
            Found::Sound { from } => Some(self.piece(from)),
            Found::Damage(damage) => Some(Piece::Damage(damage)),
        }
    }

    /// Show the reader that the file ends here: what is left over is a cut record, reported as
    /// damage unless something sound hides behind a damaged length.
    pub fn finish(&mut self) -> Option<Piece<'_>> {
        match self.find_at_end()? {
            Found::Sound { from } => Some(self.piece(from)),
            Found::Damage(damage) => Some(Piece::Damage(damage)),
        }
    }

    /// Pass over whole records with bytes of `role`, at most so many, and show how many they were
    /// and the latest of their host times. For a reader that does not look at their sums.
    #[inline]
    pub fn pass_over(&mut self, role: PortRole, at_most: u64) -> (u64, u64) {
        debug_assert!(!self.sums.cover(kind_of(role)), "a sum would go unseen");
        let (mut count, mut latest_ns) = (0, 0);
        while count < at_most && self.damaged_from.is_none() {
            let rest = &self.buffer[self.used..self.end];
            let Some(head) =
                rest.first_chunk().filter(|head: &&[u8; HEAD_LEN]| head[6] == kind_of(role))
            else {
                break;
            };
            let Split::Sound(length) = split(rest, self.sums) else { break };
            latest_ns = latest_ns.max(host_ns_of(head));
            self.used += length;
            count += 1;
        }
        (count, latest_ns)
    }

    #[cold]
    fn find(&mut self) -> Option<Found> {
        loop {
            let rest = &self.buffer[self.used..self.end];
            match split(rest, self.sums) {
                Split::Sound(length) => {
                    if self.damaged_from.is_some() {
                        return self.end_damage().map(Found::Damage);
                    }
                    let from = self.used;
                    self.used += length;
                    return Some(Found::Sound { from });
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

    fn find_at_end(&mut self) -> Option<Found> {
        loop {
            if let Some(found) = self.find() {
                return Some(found);
            }
            if self.used == self.end {
                return self.end_damage().map(Found::Damage);
            }
            // The head looks sound but its record does not fit in the file. It may be a damaged
            // length with sound records behind it: pass one byte over and look again.
            let here = self.base + self.used as u64;
            self.damaged_from.get_or_insert(here);
            self.used += 1;
        }
    }

    /// The sound record from `from` to what is used up.
    #[inline(always)]
    fn piece(&self, from: usize) -> Piece<'_> {
        let record = &self.buffer[from..self.used];
        let host_ns = record.first_chunk().map_or(0, host_ns_of);
        let bytes = &record[HEAD_LEN..record.len() - TAIL_LEN];
        match record[6] {
            BOARD => Piece::Bytes { host_ns, role: PortRole::Board, bytes },
            RECEIVER => Piece::Bytes { host_ns, role: PortRole::Receiver, bytes },
            BUS => Piece::Bytes { host_ns, role: PortRole::Bus, bytes },
            kind => self.other(kind, host_ns, bytes, from),
        }
    }

    #[cold]
    fn other(&self, kind: u8, host_ns: u64, body: &[u8], from: usize) -> Piece<'static> {
        match decode(kind, body) {
            Some(entry) => Piece::Record(Box::new(Record { host_ns, entry })),
            // A sound sum over a body that cannot be read: written by a fault of some other
            // program. Reported as damage, never guessed at.
            None => Piece::Damage(Damage {
                offset: self.base + from as u64,
                bytes: (self.used - from) as u64,
            }),
        }
    }

    fn end_damage(&mut self) -> Option<Damage> {
        let offset = self.damaged_from.take()?;
        Some(Damage { offset, bytes: self.base + self.used as u64 - offset })
    }
}

fn host_ns_of(head: &[u8; HEAD_LEN]) -> u64 {
    let [_, _, _, _, _, _, _, time @ ..] = *head;
    u64::from_le_bytes(time)
}

/// What lies in the buffer, by its places there.
enum Found {
    /// From here to what is used up.
    Sound {
        from: usize,
    },
    Damage(Damage),
}

enum Split {
    /// A record of so many bytes.
    Sound(usize),
    NeedMore,
    Unsound,
}

#[inline(always)]
fn split(bytes: &[u8], sums: Sums) -> Split {
    let Some(head) = bytes.first_chunk::<HEAD_LEN>() else {
        let known = bytes.len().min(SYNC.len());
        return if bytes[..known] == SYNC[..known] { Split::NeedMore } else { Split::Unsound };
    };
    if head.first_chunk() != Some(&SYNC) {
        return Split::Unsound;
    }
    let length = usize::from(u16::from_le_bytes([head[4], head[5]]));
    if length > BODY_MAX {
        return Split::Unsound;
    }
    let end = HEAD_LEN + length;
    let Some(tail) = bytes[end.min(bytes.len())..].first_chunk::<TAIL_LEN>() else {
        return Split::NeedMore;
    };
    if sums.cover(head[6]) && crc32c(&bytes[SYNC.len()..end]) != u32::from_le_bytes(*tail) {
        return Split::Unsound;
    }
    Split::Sound(end + TAIL_LEN)
}

/// A body of any kind but 2, 3 and 13.
fn decode(kind: u8, body: &[u8]) -> Option<Entry> {
    Some(match kind {
        1 => Entry::Header(serde_json::from_slice(body).ok()?),
        4 => Entry::HostMark(serde_json::from_slice(body).ok()?),
        5 => Entry::Port(serde_json::from_slice(body).ok()?),
        6 => Entry::Course(String::from_utf8(body.to_vec()).ok()?),
        7 => Entry::WallClock(serde_json::from_slice(body).ok()?),
        8 => Entry::End,
        9 => Entry::Import(ImportRow::Counts, body.to_vec()),
        10 => Entry::Import(ImportRow::Marks, body.to_vec()),
        11 => Entry::Slept(serde_json::from_slice(body).ok()?),
        12 => Entry::Import(ImportRow::Refused, body.to_vec()),
        14 => Entry::Import(ImportRow::Bus, body.to_vec()),
        other => Entry::Unknown(other),
    })
}
