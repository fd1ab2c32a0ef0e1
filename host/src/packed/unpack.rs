//! The plain bytes of a packed capture, past any damage, in bounded memory.

use super::block::{self, FRAME, Found, HEAD, Head};
use super::{BLOCK, MOST};
use std::io::{self, ErrorKind, Read};
use trundle_protocol::crc::crc32c;
use zstd::bulk::Decompressor;

/// Bytes of frames that may be looked at in vain beyond what was read: a damaged file never comes
/// near, and one made to be slow ends there.
const IN_VAIN: u64 = 16 << 20;

/// What becomes of a block that is not whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// Its plain bytes are zeros.
    AsZeros,
    /// Nothing is read from there on, with [`ErrorKind::InvalidData`].
    Refused,
}

/// Reads plain bytes out of a packed capture.
pub struct Unpacked<R> {
    source: R,
    lost: Lost,
    decompressor: Decompressor<'static>,
    /// Packed bytes, of which `used..end` are still to be looked at.
    buffer: Vec<u8>,
    used: usize,
    end: usize,
    /// Offset in the file of `buffer[0]`.
    base: u64,
    ended: bool,
    /// Zeros that come before `plain`.
    zeros: u64,
    /// Of the block at hand, from `taken` on.
    plain: Vec<u8>,
    taken: usize,
    /// Plain bytes that are accounted for.
    position: u64,
    total: Option<u64>,
    blocks: u64,
    /// Bytes passed over since the last block.
    passed: u64,
    /// Those for which no plain byte was missing.
    untold: u64,
    /// The end was met in its place.
    whole: bool,
    in_vain: u64,
    over: bool,
}

impl<R: Read> Unpacked<R> {
    /// Begin at the first byte of the packed file.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(source: R, lost: Lost) -> io::Result<Self> {
        Ok(Self {
            source,
            lost,
            decompressor: Decompressor::new()?,
            buffer: vec![0; HEAD + FRAME],
            used: 0,
            end: 0,
            base: 0,
            ended: false,
            zeros: 0,
            plain: Vec::with_capacity(BLOCK),
            taken: 0,
            position: 0,
            total: None,
            blocks: 0,
            passed: 0,
            untold: 0,
            whole: false,
            in_vain: 0,
            over: false,
        })
    }

    /// Have `count` packed bytes at hand, or all that are left.
    fn fill(&mut self, count: usize) -> io::Result<()> {
        if self.end - self.used >= count || self.ended {
            return Ok(());
        }
        self.buffer.copy_within(self.used..self.end, 0);
        self.base += self.used as u64;
        self.end -= self.used;
        self.used = 0;
        while self.end < count {
            match self.source.read(&mut self.buffer[self.end..]) {
                Ok(0) => {
                    self.ended = true;
                    break;
                }
                Ok(read) => self.end += read,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// Find the next block that is whole and in its place, or the end of the file.
    fn step(&mut self) -> io::Result<()> {
        loop {
            self.fill(HEAD)?;
            let Some(bytes) = self.buffer[self.used..self.end].first_chunk::<HEAD>() else {
                self.passed += (self.end - self.used) as u64;
                self.used = self.end;
                return self.finish();
            };
            let taken = match Head::decode(bytes) {
                Found::Head(head) => self.take(head)?,
                Found::Later(version) => {
                    return Err(io::Error::new(ErrorKind::Unsupported, later(version)));
                }
                Found::TooLong(total) if self.total.is_none() => return Err(odd(&too_long(total))),
                Found::TooLong(_) | Found::Nothing => false,
            };
            if taken {
                return Ok(());
            }
            let to = block::next(&self.buffer[..self.end], self.used + 1);
            self.passed += (to - self.used) as u64;
            self.used = to;
        }
    }

    /// Take the block of a sound head; false if it is not in its place, or not whole.
    fn take(&mut self, head: Head) -> io::Result<bool> {
        // The first block that is whole says how long the capture is: a head may be one of another.
        let of_another = self.total.is_some_and(|total| total != head.total);
        if of_another || head.offset < self.position {
            return Ok(false);
        }
        let length = head.frame as usize;
        self.fill(HEAD + length)?;
        let from = self.used + HEAD;
        if self.end < from + length || self.whole {
            return Ok(false);
        }
        let frame = &self.buffer[from..from + length];
        self.plain.clear();
        self.taken = 0;
        let sound = length == 0
            || crc32c(frame) == head.sum
                && self.decompressor.decompress_to_buffer(frame, &mut self.plain).is_ok()
                && self.plain.len() == head.plain as usize;
        if !sound {
            self.plain.clear();
            self.in_vain += length as u64;
            if self.in_vain > IN_VAIN + self.base {
                return Err(odd("it is damaged in more places than are worth reading"));
            }
            return Ok(false);
        }
        self.total = Some(head.total);
        let in_place = head.at == self.base + self.used as u64;
        self.whole = length == 0 && in_place;
        self.blocks += u64::from(length > 0);
        self.zeros = head.offset - self.position;
        if self.zeros == 0 {
            self.untold += self.passed;
        }
        let missing = self.zeros > 0 || self.passed > 0 || !in_place;
        self.passed = 0;
        self.position = head.offset + u64::from(head.plain);
        self.used = from + length;
        if missing {
            self.lose()?;
        }
        Ok(true)
    }

    /// What is missing when the file ends.
    fn finish(&mut self) -> io::Result<()> {
        self.over = true;
        self.plain.clear();
        self.taken = 0;
        let Some(total) = self.total.filter(|_| self.blocks > 0) else {
            return Err(odd("it is a packed capture of which no part is whole"));
        };
        let lost = total - self.position;
        self.position = total;
        self.untold += if lost == 0 { self.passed } else { 0 };
        // That it was cut is told also where nothing but the end is gone.
        let told = lost + self.untold;
        self.zeros = if told == 0 && !self.whole { 1 } else { told };
        if self.zeros > 0 { self.lose() } else { Ok(()) }
    }

    fn lose(&self) -> io::Result<()> {
        match self.lost {
            Lost::AsZeros => Ok(()),
            Lost::Refused => Err(odd("it is a packed capture that was cut or damaged")),
        }
    }
}

impl<R: Read> Read for Unpacked<R> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        if to.is_empty() {
            return Ok(0);
        }
        loop {
            if self.zeros > 0 {
                let count = usize::try_from(self.zeros).unwrap_or(usize::MAX).min(to.len());
                to[..count].fill(0);
                self.zeros -= count as u64;
                return Ok(count);
            }
            let plain = &self.plain[self.taken..];
            if !plain.is_empty() {
                let count = plain.len().min(to.len());
                to[..count].copy_from_slice(&plain[..count]);
                self.taken += count;
                return Ok(count);
            }
            if self.over {
                return Ok(0);
            }
            self.step()?;
        }
    }
}

fn odd(what: &str) -> io::Error {
    io::Error::new(ErrorKind::InvalidData, what)
}

fn later(version: u16) -> String {
    format!("it was packed by a newer version of this program (format {version})")
}

fn too_long(total: u64) -> String {
    format!("it says that it holds {total} bytes; no capture is longer than {MOST}")
}
