//! What a whole capture shows, passes or none: each part from one clock to its own result.
//!
//! [`ride`] lays the trail of a session on one clock; the others stand on it and do not know of
//! each other, but that [`bus`] takes a stream of the bus through [`slip`].

pub mod bench;
pub mod bus;
pub mod mount;
pub mod proof;
pub mod pto;
pub mod ride;
pub mod sensors;
pub mod slip;
pub mod speeds;
