//! Passes to figures: pooling, budget, agreement, the figure to enter.
//!
//! This stage knows nothing of bytes, clocks or files. It takes measured passes and a course
//! length and gives quantities whose budgets can be read off them.

mod channel;
pub mod found;
mod job;
mod pegs;
pub mod plan;
mod pool;
pub mod rolling;
mod second_opinion;
mod suspects;
mod verdict;

pub use channel::{COVERAGE, ChannelFigures, PassLine};
pub use job::{ClockSummary, Job, PassSummary, Work, WorkOptions, work};
pub use pool::{PassValue, Pooled, Scatter, pool};
