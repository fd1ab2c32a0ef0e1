//! Totals over a whole capture, and the watch on the wall clock.

use crate::timeline::receiver_clock::same_step;
use crate::wire::board::BoardTotals;
use crate::wire::bus::reader::BusTotals;
use crate::wire::receiver::ReceiverTotals;
use trundle_protocol::DeframeStats;

/// Everything that was counted while reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Totals {
    /// Totals of the board's frames.
    pub board: BoardTotals,
    /// Totals of the board's line.
    pub line: DeframeStats,
    /// The receiver's sentences and fixes.
    pub receiver: ReceiverTotals,
    /// The bus, and its adapter's line.
    pub bus: BusTotals,
    /// Bytes of the capture that belong to no sound record.
    pub damaged_bytes: u64,
    /// Records of a kind this version does not know.
    pub unknown_records: u64,
    /// Lines of imported tables that could not be read.
    pub bad_import_lines: u64,
    /// How often the receiver's clock was set.
    pub receiver_steps: u32,
    /// By how much the last time, seconds; negative: back.
    pub receiver_step_s: f64,
    /// Presses of the board's button that never arrived.
    pub lost_marks: u32,
    /// Arrival times were put together at import and show nothing of any delay.
    pub derived_clock: bool,
    /// The imported counts carry UTC.
    pub utc_in_tables: bool,
    /// Passes that found no room.
    pub passes_overflow: u32,
    /// Number of the last press seen in this boot.
    pub board_marks_seen: Option<u32>,
    /// The board's identity, once it said hello.
    pub board_id: Option<u64>,
    /// The board's inputs, as in its hello.
    pub capabilities: Option<u8>,
}

/// A step of the wall clock against the monotonic clock smaller than this is ordinary slewing,
/// seconds.
const STEP_S: f64 = 0.5;

/// Compares wall clock and monotonic clock.
#[derive(Clone, Copy, Debug, Default)]
pub struct WallWatch {
    last: Option<(u64, i64)>,
}

impl WallWatch {
    /// Note a pair of readings; shows the step in seconds if the wall clock jumped since the
    /// last pair. `pace` is host seconds per wall second.
    pub fn note(&mut self, host_ns: u64, utc_ns: i64, pace: f64) -> Option<f64> {
        let last = self.last.replace((host_ns, utc_ns))?;
        let host_s = host_ns.saturating_sub(last.0) as f64 * 1e-9 / pace;
        let wall_s = (utc_ns - last.1) as f64 * 1e-9;
        let step_s = wall_s - host_s;
        (step_s.abs() > STEP_S).then_some(step_s)
    }
}

/// Steps of two clocks within this belong together, nanoseconds: the wall clock is read every few
/// seconds, and a step of the receiver's is known some seconds after it.
const TOGETHER_NS: u64 = 20_000_000_000;

/// Tells a receiver whose clock was set from a computer whose own clock stood still: its wall clock
/// then shows the same step.
#[derive(Clone, Copy, Debug, Default)]
pub struct StepWatch {
    /// The last step of each, with its host time.
    receiver: Option<(u64, f64)>,
    wall: Option<(u64, f64)>,
}

impl StepWatch {
    /// The receiver's clock was set against the computer's.
    pub fn receiver(&mut self, host_ns: u64, step_s: f64, totals: &mut Totals) {
        if together(self.wall.take(), host_ns, step_s) {
            return;
        }
        self.receiver = Some((host_ns, step_s));
        totals.receiver_steps += 1;
        totals.receiver_step_s = step_s;
    }

    /// The wall clock was set against the computer's.
    pub fn wall(&mut self, host_ns: u64, step_s: f64, totals: &mut Totals) {
        if together(self.receiver.take(), host_ns, step_s) {
            totals.receiver_steps = totals.receiver_steps.saturating_sub(1);
            return;
        }
        self.wall = Some((host_ns, step_s));
    }
}

fn together(other: Option<(u64, f64)>, host_ns: u64, step_s: f64) -> bool {
    other.is_some_and(|(at_ns, other_s)| {
        host_ns.abs_diff(at_ns) <= TOGETHER_NS && same_step(other_s, step_s)
    })
}
