//! What crosses the wire, from outside.
#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    clippy::print_stdout,
    clippy::excessive_precision,
    missing_docs
)]

mod common;
mod flips;
mod outside;
mod resync;
mod round_trip;
mod spec;
mod v1;
