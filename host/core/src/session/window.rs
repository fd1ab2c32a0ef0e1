//! What is kept of a pass: the samples from shortly before its start to shortly after its
//! finish, and everything that went wrong in between.

use super::drive::Driven;
use super::marks::MarkTime;
use super::samples::Samples;
use crate::timeline::envelope::ClockLine;
use crate::timeline::timed_fix::TaggedFix;
use crate::wire::board::CountSample;
use crate::wire::fix::Fix;

/// A mark with its place on the host's clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MarkPoint {
    /// Host time of it, nanoseconds.
    pub host_ns: u64,
    /// Best knowledge of the instant meant.
    pub time: MarkTime,
}

/// Something that happened while a pass was being recorded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Incident {
    /// Host time of it, nanoseconds.
    pub host_ns: u64,
    /// What kind of incident it is.
    pub kind: IncidentKind,
}

/// The kinds of incident there are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum IncidentKind {
    /// The board restarted; its counts began again.
    BoardReset,
    /// A count went down without a reset.
    CountWentBack,
    /// Frames that never came.
    FramesLost(u32),
    /// A frame was refused as damaged.
    FrameRefused,
    /// An epoch or fix was rejected as implausible or contradictory.
    FixRejected,
    /// The receiver said that it had no fix.
    FixVoid,
    /// The receiver said that its fix was simulated.
    FixSimulated,
    /// A position did not change while its speed said that it moves.
    FixFrozen,
    /// The board's port was lost or found.
    BoardPort(bool),
    /// The receiver's port was lost or found.
    ReceiverPort(bool),
    /// The wall clock was stepped against the monotonic clock, by seconds.
    ClockStep(f64),
    /// The receiver's clock was set, by seconds; negative: back.
    ReceiverClock(f64),
    /// The computer slept until now, for seconds.
    Slept(f64),
    /// Damaged bytes in the capture itself.
    CaptureDamaged(u64),
}

/// A pass as recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct PassWindow {
    /// From 1, in the order of the starts.
    pub number: u32,
    /// The mark at the start.
    pub start: MarkPoint,
    /// The finish mark; `None` if the capture ended before.
    pub finish: Option<MarkPoint>,
    /// Count samples, rising in time, of the boot in force at the start.
    pub counts: Samples<CountSample>,
    /// Plausible fixes, rising in time.
    pub fixes: Samples<Fix>,
    /// What went wrong between the marks.
    pub incidents: Vec<Incident>,
    /// Rejected by the operator, and why.
    pub rejected: Option<String>,
    /// The board had restarted before, and nothing shows that its marks are start and finish.
    pub unsure: bool,
    /// Samples were dropped because the pass went on for too long.
    pub too_long: bool,
    /// Board clock (seconds since boot) to host clock, as known when the window closed.
    pub board_clock: Option<ClockLine>,
    /// Both clocks, where there were fixes, as known when the window closed. All its fixes are on
    /// this one clock of the receiver's, and one that steps inside the pass leaves no fix in it.
    pub clock: Option<WindowClock>,
}

impl PassWindow {
    /// Finished, used, and no doubt that its marks are start and finish.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.finish.is_some() && self.rejected.is_none() && !self.unsure
    }

    /// Leave out fixes whose time goes back: all are on one clock, so those are old.
    pub(super) fn drop_old_fixes(&mut self) {
        let mut latest_ns = i64::MIN;
        self.fixes.retain(|fix| {
            let rises = fix.utc_ns > latest_ns;
            latest_ns = latest_ns.max(fix.utc_ns);
            rises
        });
    }

    /// What was driven between the marks, by the counts received last before each.
    #[must_use]
    pub fn driven(&self) -> Option<Driven> {
        Some(Driven::between(&self.count_at(&self.start)?, &self.count_at(self.finish.as_ref()?)?))
    }

    fn count_at(&self, mark: &MarkPoint) -> Option<CountSample> {
        let after = self.counts.partition_point(|s| s.host_ns <= mark.host_ns);
        self.counts.get(after.saturating_sub(1))
    }

    /// Nothing is added any more.
    pub(super) fn shrink_to_fit(&mut self) {
        self.counts.shrink_to_fit();
        self.fixes.shrink_to_fit();
        self.incidents.shrink_to_fit();
    }

    /// Keep no more than tells what was driven: beside a trail, all is worked from the trail.
    pub(super) fn without_samples(&mut self) {
        let marks = [Some(self.start), self.finish];
        let ends = marks.iter().flatten().filter_map(|mark| self.count_at(mark)).collect();
        (self.counts, self.fixes) = (ends, Samples::default());
    }
}

/// How the clocks of a window hang together, before any lag is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowClock {
    /// Board seconds since its boot to host seconds.
    pub board: ClockLine,
    /// Seconds since `fix_origin_ns` to host seconds.
    pub fix: ClockLine,
    /// UTC of the first fix on this clock of the receiver's, nanoseconds since 1970.
    pub fix_origin_ns: i64,
    /// Board seconds to seconds since `fix_origin_ns`, by the receiver's pulse-per-second edges,
    /// where they are wired. It knows no delay at all.
    pub pulse: Option<ClockLine>,
}

impl WindowClock {
    /// Board seconds since boot at the host time given.
    #[must_use]
    pub fn board_s_of_host(&self, host_ns: u64) -> f64 {
        self.board.source_s(host_ns as f64 * 1e-9)
    }

    /// Board seconds since boot at which a fix with this time tag would have been output, had it
    /// come with the receiver's least delay: late by that delay, which the lag then takes off. By
    /// pulses there is no such delay.
    #[must_use]
    pub fn board_s_of_utc(&self, utc_ns: i64) -> f64 {
        let since_s = (utc_ns - self.fix_origin_ns) as f64 * 1e-9;
        match self.pulse {
            Some(pulse) => pulse.source_s(since_s),
            None => self.board.source_s(self.fix.host_s(since_s)),
        }
    }

    /// A fix at the board time of its tag, in seconds since `origin_us`.
    #[must_use]
    pub fn tag(&self, fix: Fix, origin_us: u64) -> TaggedFix {
        let origin_s = origin_us as f64 * 1e-6;
        TaggedFix { tag_s: self.board_s_of_utc(fix.utc_ns) - origin_s, fix }
    }

    /// UTC in nanoseconds at a board instant. By pulses it is UTC itself; otherwise it is the time
    /// tag of the fix that belongs to the instant, since delay and lag cannot be separated.
    #[must_use]
    pub fn utc_ns_of_board(&self, board_s: f64, lag_s: f64) -> i64 {
        let since_s = match self.pulse {
            Some(pulse) => pulse.host_s(board_s),
            None => self.fix.source_s(self.board.host_s(board_s + lag_s)),
        };
        self.fix_origin_ns + (since_s * 1e9).round() as i64
    }
}
