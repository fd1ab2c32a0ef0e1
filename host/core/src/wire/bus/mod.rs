//! The implement bus, listened to: an adapter's bytes to frames, frames to speeds and distances.
//!
//! ISO 11783: CAN 2.0B at 250 kbit/s, in parameter groups that every control unit sends
//! unasked. Nothing here can make a frame that would go onto a bus: [`setup`] knows the few
//! commands that an adapter is given, and there is no other.
//!
//! The adapter's text carries no checksum, so a damaged digit makes another sound frame; what a
//! frame says is believed only as far as its neighbours bear it out, see [`reader`].

pub mod adapter;
pub mod frame;
pub mod group;
pub mod log;
pub mod message;
pub mod reader;
pub mod setup;
mod steady;
