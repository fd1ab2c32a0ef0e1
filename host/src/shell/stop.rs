//! The wish to stop: Ctrl-C, a closed window, an order of the system.

use super::exit::Trouble;
use std::sync::atomic::{AtomicBool, Ordering};

static WANTED: AtomicBool = AtomicBool::new(false);

/// From here on Ctrl-C and its like only set a flag, so that the capture can be closed in order.
/// To be called once, at the start of a command that records.
///
/// # Errors
/// [`Trouble`] of code 70 when the system refuses.
pub fn listen() -> Result<(), Trouble> {
    ctrlc::set_handler(|| WANTED.store(true, Ordering::SeqCst)).or_else(|error| match error {
        // Set by an earlier command of the same process: it sets the same flag.
        ctrlc::Error::MultipleHandlers => Ok(()),
        error => Err(Trouble::internal(format!("Ctrl-C cannot be listened for ({error})."))),
    })
}

/// True once somebody wants the program to stop.
#[must_use]
pub fn wanted() -> bool {
    WANTED.load(Ordering::SeqCst)
}
