//! The wish to stop: Ctrl-C, a closed window, an order of the system.

use super::exit::{self, Trouble};
use signal_hook::consts::{SIGINT, SIGTERM};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// What is listened for. A closed window is a signal on Unix alone.
#[cfg(unix)]
const LISTENED: &[i32] = &[SIGINT, SIGTERM, signal_hook::consts::SIGHUP];
/// What is listened for. A closed window is a signal on Unix alone.
#[cfg(not(unix))]
const LISTENED: &[i32] = &[SIGINT, SIGTERM];

/// Number of the signal that came last; 0 before any.
static SIGNAL: OnceLock<Arc<AtomicUsize>> = OnceLock::new();

/// From here on Ctrl-C and its like only leave a note, so that the capture can be closed in order.
/// To be called at the start of a command that records; a second call changes nothing.
///
/// # Errors
/// [`Trouble`] of code 70 when the system refuses.
pub fn listen() -> Result<(), Trouble> {
    if SIGNAL.get().is_some() {
        return Ok(());
    }
    let note = Arc::clone(SIGNAL.get_or_init(|| Arc::new(AtomicUsize::new(0))));
    let refused = |error: std::io::Error| {
        Trouble::internal(format!("Ctrl-C cannot be listened for ({error})."))
    };
    for &signal in LISTENED {
        let number = usize::try_from(signal).unwrap_or(1);
        signal_hook::flag::register_usize(signal, Arc::clone(&note), number).map_err(refused)?;
    }
    // A limit on the size of files would kill the program at the write that meets it; listened
    // for, that write fails instead, and is reported like a full disk.
    #[cfg(unix)]
    signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::default()).map_err(refused)?;
    Ok(())
}

fn signal() -> usize {
    SIGNAL.get().map_or(0, |note| note.load(Ordering::SeqCst))
}

/// The key for it was pressed where the terminal sends no signal.
pub fn ask() {
    if let Some(note) = SIGNAL.get() {
        note.store(usize::try_from(SIGINT).unwrap_or(2), Ordering::SeqCst);
    }
}

/// True once somebody wants the program to stop.
#[must_use]
pub fn wanted() -> bool {
    signal() != 0
}

/// Exit code for the signal that came: 130 for Ctrl-C, 143 for an order of the system.
#[must_use]
pub fn code() -> u8 {
    if signal() == usize::try_from(SIGINT).unwrap_or(2) {
        exit::INTERRUPTED
    } else {
        exit::TERMINATED
    }
}
