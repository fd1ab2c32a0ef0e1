//! Passes to values: pooling, budget, agreement, the value to enter.
//!
//! This stage knows nothing of bytes, clocks or files. It takes measured passes and a course
//! length and gives quantities whose budgets can be read off them.

mod channel;
pub mod found;
pub mod further;
pub mod ground;
mod job;
mod job_flags;
mod line;
mod pegs;
pub mod plan;
mod pool;
pub mod rolling;
mod second_opinion;
mod shared_error;
mod sources;
mod suspects;
mod verdict;

pub use channel::{ChannelFigures, PASSES_GOOD};
pub use job::{ClockSummary, Job, PassSummary, Work, WorkOptions, work};
pub use line::{COVERAGE, PassLine};
pub use pool::{Pooled, Scatter, pool};
pub use sources::unchecked_u;
