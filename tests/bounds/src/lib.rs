//! What every reader of bytes from outside must keep to, whatever the bytes: no panic, nothing
//! accepted that cannot be, nothing lost uncounted, the same on any chunking.
//!
//! Each takes one input and tells whether the reader took something of it. Seeded damage
//! (`mutate`) and guided search (`tests/fuzz`) share them.

pub mod bus;
pub mod packed;
pub mod requests;
pub mod streams;
pub mod sums;
pub mod texts;
