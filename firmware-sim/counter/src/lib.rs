//! The counter core of the board: edges in, absolute counts and frames out.
//!
//! | module | duty |
//! |---|---|
//! | [`widen`] | 32-bit readings of a timer or a hardware counter, made 64 bits wide |
//! | [`channel`] | one impulse input: running count, least edge interval, refused edges |
//! | [`train`] | the intervals of the next edges of one input, when asked for |
//! | [`mark`] | marks, latched with their counts, kept until sent |
//! | [`schedule`] | when the next report is due |
//! | [`command`] | the one handler of commands |
//! | [`counter`] | all of these together: events in, frames out |
//! | [`test_signal`] | the known signal by which a board is checked on the bench, as data |
//!
//! No registers, no clock, no heap: time comes in with every event, and [`Counter::poll_at_us`]
//! says when to come back. The same code runs on the board and in the simulator.
//!
//! What is promised: a count only ever goes up, and only a reset starts it again; no command and
//! no want of room in the transmit buffer touches it; whatever is refused or dropped is counted.
#![no_std]

pub mod channel;
pub mod command;
pub mod config;
pub mod counter;
pub mod mark;
pub mod schedule;
pub mod test_signal;
pub mod train;
pub mod widen;

pub use config::{Board, Config, FIRMWARE};
pub use counter::Counter;
