//! The live page: who may do what, what is shown and served, and a whole job by its presses.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

#[path = "page/bytes.rs"]
mod bytes;
#[path = "page/client.rs"]
mod client;
#[path = "page/guarded.rs"]
mod guarded;
#[path = "page/job.rs"]
mod job;
#[path = "page/limits.rs"]
mod limits;
#[path = "page/pace.rs"]
mod pace;
#[path = "page/slip.rs"]
mod slip;
mod support;
