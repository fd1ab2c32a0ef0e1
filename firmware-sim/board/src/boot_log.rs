//! A boot id that never comes again, counted in flash.
//!
//! Two sectors. The newest holds a first id and one byte for each boot, written in order; the id
//! of a boot is the first id and the number of its byte. When a sector is full, the other one is
//! erased and begun with the next id: 3,840 boots an erasure, so that a flash of 100,000 erasures
//! outlasts everything else on the board. The very first id is noise, so that a board whose flash
//! was wiped does not say again what it said before.
//!
//! An id is used only after its byte was read back. A byte written half when power fails belongs
//! to no boot yet; whether it reads as written or not, the next boot writes one behind the last
//! that reads as written. While a sector is erased or begun, the other one still holds the last id.

/// Bytes that are erased at once.
pub const SECTOR: usize = 4_096;
/// The entries begin behind the page that holds the head.
const ENTRIES_AT: usize = 256;
const ENTRIES: u32 = (SECTOR - ENTRIES_AT) as u32;
/// Mark, first id, check.
pub const HEAD: usize = 12;
const MARK: u32 = 0x7A0D_B007;
/// What an entry holds once it is written.
pub const WRITTEN: u8 = 0;
const ERASED: u8 = 0xFF;

/// What to write before the id may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Write {
    /// An entry, [`WRITTEN`], at this place of this sector.
    Entry {
        /// Which of the two sectors.
        sector: usize,
        /// Place in it, bytes.
        at: usize,
    },
    /// Erase this sector, write its first entry at `at`, then this head at 0.
    Begin {
        /// Which of the two sectors.
        sector: usize,
        /// Place of the entry, bytes.
        at: usize,
        /// The head.
        head: [u8; HEAD],
    },
}

/// The id of this boot, and what to write first. `noise` is used while the flash holds no id.
#[must_use]
pub fn next(sectors: [&[u8; SECTOR]; 2], noise: u32) -> (u32, Write) {
    let [first, second] = sectors.map(first_id);
    let (newest, first_id) = match (first, second) {
        (Some(a), Some(b)) if b.wrapping_sub(a).cast_signed() > 0 => (1, b),
        (Some(a), _) => (0, a),
        (None, Some(b)) => (1, b),
        (None, None) => return begin(0, noise),
    };
    let used = used(sectors[newest]);
    let boot_id = first_id.wrapping_add(used);
    if used == ENTRIES {
        return begin(1 - newest, boot_id);
    }
    (boot_id, Write::Entry { sector: newest, at: ENTRIES_AT + used as usize })
}

fn begin(sector: usize, boot_id: u32) -> (u32, Write) {
    let mut head = [0; HEAD];
    let check = boot_id ^ !MARK;
    for (place, word) in head.chunks_exact_mut(4).zip([MARK, boot_id, check]) {
        place.copy_from_slice(&word.to_le_bytes());
    }
    (boot_id, Write::Begin { sector, at: ENTRIES_AT, head })
}

/// The first id of a sector, if its head is whole.
fn first_id(sector: &[u8; SECTOR]) -> Option<u32> {
    let word = |at: usize| sector[at..at + 4].iter().rev().fold(0, |w, &b| w << 8 | u32::from(b));
    let id = word(4);
    (word(0) == MARK && word(8) == id ^ !MARK).then_some(id)
}

/// Entries up to the last that reads as written.
fn used(sector: &[u8; SECTOR]) -> u32 {
    let entries = &sector[ENTRIES_AT..];
    // No more than there are.
    entries.iter().rposition(|&entry| entry != ERASED).map_or(0, |last| last as u32 + 1)
}
