//! Bytes to messages. Says why a frame was refused, counts everything, never allocates.
//!
//! A frame is accepted if all of this holds, in this order: the byte stuffing closes; at least
//! six bytes; the checksum is right; the version is one we speak; the type is of our direction;
//! the payload has the one length of its type; every field holds a value that exists, and
//! nothing is left over. The checksum comes before version and type, so that a board of a newer
//! version is reported as that and not as noise.
//!
//! Damage costs the frame it hits and, if it hits the delimiter, the next one; at the zero after
//! that the two ends agree again. Bytes without a zero never fill more than the fixed buffer.

use crate::crc::crc32c;
use crate::fault::FrameFault;
use crate::frame::{CRC_LEN, DELIMITER, HEADER_LEN, WireMessage, exact_payload_len};
use crate::version;
use core::marker::PhantomData;

/// Most bytes of one frame that are held, delimiter not included.
///
/// More than our own frames need, so that the longer frame of a newer version still comes through
/// whole and is refused for its version.
pub const DEFRAME_BUFFER: usize = 256;

const _: () = assert!(crate::frame::FRAME_MAX <= DEFRAME_BUFFER);

/// What went through a [`Deframer`]. All counts are since it was made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DeframeStats {
    /// Bytes that came in.
    pub bytes: u64,
    /// Frames accepted.
    pub frames: u64,
    /// Frames refused as damaged: stuffing, checksum, length or value.
    pub damaged: u64,
    /// Runs of more than [`DEFRAME_BUFFER`] bytes without a delimiter.
    pub too_long: u64,
    /// Sound frames of a version not spoken here.
    pub wrong_version: u64,
    /// Sound frames of a type not received here.
    pub unknown_type: u64,
    /// Bytes of all refused frames, their delimiters included.
    pub refused_bytes: u64,
    /// Bytes before the first delimiter, that delimiter included, where reading began mid-stream.
    pub mid_stream_bytes: u64,
    /// Delimiters with nothing before them: idle fill.
    pub idle_bytes: u64,
}

impl DeframeStats {
    /// Frames refused for whatever reason.
    #[must_use]
    pub const fn refused(&self) -> u64 {
        self.damaged + self.too_long + self.wrong_version + self.unknown_type
    }
}

/// What is done with the bytes up to the next delimiter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Gathering,
    /// The rest of an over-long frame, already reported.
    SkippingRest,
    /// The end of a frame whose start was never seen.
    MidStream,
}

/// Takes a stream of bytes apart into messages of one direction.
#[derive(Clone, Debug)]
pub struct Deframer<M> {
    buffer: [u8; DEFRAME_BUFFER],
    used: usize,
    state: State,
    stats: DeframeStats,
    direction: PhantomData<M>,
}

impl<M: WireMessage> Default for Deframer<M> {
    fn default() -> Self {
        Self::new()
    }
}

impl<M: WireMessage> Deframer<M> {
    /// For a stream seen from its first byte.
    #[must_use]
    pub const fn new() -> Self {
        Self::in_state(State::Gathering)
    }

    /// For a stream joined in the middle, such as a port just opened: what comes before the first
    /// delimiter may be half a frame, and is counted but not reported.
    #[must_use]
    pub const fn new_mid_stream() -> Self {
        Self::in_state(State::MidStream)
    }

    /// The port was reopened: what was gathered is given up and counted, and reading goes on as
    /// in a stream joined in the middle.
    pub fn restart_mid_stream(&mut self) {
        self.stats.mid_stream_bytes += self.used as u64;
        self.used = 0;
        self.state = State::MidStream;
    }

    const fn in_state(state: State) -> Self {
        let stats = DeframeStats {
            bytes: 0,
            frames: 0,
            damaged: 0,
            too_long: 0,
            wrong_version: 0,
            unknown_type: 0,
            refused_bytes: 0,
            mid_stream_bytes: 0,
            idle_bytes: 0,
        };
        Self { buffer: [0; DEFRAME_BUFFER], used: 0, state, stats, direction: PhantomData }
    }

    /// What went through so far.
    #[must_use]
    pub const fn stats(&self) -> &DeframeStats {
        &self.stats
    }

    /// Takes one byte; returns a message or a fault if this byte settles one.
    ///
    /// # Errors
    /// The fault of the frame refused, if one was.
    pub fn push(&mut self, byte: u8) -> Option<Result<M, FrameFault>> {
        if byte == DELIMITER { self.finish() } else { self.gather(&[byte]).map(Err) }
    }

