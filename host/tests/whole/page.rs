//! The live page: who may do what, what is shown and served, and a whole job by its presses.

mod bus;
mod bytes;
pub mod client;
mod guarded;
mod job;
mod limits;
mod opened;
mod slip;
mod strangers;
