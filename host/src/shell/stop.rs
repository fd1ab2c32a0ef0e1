//! The wish to stop: Ctrl-C, a closed window, an order of the system.

use super::exit::{self, Trouble};
use signal_hook::consts::{SIGINT, SIGTERM};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// The signal of a closed window. It is one on Unix alone; elsewhere nobody sends this number.
const SIGHUP: i32 = 1;
/// What a shell adds to the number of the signal that ended a program (POSIX, XCU 2.8.2 asks for
/// more than 128; all shells in use add 128).
const BY_SIGNAL: i32 = 128;

/// What is known of signals.
struct Notes {
    /// Number of the signal that came last; 0 before any.
    signal: Arc<AtomicUsize>,
    /// The capture is closed: the next signal ends the program at once.
    closed: Arc<AtomicBool>,
    /// A closed terminal was to be ignored when the program was started, as `nohup` does it.
    stays: bool,
}

static NOTES: OnceLock<Notes> = OnceLock::new();

/// From here on Ctrl-C and its like only leave a note, so that the capture can be closed in order.
/// To be called at the start of a command that records; a second call changes nothing. Who started
/// the program with SIGHUP ignored wants it to outlive the terminal: it stays ignored.
///
/// # Errors
/// [`Trouble`] of code 70 when the system refuses.
pub fn listen() -> Result<(), Trouble> {
    if NOTES.get().is_some() {
        return Ok(());
    }
    let stays = ignored_from_the_start(SIGHUP);
    let Notes { signal: note, closed, .. } =
        NOTES.get_or_init(|| Notes { signal: Arc::default(), closed: Arc::default(), stays });
    let refused = |error: std::io::Error| {
        Trouble::internal(format!("Ctrl-C cannot be listened for ({error})."))
    };
    let hangup = (cfg!(unix) && !stays).then_some(SIGHUP);
    for signal in [SIGINT, SIGTERM].into_iter().chain(hangup) {
        let number = usize::try_from(signal).unwrap_or(1);
        let at_once = BY_SIGNAL + signal;
        signal_hook::flag::register_conditional_shutdown(signal, at_once, Arc::clone(closed))
            .map_err(refused)?;
        signal_hook::flag::register_usize(signal, Arc::clone(note), number).map_err(refused)?;
    }
    // A limit on the size of files would kill the program at the write that meets it; listened
    // for, that write fails instead, and is reported like a full disk.
    #[cfg(unix)]
    signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::default()).map_err(refused)?;
    Ok(())
}

/// Whether this signal is ignored. Only Linux says so without unsafe code: elsewhere none is.
fn ignored_from_the_start(signal: i32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    is_ignored(&status, signal)
}

/// The same in the words of proc_pid_status(5): bit n - 1 of `SigIgn` stands for signal n.
fn is_ignored(status: &str, signal: i32) -> bool {
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let mask = mask.and_then(|hex| u64::from_str_radix(hex.trim(), 16).ok());
    mask.is_some_and(|mask| mask & (1 << (signal - 1)) != 0)
}

fn signal() -> usize {
    NOTES.get().map_or(0, |notes| notes.signal.load(Ordering::SeqCst))
}

fn note(signal: i32) {
    if let Some(notes) = NOTES.get() {
        notes.signal.store(usize::try_from(signal).unwrap_or(1), Ordering::SeqCst);
    }
}

/// The key for it was pressed where the terminal sends no signal.
pub fn ask() {
    note(SIGINT);
}

/// The terminal was seen to be closed, signal or not: the program is to stop, unless it was
/// started so that it outlives its terminal. Returns whether it stops.
pub fn terminal_closed() -> bool {
    if !outlives_terminal() {
        note(SIGHUP);
    }
    wanted()
}

/// True for a program that was started to go on without its terminal and without anybody who
/// types, as `nohup` does it.
#[must_use]
pub fn outlives_terminal() -> bool {
    NOTES.get().is_some_and(|notes| notes.stays)
}

/// The capture is closed and on the disk: from here on a signal ends the program at once, however
/// long a calculation still takes and whoever does not take its words.
pub fn capture_is_closed() {
    if let Some(notes) = NOTES.get() {
        notes.closed.store(true, Ordering::SeqCst);
    }
}

/// A capture is being written: a signal is noted, so that it can be closed in order. A program may
/// record one after the other.
pub fn capture_is_open() {
    if let Some(notes) = NOTES.get() {
        notes.closed.store(false, Ordering::SeqCst);
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines as in proc_pid_status(5).
    #[test]
    fn what_is_ignored_is_read_from_the_mask() {
        let status = |mask: &str| format!("SigBlk:\t0000000000000001\nSigIgn:\t{mask}\n");
        assert!(is_ignored(&status("0000000000000001"), SIGHUP));
        assert!(!is_ignored(&status("0000000000001006"), SIGHUP));
        assert!(is_ignored(&status("0000000000001006"), SIGINT));
        assert!(!is_ignored("", SIGHUP));
    }
}
