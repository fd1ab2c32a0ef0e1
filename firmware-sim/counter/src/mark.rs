//! Marks: latched at the edge with the counts of that instant, kept until sent.
//!
//! A mark is the one thing that cannot be had again from the next report, so it waits for room
//! in the transmit buffer while everything else is dropped. Each source has a dead time after an
//! accepted mark, against bounce of the button and against a second wheel through the gate.

use heapless::Deque;
use trundle_protocol::message::{CHANNELS, MarkSource};
use trundle_protocol::units::{BoardMicros, Impulses};

/// Marks that can wait to be sent.
pub const MARKS_WAITING: usize = 8;
/// Dead time of a source after its last accepted mark, microseconds.
pub const MARK_DEAD_TIME_US: u64 = 400_000;

/// One mark, as latched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Latched {
    /// Board time of the edge.
    pub at_us: u64,
    /// Marks since boot, this one included.
    pub number: u32,
    /// Button or gate.
    pub source: MarkSource,
    /// Running counts at the edge.
    pub impulses: [Impulses; CHANNELS],
    /// Last accepted edge of each input before the mark.
    pub last_edge_us: [BoardMicros; CHANNELS],
}

/// The marks waiting, and what is needed to accept the next.
#[derive(Clone, Debug, Default)]
pub struct Marks {
    waiting: Deque<Latched, MARKS_WAITING>,
    number: u32,
    last_us: [Option<u64>; 2],
}

/// What became of an edge of the mark input.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkOutcome {
    /// Waits to be sent.
    Latched,
    /// Within the dead time of its source.
    Bounce,
    /// Numbered, but there was no place to keep it.
    Lost,
}

impl Marks {
    /// Takes an edge of a mark input with the counts of that instant.
    pub fn edge(
        &mut self,
        source: MarkSource,
        at_us: u64,
        impulses: [Impulses; CHANNELS],
        last_edge_us: [BoardMicros; CHANNELS],
    ) -> MarkOutcome {
        let last_us = match source {
            MarkSource::Button => &mut self.last_us[0],
            MarkSource::Gate => &mut self.last_us[1],
        };
        if last_us.is_some_and(|last| at_us.saturating_sub(last) < MARK_DEAD_TIME_US) {
            return MarkOutcome::Bounce;
        }
        *last_us = Some(at_us);
        self.number = self.number.wrapping_add(1);
        let latched = Latched { at_us, number: self.number, source, impulses, last_edge_us };
        match self.waiting.push_back(latched) {
            Ok(()) => MarkOutcome::Latched,
            Err(_) => MarkOutcome::Lost,
        }
    }

    /// The oldest mark waiting.
    #[must_use]
    pub fn oldest(&self) -> Option<Latched> {
        self.waiting.front().copied()
    }

    /// Forgets the oldest mark: it was sent.
    pub fn sent(&mut self) {
        self.waiting.pop_front();
    }
}
