//! The whole capture as samples, for what passes alone do not hold: slip, speeds, mounting.
//!
//! A session keeps a trail only when it is asked to, since a day of it takes some ten megabytes
//! where the passes take a few.

use crate::capture::Arrival;
use crate::session::bus::BusTrail;
use crate::session::samples::Samples;
use crate::session::window::{Incident, IncidentKind, WindowClock};
use crate::timeline::envelope::ClockLine;
use crate::wire::board::{BoardMark, CountSample};
use crate::wire::fix::Fix;
use trundle_protocol::message::{EdgeTrain, Health, Hello, PpsEdge, Reply};

/// Count samples kept are at least this far apart where the trail is thinned, microseconds: as
/// dense as the fixes of a usual receiver.
pub const THINNED_US: u64 = 80_000;
/// Longest trail, samples of one kind over all spells: 22 hours of every count at 50 a second, in
/// some 45 MB. What comes later is not kept.
const SAMPLES_MAX: usize = 4_000_000;
/// Edge trains and incidents kept; more show nothing new.
const TRAINS_MAX: usize = 20_000;
const INCIDENTS_MAX: usize = 20_000;
/// Answers, marks and pulses kept, of each: pulses of five hours and a half.
const ANSWERS_MAX: usize = 20_000;

/// The samples of one boot of the board and one clock of the receiver's: one count, one time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spell {
    /// Count samples, rising in time.
    pub counts: Samples<CountSample>,
    /// Plausible fixes, rising in time.
    pub fixes: Samples<Fix>,
    /// What went wrong, in time order.
    pub incidents: Vec<Incident>,
    /// Board clock (seconds since boot) to host clock.
    pub board_clock: Option<ClockLine>,
    /// Both clocks, where there were fixes.
    pub clock: Option<WindowClock>,
    /// The receiver's alone, where there were fixes: with or without a board.
    pub fix_clock: Option<FixClock>,
}

/// The receiver's clock by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FixClock {
    /// Seconds since `origin_ns` to host seconds, the receiver's least delay included.
    pub line: ClockLine,
    /// UTC of the first fix, nanoseconds since 1970.
    pub origin_ns: i64,
}

impl From<(ClockLine, i64)> for FixClock {
    fn from((line, origin_ns): (ClockLine, i64)) -> Self {
        Self { line, origin_ns }
    }
}

/// Everything a capture holds, in spells.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trail {
    /// One for each boot of the board, and a new one where the receiver's clock was set.
    pub spells: Vec<Spell>,
    /// Parts of edge trains, as they came.
    pub trains: Vec<EdgeTrain>,
    /// The board's answers to commands, with the host time of each, nanoseconds.
    pub replies: Vec<(u64, Reply)>,
    /// Marks as the board latched them.
    pub marks: Vec<BoardMark>,
    /// Pulse-per-second edges, with the host time of each, nanoseconds.
    pub pulses: Vec<(u64, PpsEdge)>,
    /// The board's latest word on itself.
    pub health: Option<Health>,
    /// Who the board is.
    pub hello: Option<Hello>,
    /// How arrival times came about.
    pub arrival: Arrival,
    /// Samples found no room: the trail ends before the capture does.
    pub cut: bool,
    /// What the bus said, over all spells.
    pub bus: BusTrail,
}

/// The clocks of a spell, as far as known.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SpellClocks {
    pub board: Option<ClockLine>,
    pub both: Option<WindowClock>,
    pub fix: Option<FixClock>,
}

/// Puts a trail together.
#[derive(Clone, Debug)]
pub(super) struct Tracer {
    trail: Trail,
    open: Spell,
    apart_us: u64,
    alone: bool,
    /// Samples in the spells that are sealed.
    counts: usize,
    fixes: usize,
}

impl Tracer {
    /// Counts are kept at least `apart_us` apart. `alone`: passes are kept without their samples.
    pub fn new(apart_us: u64, alone: bool) -> Self {
        let (trail, open) = (Trail::default(), Spell::default());
        Self { trail, open, apart_us, alone, counts: 0, fixes: 0 }
    }

    pub const fn is_alone(&self) -> bool {
        self.alone
    }

    pub fn set_arrival(&mut self, arrival: Arrival) {
        self.trail.arrival = arrival;
    }

