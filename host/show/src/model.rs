//! The screen as data: everything that is shown, nothing of how. A page gets it as JSON.

use serde::Serialize;
use trundle_core::session::presses::{Due, Marked};
use trundle_protocol::message::CHANNELS;

/// Everything a live screen shows at one moment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct View {
    /// The person's time of day.
    pub at: String,
    /// Host time, nanoseconds since the capture began.
    pub host_ns: u64,
    /// The tractor is a simulated one.
    pub practice: bool,
    /// The port of the counter board.
    pub board: Link,
    /// The satellite receiver; `None` when the job goes without.
    pub receiver: Option<Link>,
    /// By wheel, radar and satellite.
    pub speeds: Speeds,
    /// The implement bus, where it is listened to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bus: Option<BusView>,
    /// The pass that is open now.
    pub open: Option<OpenPass>,
    /// Every pass begun, the open one included.
    pub passes: Vec<PassRow>,
    /// The values so far.
    pub figures: Vec<FigureRow>,
    /// The mark that is due. A press says that it means this one.
    pub due: Due,
    /// The last mark that stands.
    pub last_mark: Option<LastMark>,
    /// The mark that can be undone.
    pub undo: Option<Due>,
    /// The last pass begun: the one that can be rejected.
    pub last_pass: Option<u32>,
    /// A press waits for the disk.
    pub waiting: bool,
    /// The next thing to do.
    pub next: Next,
    /// What is wrong now, the gravest first.
    pub troubles: Vec<Trouble>,
    /// What was said last, the newest at the end.
    pub said: Vec<Message>,
    /// Counters; a front end rings when one has grown.
    pub bell: Bell,
}

/// How a port stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LinkState {
    /// Values are being received.
    Live,
    /// The port is open; the last values are older than [`trundle_core::fitness::live::STALE_S`].
    Stale,
    /// The port is open; no value has come yet.
    Nothing,
    /// The port is gone.
    Gone,
}

/// A port, and how it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Link {
    /// Its state at this moment.
    pub state: LinkState,
    /// Age of the newest values, seconds.
    pub age_s: Option<f64>,
    /// Time of day of the newest values.
    pub since: Option<String>,
    /// The same in words.
    pub words: String,
    /// Satellites used; receiver only.
    pub satellites: Option<u8>,
    /// Satellites in view; receiver only.
    pub in_view: Option<u16>,
    /// Horizontal dilution of precision; receiver only.
    pub hdop: Option<f32>,
    /// Median carrier-to-noise density of the satellites received, dB-Hz; receiver only.
    pub signal_db_hz: Option<f64>,
}

/// Speed by wheel, radar and satellite.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Speeds {
    /// By the wheel sensor.
    pub wheel: Speed,
    /// By the radar sensor.
    pub radar: Speed,
    /// By the satellite receiver.
    pub satellite: Speed,
}

/// One speed, with its age.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Speed {
    /// There is such a sensor, or it is not known yet that there is none.
    pub present: bool,
    /// The value is older than [`trundle_core::fitness::live::STALE_S`]: the last one known.
    pub stale: bool,
    /// Kilometres per hour; a sensor's needs a value per 100 m first.
    pub km_h: Option<f64>,
    /// The sensor's value per 100 m is not one to enter, or of one pass alone.
    pub provisional: bool,
    /// Impulses per second; sensors only.
    pub impulses_per_s: Option<f64>,
}

/// The implement bus.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BusView {
    /// The adapter's port; live while speeds come.
    pub link: Link,
    /// Each speed of each control unit.
    pub speeds: Vec<BusSpeedRow>,
}

/// One speed on the implement bus.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BusSpeedRow {
    /// Which, of whom where there are several, and where a selected one comes from.
    pub name: String,
    /// The speed, with its age.
    pub speed: Speed,
    /// Time of day of its newest message.
    pub since: String,
}

/// The pass that is open now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OpenPass {
    /// Number of the pass, from 1.
    pub number: u32,
    /// Seconds since its start was marked, the person's time.
    pub for_s: f64,
    /// Impulses since its start; `None` where there is no such input or no count.
    pub impulses: [Option<u64>; CHANNELS],
    /// The counts are older than [`trundle_core::fitness::live::STALE_S`].
    pub stale: bool,
    /// Where on the course; needs a receiver.
    pub place: Option<CoursePosition>,
}

