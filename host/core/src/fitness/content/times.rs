//! The times in a receiver's sentences: how often, and over how long.

use crate::wire::fields::TimeOfDay;
use crate::wire::fix::Quality;
use crate::wire::sentence::Sentence;

/// UTC of the sentences that have one: how often, and over how long.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Times {
    first_ns: Option<u64>,
    last: Option<TimeOfDay>,
    pub(super) epochs: u64,
    pub(super) bytes_at_first: u64,
    pub(super) bytes_at_last: u64,
}

impl Times {
    pub(super) fn note(&mut self, time: TimeOfDay, bytes: u64) {
        match self.last {
            None => {
                self.first_ns = Some(time.ns);
                self.bytes_at_first = bytes;
            }
            // An earlier time is midnight, or a late sentence: neither changes the rate.
            Some(last) if time.ns <= last.ns || time.is_moment_of(last) => return,
            Some(_) => self.epochs += 1,
        }
        self.last = Some(time);
        self.bytes_at_last = bytes;
    }

    /// From the first time to the last, nanoseconds.
    pub(super) fn span_ns(&self) -> u64 {
        self.first_ns.zip(self.last).map_or(0, |(first_ns, last)| last.ns - first_ns)
    }
}

pub(super) fn time_and_quality(sentence: &Sentence) -> (Option<TimeOfDay>, Option<Quality>) {
    match sentence {
        Sentence::Gga(gga) => (gga.time, Some(Quality::from_digit(gga.quality))),
        Sentence::Gns(gns) => (gns.time, Some(Quality::from_mode(gns.mode))),
        Sentence::Rmc(rmc) if !rmc.valid => (rmc.time, Some(Quality::None)),
        Sentence::Rmc(rmc) => (rmc.time, None),
        Sentence::Gll(gll) => (gll.time, None),
        _ => (None, None),
    }
}
