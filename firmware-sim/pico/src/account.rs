//! What the board needed so far, for whoever looks into its memory: `README.md` has the table.
//! Nothing in here changes what the board does.

use core::sync::atomic::{AtomicU32, Ordering};

/// Numbers that a test reads by the name of their symbol.
#[repr(C)]
pub struct Account {
    /// Deepest stack, bytes.
    pub stack_bytes: AtomicU32,
    /// Most edges that waited at once.
    pub waiting_most: AtomicU32,
    /// Longest until the main loop took an edge, microseconds.
    pub late_us: AtomicU32,
    /// Times that edges were missed.
    pub missed: AtomicU32,
    /// Time asleep, microseconds.
    pub asleep_us: AtomicU32,
    /// Times round the main loop.
    pub rounds: AtomicU32,
}

/// Written by the main loop alone.
#[used]
#[unsafe(no_mangle)]
pub static ACCOUNT: Account = Account {
    stack_bytes: AtomicU32::new(0),
    waiting_most: AtomicU32::new(0),
    late_us: AtomicU32::new(0),
    missed: AtomicU32::new(0),
    asleep_us: AtomicU32::new(0),
    rounds: AtomicU32::new(0),
};

/// Adds to a number of the account.
pub fn add(to: &AtomicU32, value: u32) {
    to.store(to.load(Ordering::Relaxed).wrapping_add(value), Ordering::Relaxed);
}

/// Raises a number of the account.
pub fn raise(most: &AtomicU32, value: u32) {
    if value > most.load(Ordering::Relaxed) {
        most.store(value, Ordering::Relaxed);
    }
}
