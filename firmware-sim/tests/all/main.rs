//! The simulated tractor, from outside.
#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    clippy::print_stdout,
    missing_docs,
    clippy::disallowed_methods,
    clippy::disallowed_types
)]

mod counts;
mod determinism;
#[cfg(unix)]
mod ports;
mod receiver;
mod speed;
mod stimuli;
mod test_pin;
