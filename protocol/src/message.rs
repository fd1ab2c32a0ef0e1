//! The messages. Every field has a fixed length on the wire, so each type has one exact length.
//!
//! Variants and fields are only ever appended, under a new protocol version; nothing is
//! renumbered or reused. The bytes of each version are frozen in `tests/`.

use crate::units::{BoardMicros, Channel, Fixed16, Fixed32, Impulses};
use serde::{Deserialize, Serialize};

/// Number of impulse inputs.
pub const CHANNELS: usize = 3;
/// Intervals carried by one [`EdgeTrain`] message.
pub const TRAIN_INTERVALS: usize = 16;

/// What every report carries: which boot, which frame, when.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    /// Differs after every reset of the board.
    pub boot_id: Fixed32,
    /// Goes up by one for every report the board made, sent or dropped.
    pub sequence: Fixed32,
    /// Board time of the report.
    pub board_us: BoardMicros,
}

/// Why the board last started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum ResetCause {
    /// Not reported by the processor.
    #[default]
    Unknown,
    /// Supply switched on.
    PowerOn,
    /// Supply dipped below the limit.
    BrownOut,
    /// The watchdog bit.
    Watchdog,
    /// The reset pin was pulled.
    Pin,
    /// Asked for by software.
    Software,
}

/// Who the board is. Sent after boot and on request.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hello {
    /// Boot, sequence, time.
    pub stamp: Stamp,
    /// The nonce of the request answered; 0 after boot.
    pub nonce: Fixed32,
    /// Unique number of this board: its identity, wherever it is plugged in.
    pub board_id: Identity,
    /// Firmware version: major, minor, patch.
    pub firmware: [u8; 3],
    /// Why the board last started.
    pub reset_cause: ResetCause,
    /// Bit n set: impulse input n exists. Bit 6: implement-in-work. Bit 7: pulse-per-second input.
    pub capabilities: u8,
    /// Report period in force, microseconds.
    pub report_period_us: Fixed32,
    /// Least edge interval in force on each input, microseconds.
    pub min_edge_interval_us: [Fixed32; CHANNELS],
}

/// A unique number of fixed length.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[repr(transparent)]
pub struct Identity(#[serde(with = "postcard::fixint::le")] pub u64);

/// State of one impulse input.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChannelCounts {
    /// Impulses accepted since boot.
    pub impulses: Impulses,
    /// Board time of the last accepted edge; 0 before the first.
    pub last_edge_us: BoardMicros,
    /// Edges refused since boot because they came sooner than the input filter.
    pub rejected: Fixed32,
}

/// State of the implement-in-work input.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Working {
    /// The implement is in work.
    pub in_work: bool,
    /// Changes of level since boot.
    pub changes: Fixed32,
    /// Board time of the last change; 0 before the first.
    pub last_change_us: BoardMicros,
}

/// The regular report: all running counts at one instant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Boot, sequence, and the instant the counts were taken together.
    pub stamp: Stamp,
    /// Wheel, radar, PTO.
    pub channels: [ChannelCounts; CHANNELS],
    /// Implement in work.
    pub working: Working,
    /// Times since boot that edges may have been lost because they came too fast to serve.
    pub overruns: Fixed32,
    /// Reports since boot that found no room in the transmit buffer and were dropped whole.
    pub dropped_frames: Fixed32,
}

/// What gave a mark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum MarkSource {
    /// The push button on the board.
    #[default]
    Button,
    /// A light gate or switch at the peg.
    Gate,
}

/// The mark input fired: counts and time latched at the edge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// Boot, sequence, and the instant of the edge.
    pub stamp: Stamp,
    /// Marks since boot, this one included: a lost mark is seen.
    pub number: Fixed32,
    /// Button or gate.
    pub source: MarkSource,
    /// Running counts at the edge: wheel, radar, PTO.
    pub impulses: [Impulses; CHANNELS],
    /// Board time of the last accepted edge of each input before the mark.
    pub last_edge_us: [BoardMicros; CHANNELS],
}

/// A pulse-per-second edge of the receiver, where wired.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PpsEdge {
    /// Boot, sequence, and the instant of the edge.
    pub stamp: Stamp,
    /// Edges since boot, this one included.
    pub number: Fixed32,
}

