//! The bench's line: how a simulated tractor plays to a firmware image.
//!
//! An image under an emulated processor has wires, but nobody at their ends. The bench is: it
//! sends one [`Start`], then one [`Timed`] stimulus after another, in order of time, to the
//! harness in `firmware-sim/emulator`, which makes levels at pins of them. Time in the emulator
//! stands still while the next of them is waited for, so that no edge ever comes late, however
//! slow the computer is. Each [`Stimulus::RunTo`] is answered by its number when its time has
//! come, each [`Stimulus::Account`] by an [`Account`].
//!
//! Neither host nor firmware knows anything of this line; it is no part of a real board.
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
    /// Nothing: the board may run up to this time, and the harness says when it has.
    RunTo,
    /// An impulse at an input; its edge comes first.
    Edge(Channel),
    /// A press of a mark button.
    Mark(MarkSource),
    /// The receiver's pulse per second.
    Pps,
    /// The implement-in-work input changes to this level.
    Working(bool),
    /// The harness is to tell what the image needed so far.
    Account,
    /// The USB cable is pulled out, or put in. The board keeps its supply.
    Plugged(bool),
    /// The host's program closes the port, or opens it.
    PortOpen(bool),
    /// The supply is gone for a moment.
    PowerCut,
    /// The reset pin.
    ResetPin,
    /// The processor stands still, as after a fault, until the watchdog restarts it.
    Hang,
    /// A wire from the pin of the test signal to an input, in the place of any before it.
    Bridge(Bridge),
    /// The host has sent: in the place of the time stands how many bytes in all since the start.
    /// They come on a line of their own and are waited for, so that they always come at the same
    /// time.
    Told,
}

/// What the pin of the test signal is bridged to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bridge {
    /// Nothing.
    Open,
    /// An impulse input.
    Impulses(Channel),
    /// A mark input.
    Mark(MarkSource),
    /// The input of the pulse per second.
    Pps,
    /// The implement-in-work input.
    Working,
}

/// Codes on the line: each stimulus at its place.
const CODES: [Stimulus; 26] = [
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
    Stimulus::Plugged(false),
    Stimulus::Plugged(true),
    Stimulus::PortOpen(false),
    Stimulus::PortOpen(true),
    Stimulus::PowerCut,
    Stimulus::ResetPin,
    Stimulus::Hang,
    Stimulus::Bridge(Bridge::Open),
    Stimulus::Bridge(Bridge::Impulses(Channel::Wheel)),
    Stimulus::Bridge(Bridge::Impulses(Channel::Radar)),
    Stimulus::Bridge(Bridge::Impulses(Channel::Pto)),
    Stimulus::Bridge(Bridge::Mark(MarkSource::Button)),
    Stimulus::Bridge(Bridge::Mark(MarkSource::Gate)),
    Stimulus::Bridge(Bridge::Pps),
    Stimulus::Bridge(Bridge::Working),
    Stimulus::Told,
];

/// One stimulus and its time.
///
/// | offset | bytes | field |
/// |---|---|---|
/// | 0 | 8 | time since the start, nanoseconds, lowest byte first |
/// | 8 | 1 | code |
/// | 9 | 1 | number, from 0, one up from record to record; wraps |
/// | 10 | 1 | check |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed {
    /// Nanoseconds since the start; restarts of the board do not end them.
    pub at_ns: u64,
    /// What happens.
    pub stimulus: Stimulus,
    /// Its number; a gap tells of a record lost on the line.
    pub number: u8,
}

impl Timed {
    /// Length on the line, bytes.
    pub const BYTES: usize = 11;

    /// As sent.
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let code = CODES.iter().position(|known| *known == self.stimulus).unwrap_or(0);
        let mut out = [0; Self::BYTES];
        out[..8].copy_from_slice(&self.at_ns.to_le_bytes());
        // A few dozen codes.
        out[8] = code as u8;
        out[9] = self.number;
        seal(&mut out);
        out
    }

    /// As received; `None` if it is damaged.
    #[must_use]
    pub fn decode(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        is_sealed(bytes).then_some(())?;
        let stimulus = *CODES.get(usize::from(bytes[8]))?;
        Some(Self { at_ns: long(bytes, 0), stimulus, number: bytes[9] })
    }
}

/// Four bytes as a number, lowest first; the records are longer than any offset asked for.
fn word(bytes: &[u8], at: usize) -> u32 {
    bytes[at..].iter().take(4).rev().fold(0, |sum, &byte| sum << 8 | u32::from(byte))
}

/// Eight bytes as a number, lowest first.
fn long(bytes: &[u8], at: usize) -> u64 {
    u64::from(word(bytes, at + 4)) << 32 | u64::from(word(bytes, at))
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
