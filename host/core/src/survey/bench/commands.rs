//! What is asked of the board and of the person, so that the capture alone shows it.
//!
//! The board's answers carry the request number of the command, so each command of this check has
//! a number of its own. What the person is asked is a note of the capture.

use super::Input;
use trundle_counter::test_signal::FILTER_US;
use trundle_protocol::message::{AskEdgeTrain, Identify, SetMinEdgeInterval, ToBoard};
use trundle_protocol::units::{Channel, Fixed16, Fixed32};

/// Request number of "stop the signal".
pub const STOP: u8 = 1;
/// Request number of "give the signal".
pub const GIVE: u8 = 2;
/// Request number of the edge times in the slow part.
pub const SLOW_TIMES: u8 = 3;
/// Request number of the edge times in the fastest part.
pub const FASTEST_TIMES: u8 = 4;
/// Request number of "input filter off", plus the place of the input.
pub const FILTER_OFF: u8 = 0x10;
/// Request number of "input filter on", plus the place of the input.
pub const FILTER_ON: u8 = 0x20;
/// Request number of "input filter as before", plus the place of the input.
pub const FILTER_BACK: u8 = 0x30;

/// Intervals asked for in the slow part: most of its second, and done before it ends.
pub const SLOW_INTERVALS: u16 = 400;
/// Intervals asked for in the fastest part: so many the board keeps while it waits for its line.
pub const FASTEST_INTERVALS: u16 = 40;
/// The board gives the signal at most so long, seconds.
const SIGNAL_S: u8 = 60;

const PLAN_NOTE: &str = "bench check of ";
const ASK_NOTE: &str = "bench check: bridge to ";

/// Stop the signal.
#[must_use]
pub const fn stop() -> ToBoard {
    ToBoard::Identify(Identify { request: STOP, seconds: 0 })
}

/// Give the signal from its beginning, if it is stopped.
#[must_use]
pub const fn give() -> ToBoard {
    ToBoard::Identify(Identify { request: GIVE, seconds: SIGNAL_S })
}

/// Send edge times of the slow part.
#[must_use]
pub const fn slow_times(channel: Channel) -> ToBoard {
    let intervals = Fixed16(SLOW_INTERVALS);
    ToBoard::AskEdgeTrain(AskEdgeTrain { request: SLOW_TIMES, channel, intervals })
}

/// Send edge times of the fastest part.
#[must_use]
pub const fn fastest_times(channel: Channel) -> ToBoard {
    let intervals = Fixed16(FASTEST_INTERVALS);
    ToBoard::AskEdgeTrain(AskEdgeTrain { request: FASTEST_TIMES, channel, intervals })
}

/// Input filter off: the fastest part is faster than most filters.
#[must_use]
pub const fn filter_off(channel: Channel) -> ToBoard {
    filter(FILTER_OFF, channel, 0)
}

/// Input filter on, against the part that bounces.
#[must_use]
pub const fn filter_on(channel: Channel) -> ToBoard {
    filter(FILTER_ON, channel, FILTER_US)
}

/// Input filter as it was, microseconds.
#[must_use]
pub const fn filter_back(channel: Channel, interval_us: u32) -> ToBoard {
    filter(FILTER_BACK, channel, interval_us)
}

const fn filter(group: u8, channel: Channel, interval_us: u32) -> ToBoard {
    let request = group + channel.index() as u8;
    ToBoard::SetMinEdgeInterval(SetMinEdgeInterval {
        request,
        channel,
        interval_us: Fixed32(interval_us),
    })
}

/// The note of what is to be bridged in this check.
#[must_use]
pub fn plan_note(inputs: &[Input]) -> String {
    let words: Vec<&str> = inputs.iter().map(|input| input.word()).collect();
    format!("{PLAN_NOTE}{}", words.join(" "))
}

/// The note that an input is to be bridged from now on.
#[must_use]
pub fn ask_note(input: Input) -> String {
    format!("{ASK_NOTE}{}", input.word())
}

/// What the notes say was to be bridged: the last plan among them.
pub(super) fn planned(notes: &[(u64, String)]) -> Vec<Input> {
    let plan = notes.iter().rev().find_map(|(_, note)| note.strip_prefix(PLAN_NOTE));
    let mut inputs: Vec<Input> =
        plan.unwrap_or_default().split(' ').filter_map(Input::from_word).collect();
    inputs.dedup();
    inputs
}

/// The input that a note asks for.
pub(super) fn asked(note: &str) -> Option<Input> {
    note.strip_prefix(ASK_NOTE).and_then(Input::from_word)
}
