//! The adapter's lines: the plain-text serial-line CAN protocol.
//!
//! A received frame is `T` with 8 digits of identifier, or `t` with 3, one digit of length and two
//! for each byte; `R` and `r` are remote frames, without data. Some adapters add 4 digits of a
//! millisecond clock. CR ends a line, and alone it acknowledges a command; BEL refuses one.
//!
//! No digit of a number is a letter that begins a frame, so a frame whose end was lost is ended by
//! the beginning of the next. What is no line of the protocol is dropped and counted, and the
//! same bytes give the same items on any chunking. Nothing is ever allocated.

use super::frame::{CanFrame, DATA_MAX, ExtendedId, Id, StandardId, bytes, digit, number};

/// Longest line, bytes: type, identifier, length, data, time stamp.
const LINE_MAX: usize = 1 + 8 + 1 + 2 * DATA_MAX + 4;
/// The adapter's clock begins again at this, milliseconds.
const CLOCK_MS: u32 = 60_000;
/// Ends a line, and acknowledges.
pub const ACKNOWLEDGED: u8 = b'\r';
/// Refuses a command.
pub const REFUSED: u8 = 0x07;

/// What an adapter sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AdapterItem {
    /// A frame, and the adapter's clock where it sends that, milliseconds within the minute.
    Frame(CanFrame, Option<u16>),
    /// The last command was done.
    Acknowledged,
    /// The last command was not done.
    Refused,
    /// It stated its version: four digits, of hardware and firmware.
    Version([u8; 4]),
}

/// Everything that was counted while reading. Every byte is in exactly one of `frame_bytes`,
/// `answer_bytes`, `dropped_bytes`, or still in the open line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AdapterTotals {
    /// Number of the bytes received.
    pub bytes: u64,
    /// Frames, of any kind.
    pub frames: u64,
    /// Bytes of these, with their ends.
    pub frame_bytes: u64,
    /// Acknowledgements and versions.
    pub answers: u64,
    /// Refusals: commands that were not done.
    pub refusals: u64,
    /// Bytes of answers and refusals.
    pub answer_bytes: u64,
    /// Lines that are none of the protocol.
    pub damaged: u64,
    /// Lines longer than any of the protocol.
    pub overlong: u64,
    /// Lines inside which another one began.
    pub merged: u64,
    /// Bytes of all that was dropped.
    pub dropped_bytes: u64,
}

impl AdapterTotals {
    /// Lines that were dropped, for whatever reason.
    #[must_use]
    pub const fn dropped(&self) -> u64 {
        self.damaged + self.overlong + self.merged
    }
}

/// Reads an adapter's bytes.
#[derive(Clone, Debug, Default)]
pub struct AdapterReader {
    line: [u8; LINE_MAX],
    length: usize,
    /// The open line is too long: it is passed over up to its end.
    over: bool,
    totals: AdapterTotals,
}

impl AdapterReader {
    /// What was counted so far.
    #[must_use]
    pub const fn totals(&self) -> AdapterTotals {
        self.totals
    }

    /// Bytes of the line that has not ended yet.
    #[must_use]
    pub const fn open_bytes(&self) -> usize {
        self.length
    }

    /// The port was opened again: the open line is not continued.
    pub fn reopened(&mut self) {
        self.drop_open();
        self.over = false;
    }

    /// Take bytes and show what they hold.
    pub fn push(&mut self, bytes: &[u8], mut report: impl FnMut(AdapterItem)) {
        for &byte in bytes {
            self.totals.bytes += 1;
            match byte {
                ACKNOWLEDGED => self.ended(&mut report),
                REFUSED => {
                    if self.length > 0 {
                        self.totals.damaged += 1;
                    }
                    self.reopened();
                    self.totals.refusals += 1;
                    self.totals.answer_bytes += 1;
                    report(AdapterItem::Refused);
                }
                b'T' | b't' | b'R' | b'r' => {
                    if self.length > 0 {
                        self.totals.merged += 1;
                    }
                    self.reopened();
                    self.keep(byte);
                }
                _ => self.keep(byte),
            }
        }
    }

    fn keep(&mut self, byte: u8) {
        if self.over {
            self.totals.dropped_bytes += 1;
        } else if self.length < LINE_MAX {
            self.line[self.length] = byte;
            self.length += 1;
        } else {
            self.totals.overlong += 1;
            self.totals.dropped_bytes += 1;
            self.drop_open();
            self.over = true;
        }
    }

    fn drop_open(&mut self) {
        self.totals.dropped_bytes += self.length as u64;
        self.length = 0;
    }

    fn ended(&mut self, report: &mut impl FnMut(AdapterItem)) {
        if std::mem::take(&mut self.over) {
            self.totals.dropped_bytes += 1;
            return;
        }
        let whole = self.length as u64 + 1;
        match read(&self.line[..self.length]) {
            Some(item @ AdapterItem::Frame(..)) => {
                self.totals.frames += 1;
                self.totals.frame_bytes += whole;
                report(item);
            }
            Some(item) => {
                self.totals.answers += 1;
                self.totals.answer_bytes += whole;
                report(item);
            }
            None => {
                self.totals.damaged += 1;
                self.totals.dropped_bytes += whole;
            }
        }
        self.length = 0;
    }
}

/// A line without its end.
fn read(line: &[u8]) -> Option<AdapterItem> {
    let Some((&kind, rest)) = line.split_first() else { return Some(AdapterItem::Acknowledged) };
    match kind {
        b'T' | b'R' => {
            let (id, rest) = rest.split_at_checked(8)?;
            frame(Id::Extended(ExtendedId::new(number(id)?)?), kind == b'R', rest)
        }
        b't' | b'r' => {
            let (id, rest) = rest.split_at_checked(3)?;
            let raw = u16::try_from(number(id)?).ok()?;
            frame(Id::Standard(StandardId::new(raw)?), kind == b'r', rest)
        }
        b'V' => {
            let digits: [u8; 4] = rest.try_into().ok()?;
            digits.iter().all(u8::is_ascii_alphanumeric).then_some(AdapterItem::Version(digits))
        }
        _ => None,
    }
}

/// What stands behind the identifier.
fn frame(id: Id, remote: bool, rest: &[u8]) -> Option<AdapterItem> {
    let (&stated, rest) = rest.split_first()?;
    let stated = usize::try_from(digit(stated)?).ok().filter(|n| *n <= DATA_MAX)?;
    let (data, stamp) = rest.split_at_checked(if remote { 0 } else { 2 * stated })?;
    let stamp = match stamp.len() {
        0 => None,
        4 => Some(number(stamp).filter(|ms| *ms < CLOCK_MS)?),
        _ => return None,
    };
    let mut room = [0; DATA_MAX];
    let length = bytes(data, &mut room)?;
    let frame = match remote {
        true => CanFrame::remote(id, stated)?,
        false => CanFrame::new(id, &room[..length])?,
    };
    Some(AdapterItem::Frame(frame, stamp.and_then(|ms| u16::try_from(ms).ok())))
}
