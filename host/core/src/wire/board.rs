//! The board's bytes, read: counts, marks, resets, lost frames.
//!
//! The reader never adds up differences: every sample carries the board's absolute counts, so a
//! lost frame loses no impulse. What it does watch is the boot id (a reset) and the sequence
//! number (lost or dropped frames).

use trundle_protocol::message::{
    CHANNELS, EdgeTrain, Health, Hello, MarkSource, PpsEdge, Reply, Stamp, ToHost,
};
use trundle_protocol::{DeframeStats, Deframer, FrameFault};

/// All running counts at one instant of the board's clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CountSample {
    /// Host time at which the frame's last byte was received, nanoseconds.
    pub host_ns: u64,
    /// The board's time of the sample, microseconds.
    pub board_us: u64,
    /// Running counts of wheel, radar and PTO.
    pub impulses: [u64; CHANNELS],
    /// Board time of the last edge before the sample; `None` where it is not known.
    pub last_edge_us: [Option<u64>; CHANNELS],
    /// Edges refused as bounce since boot.
    pub rejected: [u32; CHANNELS],
    /// Implement in work, where wired.
    pub in_work: bool,
    /// Times since boot that edges may have been lost because they came too fast.
    pub overruns: u32,
}

/// A mark latched by the board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardMark {
    /// Host time at which the frame was received, nanoseconds.
    pub host_ns: u64,
    /// Board time of the edge, microseconds.
    pub board_us: u64,
    /// Marks since boot, this one included.
    pub number: u32,
    /// The button or the gate.
    pub source: MarkSource,
}

/// What the board said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BoardEvent {
    /// The board says who it is.
    Hello(Hello),
    /// A regular report of counts.
    Counts(CountSample),
    /// The button or the gate.
    Mark(BoardMark),
    /// A pulse-per-second edge, with the host time of its arrival.
    Pps(PpsEdge),
    /// Part of an edge train.
    Train(EdgeTrain),
    /// The board's own state.
    Health(Health),
    /// Answer to a command.
    Reply(Reply),
    /// The board restarted: counts begin again at zero.
    Reset {
        /// Boot id before the reset.
        from: u32,
        /// Boot id after the reset.
        to: u32,
    },
    /// Frames that never came.
    Lost {
        /// How many, by the sequence number.
        frames: u32,
    },
    /// A count went down within one boot, which no sound board does.
    WentBack,
    /// A frame was refused.
    Refused(FrameFault),
}

/// Totals since the capture began.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BoardTotals {
    /// Number of the frames accepted.
    pub frames: u64,
    /// Frames missing by sequence number.
    pub lost: u64,
    /// Number of the resets seen.
    pub resets: u32,
    /// Frames that came twice or out of order and were not used.
    pub repeated: u64,
}

/// Streaming reader of the board's port.
#[derive(Clone, Debug)]
pub struct BoardReader {
    deframer: Deframer<ToHost>,
    order: Order,
}

/// At the start of a capture; half a frame at the front is passed over.
impl Default for BoardReader {
    fn default() -> Self {
        Self { deframer: Deframer::new_mid_stream(), order: Order::default() }
    }
}

impl BoardReader {
    /// The port was opened again: what is in the buffer is not continued.
    pub fn reopened(&mut self) {
        self.deframer.restart_mid_stream();
    }

    /// Totals since the capture began.
    #[must_use]
    pub const fn totals(&self) -> BoardTotals {
        self.order.totals
    }

    /// What the deframer met.
    #[must_use]
    pub const fn line(&self) -> &DeframeStats {
        self.deframer.stats()
    }

    /// Take bytes that was received at `host_ns` and show what they said.
    pub fn push(&mut self, bytes: &[u8], host_ns: u64, mut report: impl FnMut(BoardEvent)) {
        let Self { deframer, order } = self;
        deframer.push_slice(bytes, |frame| match frame {
            Err(fault) => report(BoardEvent::Refused(fault)),
            Ok(message) => {
                if order.check(message.stamp(), &mut report) {
                    order.deliver(message, host_ns, &mut report);
                }
            }
        });
    }
}

/// What watches the order of the frames.
#[derive(Clone, Debug, Default)]
struct Order {
    boot_id: Option<u32>,
    sequence: u32,
    last: Option<CountSample>,
    totals: BoardTotals,
}

impl Order {
    /// Watch boot id and sequence. False: a repeated frame, not to be used.
    #[inline]
    fn check(&mut self, stamp: Stamp, report: &mut impl FnMut(BoardEvent)) -> bool {
        let boot_id = stamp.boot_id.0;
        match self.boot_id {
            Some(known) if known == boot_id => {
                let step = stamp.sequence.0.wrapping_sub(self.sequence);
                // More than half the range ahead is behind: an old frame that came again.
                if step == 0 || step > u32::MAX / 2 {
                    self.totals.repeated += 1;
                    return false;
                }
                if step > 1 {
                    self.totals.lost += u64::from(step - 1);
                    report(BoardEvent::Lost { frames: step - 1 });
                }
            }
            Some(known) => {
                self.totals.resets += 1;
                self.last = None;
                report(BoardEvent::Reset { from: known, to: boot_id });
            }
            None => {}
        }
        self.boot_id = Some(boot_id);
        self.sequence = stamp.sequence.0;
        self.totals.frames += 1;
        true
    }

    #[inline]
    fn deliver(&mut self, message: ToHost, host_ns: u64, report: &mut impl FnMut(BoardEvent)) {
        match message {
            ToHost::Counts(counts) => {
                let sample = CountSample {
                    host_ns,
                    board_us: counts.stamp.board_us.0,
                    impulses: counts.channels.map(|c| c.impulses.0),
                    last_edge_us: counts
                        .channels
                        .map(|c| (c.impulses.0 > 0).then_some(c.last_edge_us.0)),
                    rejected: counts.channels.map(|c| c.rejected.0),
                    in_work: counts.working.in_work,
                    overruns: counts.overruns.0,
                };
                if self.last.is_some_and(|last| went_back(&last, &sample)) {
                    report(BoardEvent::WentBack);
                    return;
                }
                self.last = Some(sample);
                report(BoardEvent::Counts(sample));
            }
            ToHost::Mark(mark) => report(BoardEvent::Mark(BoardMark {
                host_ns,
                board_us: mark.stamp.board_us.0,
                number: mark.number.0,
                source: mark.source,
            })),
            ToHost::Hello(hello) => report(BoardEvent::Hello(hello)),
            ToHost::PpsEdge(edge) => report(BoardEvent::Pps(edge)),
            ToHost::EdgeTrain(train) => report(BoardEvent::Train(train)),
            ToHost::Health(health) => report(BoardEvent::Health(health)),
            ToHost::Reply(reply) => report(BoardEvent::Reply(reply)),
        }
    }
}

#[inline]
fn went_back(last: &CountSample, now: &CountSample) -> bool {
    now.board_us < last.board_us || (0..CHANNELS).any(|i| now.impulses[i] < last.impulses[i])
}
