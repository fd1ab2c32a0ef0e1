//! What a record can say. These types are the stored format: fields are only ever added.

use serde::{Deserialize, Serialize};

/// The `format` word of every header.
pub const HEADER_FORMAT: &str = "trundle-capture";

/// One record: when the host stamped it, and what it says.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// Nanoseconds of the host's monotonic clock since the capture began.
    pub host_ns: u64,
    /// What the entry holds.
    pub entry: Entry,
}

/// Content of a record.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// Kind 1. First record of every capture.
    Header(Header),
    /// Kinds 2 (board), 3 (receiver) and 13 (bus adapter). Bytes as they came from the port.
    Bytes(PortRole, Vec<u8>),
    /// Kind 4. A mark, note or correction given at the host.
    HostMark(HostMark),
    /// Kind 5. A port was opened or lost.
    Port(PortEvent),
    /// Kind 6. The course description in force from here on, as its TOML text.
    Course(String),
    /// Kind 7. What the host's wall clock said at this monotonic time.
    WallClock(WallClock),
    /// Kind 8. Orderly end.
    End,
    /// Kinds 9 (counts), 10 (marks), 12 (refused) and 14 (bus). One line of an imported table or
    /// recording, as it stood in the file.
    Import(ImportRow, Vec<u8>),
    /// Kind 11. The computer slept until now, by its own account.
    Slept(Slept),
    /// A kind this version does not know; skipped, but counted.
    Unknown(u8),
}

/// Which of the ports.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PortRole {
    /// The port of the counter board.
    Board,
    /// The port of the satellite receiver.
    Receiver,
    /// The port of the adapter that listens to the implement bus.
    Bus,
}

impl PortRole {
    /// The word used in messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            PortRole::Board => "counter board",
            PortRole::Receiver => "satellite receiver",
            PortRole::Bus => "bus adapter",
        }
    }
}

/// Which imported table a line comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ImportRow {
    /// `counts.csv`: the header line first, then one line a record.
    Counts,
    /// `marks.csv`: read in the same way.
    Marks,
    /// A line of `counts.csv` that contradicts the lines around it: kept, and never read.
    Refused,
    /// A line of a recording of the bus, of a group that is read.
    Bus,
}

/// How the host times of this capture came about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Arrival {
    /// Stamped when the bytes were received: arrival times bound the transport delay.
    #[default]
    Measured,
    /// Put together at import so that the streams run side by side; no evidence of any delay.
    Derived,
}

/// First record of a capture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// Format word, always [`HEADER_FORMAT`].
    pub format: String,
    /// Version of the capture format.
    pub version: u32,
    /// Version of the program that wrote it.
    pub software: String,
    /// Wall clock at host time 0, RFC 3339.
    pub started_utc: String,
    /// Whether arrival times were measured.
    #[serde(default)]
    pub arrival: Arrival,
    /// Simulated seconds per second of the host; 1 outside practice runs.
    #[serde(default = "one")]
    pub pace: f64,
    /// The tractor was a simulated one: practice, not a measurement.
    #[serde(default)]
    pub practice: bool,
}

fn one() -> f64 {
    1.0
}

/// A port was opened, lost or found again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PortEvent {
    /// Which of the ports is meant.
    pub role: PortRole,
    /// True: open and listening. False: lost.
    pub open: bool,
    /// Name of the port and the system's words, for the log.
    pub detail: String,
}

/// What a person asked for at the host.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum HostMarkAction {
    /// The next mark that is due: start if no pass is open, else finish.
    Mark,
    /// A start, whatever is open.
    Start,
    /// The finish of a pass.
    Finish,
    /// Take the last mark back.
    Undo,
    /// A remark in free text.
    Note,
    /// Reject the last pass.
    Refuse,
}

/// A mark or correction given at the host.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HostMark {
    /// The same key twice is the same press sent twice.
    pub key: u64,
    /// What was asked for.
    pub action: HostMarkAction,
    /// Text of a note, reason of a refusal.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub text: String,
}

/// How long the computer slept.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Slept {
    /// For how long, seconds of real time.
    pub seconds: f64,
}

/// The wall clock beside the monotonic clock, noted every few seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WallClock {
    /// Wall clock, nanoseconds since 1970, UTC.
    pub utc_ns: i64,
}