    pub fn counts(&mut self, sample: &CountSample) {
        if self.counts + self.open.counts.len() >= SAMPLES_MAX {
            self.trail.cut = true;
            return;
        }
        let due = self.open.counts.last().is_none_or(|last| {
            last.in_work != sample.in_work || sample.board_us >= last.board_us + self.apart_us
        });
        if due {
            self.open.counts.push(*sample);
        }
    }

    pub fn fix(&mut self, fix: &Fix) {
        if self.fixes + self.open.fixes.len() >= SAMPLES_MAX {
            self.trail.cut = true;
            return;
        }
        self.open.fixes.push(*fix);
    }

    pub fn incident(&mut self, host_ns: u64, kind: IncidentKind) {
        if self.open.incidents.len() < INCIDENTS_MAX {
            self.open.incidents.push(Incident { host_ns, kind });
        }
    }

    pub fn train(&mut self, part: EdgeTrain) {
        if self.trail.trains.len() < TRAINS_MAX {
            self.trail.trains.push(part);
        }
    }

    pub fn reply(&mut self, host_ns: u64, reply: Reply) {
        if self.trail.replies.len() < ANSWERS_MAX {
            self.trail.replies.push((host_ns, reply));
        }
    }

    pub fn mark(&mut self, mark: BoardMark) {
        if self.trail.marks.len() < ANSWERS_MAX {
            self.trail.marks.push(mark);
        }
    }

    pub fn pulse(&mut self, host_ns: u64, edge: PpsEdge) {
        if self.trail.pulses.len() < ANSWERS_MAX {
            self.trail.pulses.push((host_ns, edge));
        }
    }

    pub fn health(&mut self, health: Health) {
        self.trail.health = Some(health);
    }

    pub fn hello(&mut self, hello: Hello) {
        self.trail.hello = Some(hello);
    }

    /// The board restarts, or the capture ends: what is open was all of one boot.
    pub fn seal(&mut self, clocks: SpellClocks) {
        let mut spell = std::mem::take(&mut self.open);
        let SpellClocks { board, both, fix } = clocks;
        (spell.board_clock, spell.clock, spell.fix_clock) = (board, both, fix);
        self.counts += spell.counts.len();
        self.fixes += spell.fixes.len();
        if !spell.counts.is_empty() || !spell.fixes.is_empty() {
            self.trail.spells.push(spell);
        }
    }

    /// The receiver's clock begins anew at `at_ns`, and with it a spell.
    pub fn split(&mut self, at_ns: u64, clocks: SpellClocks) {
        let counts = self.open.counts.partition_point(|sample| sample.host_ns < at_ns);
        let fixes = self.open.fixes.partition_point(|fix| fix.host_ns < at_ns);
        let incidents = self.open.incidents.partition_point(|i| i.host_ns < at_ns);
        let after = Spell {
            counts: self.open.counts.split_off(counts),
            fixes: self.open.fixes.split_off(fixes),
            incidents: self.open.incidents.split_off(incidents),
            ..Spell::default()
        };
        self.seal(clocks);
        self.open = after;
    }

    /// The trail so far, the open spell with the clocks as known now.
    pub fn so_far(&self, clocks: SpellClocks) -> Trail {
        let mut now = self.clone();
        now.seal(clocks);
        now.trail
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_count_of_ten_hours_is_kept() {
        let mut tracer = Tracer::new(0, true);
        for n in 0..10 * 3600 * 50_u64 {
            let (impulses, last_edge_us) = ([n, n / 2, 0], [Some(n * 20_000), None, None]);
            let (host_ns, board_us) = (n * 20_000_000, n * 20_000 + 100);
            let (rejected, in_work, overruns) = ([0; 3], n % 90_000 < 45_000, 0);
            tracer.counts(&CountSample {
                host_ns,
                board_us,
                impulses,
                last_edge_us,
                rejected,
                in_work,
                overruns,
            });
        }
        let trail = tracer.so_far(SpellClocks::default());
        assert!(!trail.cut);
        assert_eq!(trail.spells[0].counts.len(), 1_800_000);
        assert_eq!(trail.spells[0].counts.iter().last().map(|s| s.impulses[0]), Some(1_799_999));
    }
}