/// Part of a train of consecutive edges of one input, for judging the sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EdgeTrain {
    /// Boot, sequence, time of sending.
    pub stamp: Stamp,
    /// The input.
    pub channel: Channel,
    /// The identifier of the request this answers.
    pub request: u8,
    /// Intervals of the train sent before this message.
    pub first: Fixed16,
    /// How many of `intervals_us` are meant, 1 to [`TRAIN_INTERVALS`]; the rest are 0.
    pub used: u8,
    /// No further message of this train follows.
    pub last: bool,
    /// Board time of the edge before the first interval.
    pub start_us: BoardMicros,
    /// Time from edge to edge, microseconds, bounces included (before the filter).
    pub intervals_us: [Fixed32; TRAIN_INTERVALS],
}

/// The board's own state, sent every few seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// Boot, sequence, time.
    pub stamp: Stamp,
    /// Supply voltage, millivolts; 0: not measured.
    pub supply_mv: Fixed16,
    /// Why the board last started.
    pub reset_cause: ResetCause,
    /// Reports dropped since boot for want of room.
    pub dropped_frames: Fixed32,
    /// Frames from the host refused since boot.
    pub refused_frames: Fixed32,
}

/// How a command ended.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Outcome {
    /// Done.
    #[default]
    Done,
    /// A value was out of range; nothing changed.
    OutOfRange,
    /// The board has no such input.
    NoSuchChannel,
    /// Busy with an earlier request of the kind.
    Busy,
}

/// Answer to a command.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reply {
    /// Boot, sequence, time.
    pub stamp: Stamp,
    /// The identifier given with the command.
    pub request: u8,
    /// How it ended.
    pub outcome: Outcome,
}

/// Everything the board sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToHost {
    /// Type 1.
    Hello(Hello),
    /// Type 2.
    Counts(Counts),
    /// Type 3.
    Mark(Mark),
    /// Type 4.
    PpsEdge(PpsEdge),
    /// Type 5.
    EdgeTrain(EdgeTrain),
    /// Type 6.
    Health(Health),
    /// Type 7.
    Reply(Reply),
}

impl ToHost {
    /// When and as what it was sent: every message carries that.
    #[must_use]
    pub const fn stamp(&self) -> Stamp {
        match self {
            Self::Hello(it) => it.stamp,
            Self::Counts(it) => it.stamp,
            Self::Mark(it) => it.stamp,
            Self::PpsEdge(it) => it.stamp,
            Self::EdgeTrain(it) => it.stamp,
            Self::Health(it) => it.stamp,
            Self::Reply(it) => it.stamp,
        }
    }
}

/// Ask the board who it is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct HelloRequest {
    /// Comes back in the hello, so that an old one is not taken for an answer. Not 0.
    pub nonce: Fixed32,
}

/// Set the period of the regular report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetReportPeriod {
    /// Comes back in the reply.
    pub request: u8,
    /// Microseconds, 5 000 to 1 000 000.
    pub period_us: Fixed32,
}

/// Set the input filter of one input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetMinEdgeInterval {
    /// Comes back in the reply.
    pub request: u8,
    /// The input.
    pub channel: Channel,
    /// Microseconds, 0 (off) to 100 000.
    pub interval_us: Fixed32,
}

/// Ask for the intervals of the next edges of one input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct AskEdgeTrain {
    /// Comes back in the reply and in the train.
    pub request: u8,
    /// The input.
    pub channel: Channel,
    /// How many intervals, 1 to 4096.
    pub intervals: Fixed16,
}

/// Blink, so that a person sees which board this is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identify {
    /// Comes back in the reply.
    pub request: u8,
    /// Seconds to blink, 0 to 60.
    pub seconds: u8,
}

/// Everything the host sends. There is no command that changes a count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToBoard {
    /// Type 0x81.
    HelloRequest(HelloRequest),
    /// Type 0x82.
    SetReportPeriod(SetReportPeriod),
    /// Type 0x83.
    SetMinEdgeInterval(SetMinEdgeInterval),
    /// Type 0x84.
    AskEdgeTrain(AskEdgeTrain),
    /// Type 0x85.
    Identify(Identify),
}