    /// Takes many bytes and calls `on_frame` for every message and every fault, in order: the
    /// same ones, and the same statistics, as [`Self::push`] gives byte by byte.
    #[inline]
    pub fn push_slice(&mut self, bytes: &[u8], mut on_frame: impl FnMut(Result<M, FrameFault>)) {
        let mut rest = bytes;
        while let Some(at) = find_zero(rest) {
            if let Some(fault) = self.gather(&rest[..at]) {
                on_frame(Err(fault));
            }
            if let Some(result) = self.finish() {
                on_frame(result);
            }
            rest = &rest[at + 1..];
        }
        if let Some(fault) = self.gather(rest) {
            on_frame(Err(fault));
        }
    }

    /// Takes bytes that hold no delimiter.
    #[inline]
    fn gather(&mut self, bytes: &[u8]) -> Option<FrameFault> {
        let count = bytes.len() as u64;
        self.stats.bytes += count;
        match self.state {
            State::MidStream => self.stats.mid_stream_bytes += count,
            State::SkippingRest => self.stats.refused_bytes += count,
            State::Gathering => {
                if let Some(room) = self.buffer.get_mut(self.used..self.used + bytes.len()) {
                    room.copy_from_slice(bytes);
                    self.used += bytes.len();
                } else {
                    self.stats.too_long += 1;
                    self.stats.refused_bytes += self.used as u64 + count;
                    self.used = 0;
                    self.state = State::SkippingRest;
                    return Some(FrameFault::TooLong { limit: DEFRAME_BUFFER });
                }
            }
        }
        None
    }

    /// Takes a delimiter.
    #[inline]
    fn finish(&mut self) -> Option<Result<M, FrameFault>> {
        self.stats.bytes += 1;
        let used = core::mem::take(&mut self.used);
        match core::mem::replace(&mut self.state, State::Gathering) {
            State::MidStream => self.stats.mid_stream_bytes += 1,
            State::SkippingRest => self.stats.refused_bytes += 1,
            State::Gathering if used == 0 => self.stats.idle_bytes += 1,
            State::Gathering => {
                let result = open(&mut self.buffer[..used]);
                self.count(&result, used as u64 + 1);
                return Some(result);
            }
        }
        None
    }

    #[inline]
    fn count(&mut self, result: &Result<M, FrameFault>, bytes: u64) {
        let stats = &mut self.stats;
        match result {
            Ok(_) => {
                stats.frames += 1;
                return;
            }
            Err(FrameFault::WrongVersion { .. }) => stats.wrong_version += 1,
            Err(FrameFault::UnknownType { .. }) => stats.unknown_type += 1,
            Err(FrameFault::TooLong { .. }) => stats.too_long += 1,
            Err(_) => stats.damaged += 1,
        }
        stats.refused_bytes += bytes;
    }
}

/// Takes the byte stuffing out of one frame, delimiter not included, in place; `None` if a length
/// code points past the end.
///
/// A length code stands where a zero stood, and where the next one is, so a frame without full
/// blocks is unstuffed by putting the zeros back: nothing moves. A block is full at 254 bytes
/// (code FF), and a frame shorter than that has none that ends within it. Longer ones, which only a
/// newer version or noise makes, go to the decoder of the `cobs` package; it takes a full block
/// with or without a closing 01 after it, as both conventions are in use.
#[inline]
fn unstuff(encoded: &mut [u8]) -> Option<&[u8]> {
    const FULL_BLOCK: usize = 0xFF;
    if encoded.len() >= FULL_BLOCK {
        let length = cobs::decode_in_place(encoded).ok()?;
        return Some(&encoded[..length]);
    }
    let mut at = 0;
    loop {
        // Counts are mostly small: a run of zeros is a run of codes 01.
        while let Some(four) = encoded.get_mut(at..).and_then(|rest| rest.first_chunk_mut::<4>())
            && *four == [1; 4]
        {
            *four = [0; 4];
            at += 4;
        }
        let Some(code) = encoded.get_mut(at) else { break };
        let step = usize::from(core::mem::take(code));
        if step == 0 {
            return None;
        }
        at += step;
    }
    if at == encoded.len() { encoded.get(1..) } else { None }
}

