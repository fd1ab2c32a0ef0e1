//! The intervals of the next edges of one input, for judging the sensor.
//!
//! Every edge counts here, refused ones too: bounce is what one wants to see. Intervals wait in a
//! small buffer until a message is full and there is room to send it. If they come faster than
//! that, the train ends short rather than with a gap in it: a gap would look like a missing
//! tooth. Nothing is reported of a train that had no interval left to send; the host gives up on it
//! by the clock.

use heapless::Deque;
use trundle_protocol::message::{EdgeTrain, Stamp, TRAIN_INTERVALS};
use trundle_protocol::units::{BoardMicros, Channel, Fixed16, Fixed32};

/// Intervals that can wait: three messages.
const WAITING: usize = 3 * TRAIN_INTERVALS;
/// A train on an input without edges ends after this time, microseconds, so that the next request
/// is not refused for ever.
pub const TRAIN_PATIENCE_US: u64 = 5_000_000;

/// The train being taken, if any.
#[derive(Clone, Debug, Default)]
pub struct Train {
    active: Option<Active>,
    waiting: Deque<u32, WAITING>,
}

#[derive(Clone, Copy, Debug)]
struct Active {
    channel: Channel,
    request: u8,
    /// Intervals still to be captured; 0: only sending is left.
    wanted: u16,
    sent: u16,
    /// The edge before the first interval waiting; `None` before the first edge.
    start_us: Option<u64>,
    last_edge_us: u64,
    /// Last edge or, before it, the request.
    alive_us: u64,
}

impl Train {
    /// Begins a train; false if one is still under way.
    pub fn begin(&mut self, channel: Channel, request: u8, intervals: u16, now_us: u64) -> bool {
        if self.active.is_some() {
            return false;
        }
        self.waiting.clear();
        self.active = Some(Active {
            channel,
            request,
            wanted: intervals,
            sent: 0,
            start_us: None,
            last_edge_us: 0,
            alive_us: now_us,
        });
        true
    }

    /// Takes an edge of any input.
    pub fn edge(&mut self, channel: Channel, at_us: u64) {
        let Some(active) = self.active.as_mut() else { return };
        if active.channel != channel || active.wanted == 0 {
            return;
        }
        active.alive_us = at_us;
        if active.start_us.is_none() {
            active.start_us = Some(at_us);
        } else {
            let interval = at_us.saturating_sub(active.last_edge_us);
            let interval = u32::try_from(interval).unwrap_or(u32::MAX);
            match self.waiting.push_back(interval) {
                Ok(()) => active.wanted -= 1,
                Err(_) => active.wanted = 0,
            }
        }
        active.last_edge_us = at_us;
    }

    /// Ends a train that has had no edge for [`TRAIN_PATIENCE_US`].
    pub fn lose_patience(&mut self, now_us: u64) {
        if let Some(active) = self.active.as_mut()
            && active.wanted > 0
            && now_us.saturating_sub(active.alive_us) >= TRAIN_PATIENCE_US
        {
            active.wanted = 0;
            if self.waiting.is_empty() {
                self.active = None;
            }
        }
    }

    /// When [`Self::lose_patience`] would end the train.
    #[must_use]
    pub fn patience_ends_us(&self) -> Option<u64> {
        let active = self.active.filter(|active| active.wanted > 0)?;
        Some(active.alive_us + TRAIN_PATIENCE_US)
    }

    /// A message is full, or the last one is waiting.
    #[must_use]
    pub fn has_message(&self) -> bool {
        self.active.is_some_and(|active| {
            self.waiting.len() >= TRAIN_INTERVALS || active.wanted == 0 && !self.waiting.is_empty()
        })
    }

    /// Takes the next message out; `None` if there is none.
    pub fn take_message(&mut self, stamp: Stamp) -> Option<EdgeTrain> {
        if !self.has_message() {
            return None;
        }
        let active = self.active.as_mut()?;
        let mut message = EdgeTrain {
            stamp,
            channel: active.channel,
            request: active.request,
            first: Fixed16(active.sent),
            used: 0,
            last: false,
            start_us: BoardMicros(active.start_us?),
            intervals_us: [Fixed32(0); TRAIN_INTERVALS],
        };
        let mut taken_us = 0;
        for place in &mut message.intervals_us {
            let Some(interval) = self.waiting.pop_front() else { break };
            *place = Fixed32(interval);
            taken_us += u64::from(interval);
            message.used += 1;
        }
        active.start_us = active.start_us.map(|start| start + taken_us);
        active.sent += u16::from(message.used);
        if active.wanted == 0 && self.waiting.is_empty() {
            message.last = true;
            self.active = None;
        }
        Some(message)
    }
}
