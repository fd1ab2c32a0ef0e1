//! Whether somebody reads what is sent, and what to do when that changes.
//!
//! A serial function on USB takes its last packet to the grave: it lies there until somebody
//! reads, and would then be the first that he gets, minutes old. So what waits is thrown away as
//! soon as nobody reads, and each new reader is greeted by a zero, which ends any frame that was
//! cut. While nobody reads there is no room: reports are dropped and counted, marks wait.

/// A packet that nobody has taken for this long will be taken by nobody, microseconds. A host
/// that reads takes one each millisecond.
const PATIENCE_US: u32 = 500_000;

/// What the line shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// The host has set the function up, and the bus is not suspended.
    pub linked: bool,
    /// The host says that a terminal is ready (DTR). Some systems never say so.
    pub ready: bool,
    /// Bytes came from the host since the last look.
    pub heard: bool,
    /// The endpoint refused the last packet: another lies in it.
    pub full: bool,
    /// A packet found its place since the last look, so the one before it was taken.
    pub moved: bool,
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Duty {
    /// Send what waits.
    Send,
    /// Give a zero to the endpoint; once it has a place for it, call [`Presence::greeted`].
    Greet,
    /// Throw away what waits, also in the endpoint.
    Forget,
    /// Nothing.
    Wait,
}

/// Somebody reads, or not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Presence {
    reads: bool,
    /// Somebody spoke, though no terminal was said to be ready.
    spoke: bool,
    was_ready: bool,
    /// Since when a reader has left a packet in the endpoint, by the timer.
    full_since_us: Option<u32>,
}

impl Presence {
    /// Somebody reads.
    #[must_use]
    pub const fn reads(&self) -> bool {
        self.reads
    }

    /// A look at the line, at a reading of the timer.
    pub fn look(&mut self, seen: Seen, timer_us: u32) -> Duty {
        let left = !seen.linked || self.was_ready && !seen.ready;
        self.was_ready = seen.ready && seen.linked;
        self.spoke = !left && (self.spoke || seen.heard);
        // Where more waits than one packet holds, the endpoint is full at every look.
        let before_us = if seen.moved { None } else { self.full_since_us };
        let since_us = if seen.full && self.reads { before_us.or(Some(timer_us)) } else { None };
        self.full_since_us = since_us;
        let stuck = since_us.is_some_and(|since| timer_us.wrapping_sub(since) >= PATIENCE_US);
        match (self.reads, !left && (seen.ready || self.spoke)) {
            (true, true) if !stuck => Duty::Send,
            (true, _) => {
                self.reads = false;
                Duty::Forget
            }
            (false, true) => Duty::Greet,
            (false, false) => Duty::Wait,
        }
    }

    /// The endpoint has the zero: what lay there is gone, and whoever reads this reads on.
    pub fn greeted(&mut self) {
        self.reads = true;
    }
}
