//! The bench's line: how a simulated tractor plays to a firmware image.
//!
//! An image under an emulated processor has no wires. The bench takes their place: over a second
//! serial line it sends one [`Start`], then one [`Timed`] stimulus after another, in order of
//! time. The image's clock stands still while it waits for the next of them, so that no edge ever
//! comes late, however slow the computer is. Each [`Stimulus::RunTo`] is answered by its number
//! when its time has come, each [`Stimulus::Account`] by an [`Account`].
//!
//! The host knows nothing of this line; it is no part of a real board.
#![no_std]

mod account;
mod start;

pub use account::Account;
pub use start::Start;

use trundle_protocol::message::MarkSource;
use trundle_protocol::units::Channel;

/// What happens to the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stimulus {
    /// Nothing: the board may run up to this time, and says when it has.
    RunTo,
    /// An edge of an impulse input.
    Edge(Channel),
    /// An edge of a mark input.
    Mark(MarkSource),
    /// An edge of the receiver's pulse per second.
    Pps,
    /// The implement-in-work input changes to this level.
    Working(bool),
    /// The image is to tell what it needed so far.
    Account,
}

/// Codes on the line: each stimulus at its place.
const CODES: [Stimulus; 10] = [
    Stimulus::RunTo,
    Stimulus::Edge(Channel::Wheel),
    Stimulus::Edge(Channel::Radar),
    Stimulus::Edge(Channel::Pto),
    Stimulus::Mark(MarkSource::Button),
    Stimulus::Mark(MarkSource::Gate),
    Stimulus::Pps,
    Stimulus::Working(false),
    Stimulus::Working(true),
    Stimulus::Account,
];

/// One stimulus and its time.
///
/// | offset | bytes | field |
/// |---|---|---|
/// | 0 | 4 | board time since the start, microseconds, lowest byte first; wraps |
/// | 4 | 1 | code |
/// | 5 | 1 | number, from 0, one up from record to record; wraps |
/// | 6 | 1 | check |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed {
    /// Low 32 bits of the board's microseconds since its start.
    pub at_us: u32,
    /// What happens.
    pub stimulus: Stimulus,
    /// Its number; a gap tells of a record lost on the line.
    pub number: u8,
}

impl Timed {
    /// Length on the line, bytes.
    pub const BYTES: usize = 7;

    /// As sent.
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let code = CODES.iter().position(|known| *known == self.stimulus).unwrap_or(0);
        let mut out = [0; Self::BYTES];
        out[..4].copy_from_slice(&self.at_us.to_le_bytes());
        // Ten codes.
        out[4] = code as u8;
        out[5] = self.number;
        seal(&mut out);
        out
    }

    /// As received; `None` if it is damaged.
    #[must_use]
    pub fn decode(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        is_sealed(bytes).then_some(())?;
        let stimulus = *CODES.get(usize::from(bytes[4]))?;
        Some(Self { at_us: word(bytes, 0), stimulus, number: bytes[5] })
    }
}

/// Four bytes as a number, lowest first; the records are longer than any offset asked for.
fn word(bytes: &[u8], at: usize) -> u32 {
    bytes[at..].iter().take(4).rev().fold(0, |sum, &byte| sum << 8 | u32::from(byte))
}

/// The last byte of a record makes up a check over those before it. It is there to tell a bug
/// from a result, not against noise: the line is a pipe inside one computer.
fn check(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0x5A, |sum: u8, &byte| sum.rotate_left(1) ^ byte)
}

fn seal(bytes: &mut [u8]) {
    if let Some((last, before)) = bytes.split_last_mut() {
        *last = check(before);
    }
}

fn is_sealed(bytes: &[u8]) -> bool {
    bytes.split_last().is_some_and(|(last, before)| *last == check(before))
}
