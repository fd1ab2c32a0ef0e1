//! Which epoch a VTG belongs to.
//!
//! VTG carries no time. Between two sentences of one time it is of that epoch. Between two epochs
//! it either ends the one before or begins the one after, and that hangs on the receiver: what
//! shows it is the pause between two bursts of sentences. Where arrivals show no pause (a plain
//! recording, a line without a gap) the stream's beginning decides, unless the one who reads knows
//! better: a receiver is taken to send first what it was first heard to send. Beside RMC, which has
//! a speed and a time, that is too little to go by, and VTG ends its epoch.

use super::sentence::Vtg;

/// A pause has to be so many times the other silence to count: bytes come in chunks of any size.
const PAUSE_RATIO: u64 = 2;
/// Pauses that outweigh one to the contrary.
const VOTES_MAX: i8 = 8;

/// Keeps a VTG until the next time shows where it belongs, and learns the receiver's order.
#[derive(Debug, Clone, Default)]
pub(crate) struct VtgPlace {
    /// The VTG met since the last sentence with a time, and its arrival.
    pub(crate) waiting: Option<(Vtg, u64)>,
    heard_ns: Option<u64>,
    /// Longest silence since the last sentence with a time, or since the VTG that waits.
    silence_ns: u64,
    /// Longest silence from the last position to the VTG that waits; `None` at the beginning.
    before_ns: Option<u64>,
    /// Pauses before a VTG, less those after one.
    votes: i8,
    /// Whether the stream's first VTG came before its first position; `None` before that.
    first: Option<bool>,
    /// The receiver states its speed in RMC too.
    pub(crate) beside_rmc: bool,
    /// Known from elsewhere.
    known: Option<bool>,
}

impl VtgPlace {
    /// What is known from elsewhere: whether VTG begins an epoch.
    pub(crate) fn know(&mut self, begins: bool) {
        self.known = Some(begins);
    }

    /// A sentence of any kind arrived.
    pub(crate) fn heard(&mut self, host_ns: u64) {
        if let Some(before_ns) = self.heard_ns.replace(host_ns) {
            self.silence_ns = self.silence_ns.max(host_ns.saturating_sub(before_ns));
        }
    }

    /// A VTG arrived that has to wait. Of two, the one of all systems is kept; false where one of
    /// that kind waits already.
    pub(crate) fn wait(&mut self, vtg: Vtg, host_ns: u64) -> bool {
        let old = self.waiting.map(|(old, _)| old.talker);
        if old.is_none_or(|old| vtg.talker.is_combined() && !old.is_combined()) {
            self.waiting = Some((vtg, host_ns));
            // What went before the stream's first position is not known.
            self.before_ns = self.first.is_some().then_some(self.silence_ns);
            self.silence_ns = 0;
        }
        old != Some(vtg.talker)
    }

    /// A position without a time arrived: an epoch of no use. True where a VTG is lost with it.
    pub(crate) fn untimed(&mut self) -> bool {
        self.begun();
        self.silence_ns = 0;
        self.waiting.take().is_some()
    }

    /// Notes whether the stream's first VTG came before its first position.
    fn begun(&mut self) {
        self.first.get_or_insert(self.waiting.is_some());
    }

    /// A sentence with a time of the open epoch arrived.
    pub(crate) fn same_epoch(&mut self) -> Option<Vtg> {
        self.silence_ns = 0;
        self.waiting.take().map(|(vtg, _)| vtg)
    }

    /// A sentence with the time of a new epoch arrived: learn from the pauses.
    pub(crate) fn next_epoch(&mut self) {
        self.begun();
        if let Some(before_ns) = self.before_ns.filter(|_| self.waiting.is_some()) {
            if before_ns > PAUSE_RATIO * self.silence_ns {
                self.votes = (self.votes + 1).min(VOTES_MAX);
            } else if self.silence_ns > PAUSE_RATIO * before_ns {
                self.votes = (self.votes - 1).max(-VOTES_MAX);
            }
        }
        self.silence_ns = 0;
    }

    /// Whether a VTG between two epochs begins the later one.
    pub(crate) fn begins(&self) -> bool {
        let shown = match self.votes {
            0 => self.first == Some(true) && !self.beside_rmc,
            votes => votes > 0,
        };
        self.known.unwrap_or(shown)
    }
}
