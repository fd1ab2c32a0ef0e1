//! The bus as samples: what each control unit states, on one running distance.
//!
//! Several control units can send the same group; each is told from the others by its address.
//! Frames of other groups, up to some 2,000 a second, are only counted.

use super::adapter::{AdapterItem, AdapterReader, AdapterTotals};
use super::frame::CanFrame;
use super::message::{
    BusMessage, BusSpeed, DATA_MAX_32, Decoded, Direction, SelectedSource, ShaftMessage,
    SpeedMessage, decode,
};
use super::steady::{Follows, Seen, Steady};
use std::collections::BTreeMap;

/// No tractor drives faster, mm/s (common practice, no source: 60 km/h by type approval, and a
/// fifth more).
const FASTEST_MM_S: f64 = 20_000.0;
/// A value keyed in a hundred times too small, as impulses per metre for those per 100 m, shows a
/// distance that runs so many times too fast. No message on the move is borne out then, but those
/// at standstill are, and the distance between them is what shows the mistake.
const SCALE_MOST: f64 = 100.0;
/// Messages arrive bunched: so far a distance may be ahead of its arrival, mm. What the fastest
/// tractor drives in a message's 100 ms, and a little more.
const BUNCHED_MM: f64 = 2_500.0;
/// No tractor changes its speed faster, mm/s in a second.
const HARDEST_MM_S2: f64 = 8_000.0;
/// Between two messages that arrive together the speed may differ by this, mm/s.
const BUNCHED_MM_S: f64 = 1_000.0;
/// The same of the shaft, r/min in a second and at once: a clutch engages it within a second.
const SHAFT: (f64, f64) = (2_000.0, 250.0);
/// Streams of messages that are kept apart: senders times groups. A tractor has some four; every
/// damaged address looks like one more until nothing follows from it.
const STREAMS_MAX: usize = 64;

/// A running distance, unwrapped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BusDistance {
    /// Rises by one whenever the count began anew, as after the ignition was switched on: only
    /// distances of one run can be subtracted.
    pub run: u32,
    /// Since the run began, mm.
    pub distance_mm: u64,
}

/// A speed message that its neighbours bear out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BusSample {
    /// Host time of its arrival, nanoseconds.
    pub host_ns: u64,
    /// Address of the control unit that sent it.
    pub sender: u8,
    /// Which speed.
    pub kind: BusSpeed,
    /// The speed, mm/s.
    pub speed_mm_s: Option<u16>,
    /// The distance.
    pub distance: Option<BusDistance>,
    /// Which way it drives.
    pub direction: Option<Direction>,
    /// Where a selected speed comes from.
    pub source: Option<SelectedSource>,
}

/// A message of the shaft that its neighbours bear out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShaftSample {
    /// Host time of its arrival, nanoseconds.
    pub host_ns: u64,
    /// Address of the control unit that sent it.
    pub sender: u8,
    /// Speed of the shaft, r/min.
    pub shaft_rpm: Option<f64>,
}

/// What the bus said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BusEvent {
    /// A speed and a distance.
    Speed(BusSample),
    /// The rear PTO.
    Shaft(ShaftSample),
}

/// Everything that was counted while reading.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BusTotals {
    /// The adapter's line.
    pub line: AdapterTotals,
    /// Frames read, of every group.
    pub frames: u64,
    /// Of those, frames of the groups that are read here.
    pub read: u64,
    /// Of those, frames of the wrong length.
    pub wrong_length: u64,
    /// Of those, messages that follow from none before and none after.
    pub unborne: u64,
    /// Messages of more senders than can be kept apart.
    pub overflow: u64,
}

/// One group of one sender.
#[derive(Clone, Debug)]
enum Stream {
    Speed(Steady<SpeedMessage>, Run),
    Shaft(Steady<ShaftMessage>),
}

/// The run of a distance.
#[derive(Clone, Copy, Debug, Default)]
struct Run {
    number: u32,
    distance_mm: u64,
    /// Host time and raw distance of the last one.
    last: Option<(u64, u32)>,
}

/// Reads the bus.
#[derive(Clone, Debug, Default)]
pub struct BusReader {
    adapter: AdapterReader,
    streams: BTreeMap<(u8, u8), Stream>,
    totals: BusTotals,
}

impl BusReader {
    /// What was counted so far.
    #[must_use]
    pub fn totals(&self) -> BusTotals {
        let dropped = self.streams.values().map(Stream::dropped).sum::<u64>();
        let unborne = self.totals.unborne + dropped;
        BusTotals { line: self.adapter.totals(), unborne, ..self.totals }
    }

    /// The adapter's port was opened again.
    pub fn reopened(&mut self) {
        self.adapter.reopened();
    }

    /// Take bytes of an adapter that arrived at `host_ns` and show what the bus said.
    pub fn push(&mut self, bytes: &[u8], host_ns: u64, mut report: impl FnMut(BusEvent)) {
        let Self { adapter, streams, totals } = self;
        adapter.push(bytes, |item| {
            if let AdapterItem::Frame(frame, _) = item {
                take(streams, totals, &frame, host_ns, &mut report);
            }
        });
    }

    /// Take a frame of a recording.
    pub fn frame(&mut self, frame: &CanFrame, host_ns: u64, mut report: impl FnMut(BusEvent)) {
        take(&mut self.streams, &mut self.totals, frame, host_ns, &mut report);
    }
}

