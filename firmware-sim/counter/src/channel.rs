//! One impulse input: its running count, its least edge interval, its refused edges.
//!
//! The filter is a dead time after each *accepted* edge. Contact bounce is shorter than the dead
//! time and is refused; it does not extend the dead time, so that a noisy input cannot hold the
//! count down for ever. Each refused edge is counted, because a filter that hides its work makes
//! a worn sensor look like a good one.

use crate::widen::Widen;
use trundle_protocol::message::ChannelCounts;
use trundle_protocol::units::{BoardMicros, Fixed32, Impulses};

/// The state of one input.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ChannelState {
    impulses: u64,
    last_edge_us: Option<u64>,
    rejected: u32,
    /// Dead time after an accepted edge, microseconds; 0: none.
    pub min_edge_interval_us: u32,
    hardware: Option<Widen>,
}

impl ChannelState {
    /// With a dead time, microseconds.
    #[must_use]
    pub const fn new(min_edge_interval_us: u32) -> Self {
        Self { impulses: 0, last_edge_us: None, rejected: 0, min_edge_interval_us, hardware: None }
    }

    /// Takes one edge; true if it counted.
    ///
    /// An edge stamped before the last accepted one counts as simultaneous with it.
    pub fn edge(&mut self, at_us: u64) -> bool {
        if let Some(last) = self.last_edge_us
            && at_us.saturating_sub(last) < u64::from(self.min_edge_interval_us)
        {
            self.rejected = self.rejected.wrapping_add(1);
            return false;
        }
        self.impulses += 1;
        self.last_edge_us = Some(at_us.max(self.last_edge_us.unwrap_or(0)));
        true
    }

    /// Takes a reading of a hardware counter on this input.
    ///
    /// The first reading is the origin and adds nothing: a counter may stand anywhere after a
    /// reset. A reading that goes back (taken before the last one, served after it) adds nothing.
    /// `at_us` becomes the time of the last edge if the count moved: exact if the hardware
    /// latches the edge, else late by up to the time between two readings.
    pub fn hardware_count(&mut self, raw: u32, at_us: u64) {
        let wide = self.hardware.get_or_insert(Widen::new(raw));
        let before = wide.newest();
        wide.widen(raw);
        let moved = wide.newest() - before;
        if moved > 0 {
            self.impulses += moved;
            self.last_edge_us = Some(at_us.max(self.last_edge_us.unwrap_or(0)));
        }
    }

    /// Impulses accepted since boot.
    #[must_use]
    pub const fn impulses(&self) -> u64 {
        self.impulses
    }

    /// Board time of the last accepted edge; 0 before the first.
    #[must_use]
    pub fn last_edge(&self) -> BoardMicros {
        BoardMicros(self.last_edge_us.unwrap_or(0))
    }

    /// As sent.
    #[must_use]
    pub fn report(&self) -> ChannelCounts {
        ChannelCounts {
            impulses: Impulses(self.impulses),
            last_edge_us: self.last_edge(),
            rejected: Fixed32(self.rejected),
        }
    }
}
