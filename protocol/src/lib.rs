//! What crosses the wire.
#![no_std]
pub mod message;
pub mod units;