/// Opens one encoded frame, delimiter not included, in place.
#[inline]
fn open<M: WireMessage>(encoded: &mut [u8]) -> Result<M, FrameFault> {
    let encoded_len = encoded.len();
    let Some(body) = unstuff(encoded) else {
        return Err(FrameFault::BadStuffing { encoded_len });
    };
    let decoded_len = body.len();
    let Some((covered, carried)) = body.split_last_chunk::<CRC_LEN>() else {
        return Err(FrameFault::TooShort { decoded_len });
    };
    let [version, type_id, payload @ ..] = covered else {
        return Err(FrameFault::TooShort { decoded_len });
    };
    let (version, type_id) = (*version, *type_id);
    let (expected, found) = (crc32c(covered), u32::from_le_bytes(*carried));
    if expected != found {
        return Err(FrameFault::BadChecksum { expected, found, decoded_len });
    }
    if !(version::MIN..=version::CURRENT).contains(&version) {
        return Err(FrameFault::WrongVersion { found: version });
    }
    if !M::TYPES.contains(&type_id) {
        return Err(FrameFault::UnknownType { type_id });
    }
    let Some(expected) = exact_payload_len(type_id) else {
        return Err(FrameFault::UnknownType { type_id });
    };
    if payload.len() != expected {
        return Err(FrameFault::WrongLength { type_id, expected, found: payload.len() });
    }
    M::read_payload(type_id, payload).ok_or(FrameFault::BadValue { type_id })
}

const _: () = assert!(HEADER_LEN == 2, "open() takes version and type apart by hand");

/// Place of the first zero. Sixteen bytes are tested at a time without a branch, which compilers
/// turn into one vector step where there is one; the exact place is looked for only in the block
/// that has one.
fn find_zero(bytes: &[u8]) -> Option<usize> {
    let (blocks, tail) = bytes.as_chunks::<16>();
    for (index, block) in blocks.iter().enumerate() {
        if block.iter().fold(false, |any, byte| any | (*byte == 0)) {
            return zero_in_words(block).map(|at| index * 16 + at);
        }
    }
    zero_in_words(tail).map(|at| blocks.len() * 16 + at)
}

/// The same, eight bytes at a time: `x - 1` borrows into the top bit of a byte only where that
/// byte, or one below it, is zero, so the lowest such bit is exact.
fn zero_in_words(bytes: &[u8]) -> Option<usize> {
    const LOW: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    let (words, tail) = bytes.as_chunks::<8>();
    for (index, word) in words.iter().enumerate() {
        let word = u64::from_le_bytes(*word);
        let zeros = word.wrapping_sub(LOW) & !word & HIGH;
        if zeros != 0 {
            return Some(index * 8 + (zeros.trailing_zeros() / 8) as usize);
        }
    }
    tail.iter().position(|byte| *byte == 0).map(|at| words.len() * 8 + at)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the decoder of the `cobs` package: every frame of up to five bytes of few values,
    /// and frames of every length of seeded bytes, low ones mostly so that many of them close.
    #[test]
    fn unstuffs_as_the_cobs_package_does() {
        let check = |frame: &[u8]| {
            let (mut ours, mut theirs) = ([0; DEFRAME_BUFFER], [0; DEFRAME_BUFFER]);
            let (ours, theirs) = (&mut ours[..frame.len()], &mut theirs[..frame.len()]);
            ours.copy_from_slice(frame);
            theirs.copy_from_slice(frame);
            let length = cobs::decode_in_place(theirs).ok();
            assert_eq!(unstuff(ours), length.map(|length| &theirs[..length]), "{frame:?}");
            length.is_some()
        };
        let values = [1, 2, 3, 4, 5, 6, 0x7F, 0xFE, 0xFF];
        for length in 1..=5_u32 {
            for mut number in 0..9_usize.pow(length) {
                let frame: [u8; 5] = core::array::from_fn(|_| {
                    let value = values[number % 9];
                    number /= 9;
                    value
                });
                check(&frame[..length as usize]);
            }
        }
        let mut state = 0x2545_F491_4F6C_DD1D_u64;
        let mut closed = 0;
        for length in (1..=DEFRAME_BUFFER).cycle().take(200_000) {
            let frame: [u8; DEFRAME_BUFFER] = core::array::from_fn(|_| {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                let (low, any) = ((state >> 8) as u8 % 9 + 1, (state >> 16) as u8 | 1);
                if state & 7 == 0 { any } else { low }
            });
            closed += u32::from(check(&frame[..length]));
        }
        assert!(closed > 10_000, "only {closed} frames closed");
    }

    #[test]
    fn finds_the_first_zero_wherever_it_is() {
        for len in 0..40 {
            for first in 0..len {
                for fill in [0x01_u8, 0x7F, 0x80, 0x81, 0xFF] {
                    let mut bytes = [fill; 40];
                    bytes[first] = 0;
                    for second in first..len {
                        bytes[second] = 0;
                        assert_eq!(find_zero(&bytes[..len]), Some(first));
                        bytes[second] = if second == first { 0 } else { 0x01 };
                    }
                    assert_eq!(find_zero(&bytes[..first]), None);
                }
            }
        }
    }
}