fn take(
    streams: &mut BTreeMap<(u8, u8), Stream>,
    totals: &mut BusTotals,
    frame: &CanFrame,
    host_ns: u64,
    report: &mut impl FnMut(BusEvent),
) {
    totals.frames += 1;
    let (sender, message) = match decode(frame) {
        Decoded::Other => return,
        Decoded::WrongLength => {
            totals.read += 1;
            totals.wrong_length += 1;
            return;
        }
        Decoded::Message(sender, message) => (sender, message),
    };
    totals.read += 1;
    let key = (sender, stream_number(&message));
    if !streams.contains_key(&key) && !room(streams, totals) {
        totals.overflow += 1;
        return;
    }
    let stream = streams.entry(key).or_insert_with(|| Stream::of(&message));
    match (stream, message) {
        (Stream::Speed(steady, run), BusMessage::Speed(value)) => {
            steady.take(Seen { host_ns, value }, |seen| {
                report(BusEvent::Speed(run.sample(sender, seen)));
            });
        }
        (Stream::Shaft(steady), BusMessage::RearShaft(value)) => {
            steady.take(Seen { host_ns, value }, |Seen { host_ns, value }| {
                let shaft_rpm = value.shaft_rpm;
                report(BusEvent::Shaft(ShaftSample { host_ns, sender, shaft_rpm }));
            });
        }
        _ => {}
    }
}

const fn stream_number(message: &BusMessage) -> u8 {
    match message {
        BusMessage::Speed(speed) => speed.kind as u8,
        BusMessage::RearShaft(_) => BusSpeed::ALL.len() as u8,
    }
}

/// Room for one more stream, where need be in place of the oldest of which nothing was borne out.
fn room(streams: &mut BTreeMap<(u8, u8), Stream>, totals: &mut BusTotals) -> bool {
    if streams.len() < STREAMS_MAX {
        return true;
    }
    let unknown = streams.iter().filter(|(_, stream)| !stream.is_known());
    let Some(key) = unknown.min_by_key(|(_, stream)| stream.newest_ns()).map(|(key, _)| *key)
    else {
        return false;
    };
    let gone = streams.remove(&key);
    totals.unborne += gone.map_or(0, |stream| stream.dropped() + 1);
    true
}

impl Stream {
    fn of(message: &BusMessage) -> Self {
        match message {
            BusMessage::Speed(_) => Self::Speed(Steady::default(), Run::default()),
            BusMessage::RearShaft(_) => Self::Shaft(Steady::default()),
        }
    }

    const fn dropped(&self) -> u64 {
        match self {
            Self::Speed(steady, _) => steady.dropped(),
            Self::Shaft(steady) => steady.dropped(),
        }
    }

    const fn is_known(&self) -> bool {
        match self {
            Self::Speed(steady, _) => steady.is_known(),
            Self::Shaft(steady) => steady.is_known(),
        }
    }

    fn newest_ns(&self) -> u64 {
        match self {
            Self::Speed(steady, _) => steady.newest_ns(),
            Self::Shaft(steady) => steady.newest_ns(),
        }
    }
}

impl Run {
    fn sample(&mut self, sender: u8, seen: Seen<SpeedMessage>) -> BusSample {
        let Seen { host_ns, value } = seen;
        let SpeedMessage { kind, speed_mm_s, direction, source, .. } = value;
        let distance = value.distance_mm.map(|raw_mm| self.go_on(host_ns, raw_mm));
        BusSample { host_ns, sender, kind, speed_mm_s, distance, direction, source }
    }

    fn go_on(&mut self, host_ns: u64, raw_mm: u32) -> BusDistance {
        let advance = self.last.map(|(last_ns, last_mm)| {
            let after_s = host_ns.saturating_sub(last_ns) as f64 * 1e-9;
            // Borne out by its neighbours, so that nothing here has to be plausible but its way.
            advance_mm(last_mm, raw_mm, SCALE_MOST * FASTEST_MM_S * after_s)
        });
        match advance {
            Some(Some(advance)) => self.distance_mm += advance,
            Some(None) => (self.number, self.distance_mm) = (self.number + 1, 0),
            None => {}
        }
        self.last = Some((host_ns, raw_mm));
        BusDistance { run: self.number, distance_mm: self.distance_mm }
    }
}

/// By how much a distance went on, over its wrap too; `None` when it is more than `most_mm` and
/// what messages are bunched by.
///
/// It wraps behind the last value that is data; a counter of full 32 bits, which states "no data"
/// for a while before it wraps, is known by the length of its way.
fn advance_mm(before_mm: u32, now_mm: u32, most_mm: f64) -> Option<u64> {
    let most = (most_mm.max(0.0) + BUNCHED_MM) as u64;
    let (before, now) = (u64::from(before_mm), u64::from(now_mm));
    let spans = [0, u64::from(DATA_MAX_32) + 1, 1 << 32];
    spans
        .into_iter()
        .filter_map(|span| (now + span).checked_sub(before))
        .find(|advance| *advance <= most)
}

impl Follows for SpeedMessage {
    fn follows(&self, before: &Self, after_s: f64) -> bool {
        let distance = before.distance_mm.zip(self.distance_mm);
        let speed = before.speed_mm_s.zip(self.speed_mm_s);
        distance.is_none_or(|(from, to)| advance_mm(from, to, FASTEST_MM_S * after_s).is_some())
            && speed.is_none_or(|(from, to)| {
                f64::from(from.abs_diff(to)) <= HARDEST_MM_S2.mul_add(after_s, BUNCHED_MM_S)
            })
    }
}

impl Follows for ShaftMessage {
    fn follows(&self, before: &Self, after_s: f64) -> bool {
        let speed = before.shaft_rpm.zip(self.shaft_rpm);
        speed.is_none_or(|(from, to)| (from - to).abs() <= SHAFT.0.mul_add(after_s, SHAFT.1))
    }
}