/// Where on the course, by satellite: good to some metres, never a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CoursePosition {
    /// From where the start was marked, metres in a straight line.
    pub from_start_m: f64,
    /// To the far peg, metres; negative behind it. Needs the length of the course.
    pub to_far_peg_m: Option<f64>,
    /// The fix is older than [`trundle_core::fitness::live::STALE_S`].
    pub stale: bool,
}

/// How a pass stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PassState {
    /// It is being driven now.
    Open,
    /// Finished; the rest behind its finish is still being recorded.
    Settling,
    /// Used, and without any warning.
    Valid,
    /// Used, but with warnings attached.
    Flagged,
    /// Not used in the value.
    Refused,
}

/// A pass, as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassRow {
    /// Number of the pass, from 1.
    pub number: u32,
    /// `out` or `back`, once known.
    pub way: Option<&'static str>,
    /// Its state at this moment.
    pub state: PassState,
    /// Impulses between the marks, by channel.
    pub impulses: [Option<f64>; CHANNELS],
    /// Impulses per 100 m, by channel.
    pub figure: [Option<f64>; CHANNELS],
    /// What was found.
    pub why: Vec<Finding>,
}

/// The value of one channel so far.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FigureRow {
    /// `wheel` or `radar`.
    pub channel: &'static str,
    /// Its place among the board's inputs.
    pub channel_index: usize,
    /// The whole number to enter, impulses per 100 m; absent while it is withheld.
    pub enter: Option<i64>,
    /// The value, impulses per 100 m.
    pub value: Option<f64>,
    /// Half of its 95 % interval, percent.
    pub percent: Option<f64>,
    /// There is a value against the tape.
    pub by_tape: bool,
    /// There is a value against the satellite.
    pub by_satellite: bool,
    /// What further passes would do, where that is known.
    pub further: Option<FurtherRow>,
}

/// What further passes would do for a value. Percents are half-widths of 95 % intervals.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FurtherRow {
    /// Wanted.
    pub wanted_percent: f64,
    /// Reached so far.
    pub reached_percent: f64,
    /// Passes still worth driving; 0: enough were driven; absent: no number of passes will do.
    pub more: Option<u32>,
    /// Left however many passes are driven.
    pub endless_percent: f64,
    /// What is left then comes mostly from this.
    pub stays: Option<String>,
}

/// The last mark that stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LastMark {
    /// Which mark, when, and where pressed.
    pub marked: Marked,
    /// Time of day at the tractor.
    pub at: String,
    /// The same in words.
    pub words: String,
}

/// The step that is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NextStep {
    /// Nothing is recorded any more: finish.
    Stop,
    /// A press waits for the disk.
    Wait,
    /// Something stands against a start.
    MakeReady,
    /// Mark the start of a pass.
    MarkStart,
    /// Drive along the course.
    Drive,
    /// The far peg is near.
    StopAtPeg,
    /// The far peg is behind.
    BehindPeg,
    /// Let the tractor stand after a finish.
    StandStill,
    /// Drive the next pass, the other way.
    Turn,
    /// Passes enough: finish, or go on for less uncertainty.
    Enough,
}

/// The next thing to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Next {
    /// The step, as a word for programs.
    pub step: NextStep,
    /// For people: one plain sentence or two.
    pub words: String,
    /// Seconds for which the tractor is still to stand, where it stands beside a peg.
    pub stand_s: Option<u32>,
}

/// What was found, and where the handbook explains it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What, and what to do.
    pub words: String,
    /// Name of its entry in the handbook.
    pub entry: String,
}

/// Something wrong, with what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Trouble {
    /// Time of day at which it began; warnings of the result have none.
    pub since: Option<String>,
    /// What, and what to do.
    pub words: String,
    /// Name of its entry in the handbook.
    pub entry: String,
}

/// A message to the person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Message {
    /// Time of day at the tractor.
    pub at: String,
    /// The message, in words.
    pub words: String,
}

/// What to ring for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Bell {
    /// Marks taken so far.
    pub marks: u32,
    /// Troubles begun so far.
    pub troubles: u32,
}
