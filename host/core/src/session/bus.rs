//! The bus in a session: what it says now, and all of it where a trail is kept.

use crate::session::samples::{Sample, Samples};
use crate::wire::bus::log::read_line;
use crate::wire::bus::message::{BusSpeed, Direction, SelectedSource};
use crate::wire::bus::reader::{
    BusDistance, BusEvent, BusReader, BusSample, BusTotals, ShaftSample,
};
use std::collections::BTreeMap;

/// Samples kept of all streams together: ten hours of four streams at 10 Hz are 1.4 million, in
/// some 15 MB. What comes later is not kept.
const SAMPLES_MAX: usize = 4_000_000;
/// In the words of a sample: no source is stated.
const NONE: u64 = 0xFF;

/// Who sends which speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BusKey {
    /// Address of the control unit.
    pub sender: u8,
    /// Which speed.
    pub kind: BusSpeed,
}

/// Everything the bus said.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BusTrail {
    /// Samples of each sender and speed, rising in time.
    pub streams: BTreeMap<BusKey, Samples<BusSample>>,
    /// Samples found no room: the trail ends before the capture does.
    pub cut: bool,
    kept: usize,
}

/// The newest of each.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BusNow {
    /// Speeds.
    pub speeds: BTreeMap<BusKey, BusSample>,
    /// Shafts, by address.
    pub shafts: BTreeMap<u8, ShaftSample>,
}

/// The bus's part of a session.
#[derive(Clone, Debug, Default)]
pub(super) struct BusSide {
    pub reader: BusReader,
    pub now: BusNow,
    pub trail: Option<BusTrail>,
}

impl BusSide {
    pub fn totals(&self) -> BusTotals {
        self.reader.totals()
    }

    pub fn push(&mut self, bytes: &[u8], host_ns: u64) {
        let Self { reader, now, trail } = self;
        reader.push(bytes, host_ns, |event| note(now, trail, event));
    }

    /// A line of a recording; false when it cannot be read.
    pub fn line(&mut self, line: &[u8], host_ns: u64) -> bool {
        let Self { reader, now, trail } = self;
        let Some(read) = read_line(line) else { return false };
        if let Some(frame) = read.frame {
            reader.frame(&frame, host_ns, |event| note(now, trail, event));
        }
        true
    }
}

fn note(now: &mut BusNow, trail: &mut Option<BusTrail>, event: BusEvent) {
    match event {
        BusEvent::Speed(sample) => {
            let BusSample { sender, kind, .. } = sample;
            now.speeds.insert(BusKey { sender, kind }, sample);
            if let Some(trail) = trail {
                trail.push(sample);
            }
        }
        BusEvent::Shaft(sample) => {
            now.shafts.insert(sample.sender, sample);
        }
    }
}

impl BusTrail {
    fn push(&mut self, sample: BusSample) {
        if self.kept >= SAMPLES_MAX {
            self.cut = true;
            return;
        }
        self.kept += 1;
        let BusSample { sender, kind, .. } = sample;
        self.streams.entry(BusKey { sender, kind }).or_default().push(sample);
    }
}

impl Sample for BusSample {
    /// Time and distance.
    const STEADY: u16 = 0b0101;

    fn words(&self) -> [u64; 16] {
        let mut words = [0; 16];
        let direction = match self.direction {
            None => 0,
            Some(Direction::Reverse) => 1,
            Some(Direction::Forward) => 2,
        };
        let source = match self.source {
            None => NONE,
            Some(SelectedSource::Wheel) => 0,
            Some(SelectedSource::Ground) => 1,
            Some(SelectedSource::Navigation) => 2,
            Some(SelectedSource::Blended) => 3,
            Some(SelectedSource::Simulated) => 4,
            Some(SelectedSource::Reserved(bits)) => 0x10 | u64::from(bits),
        };
        let known = u64::from(self.speed_mm_s.is_some()) | u64::from(self.distance.is_some()) << 1;
        words[0] = self.host_ns;
        words[1] = u64::from(self.speed_mm_s.unwrap_or(0));
        words[2] = self.distance.map_or(0, |at| at.distance_mm);
        words[3] = self.distance.map_or(0, |at| u64::from(at.run));
        words[4] = u64::from(self.sender)
            | (self.kind as u64) << 8
            | direction << 16
            | source << 24
            | known << 32;
        words
    }

    fn of_words(words: &[u64; 16]) -> Self {
        let [host_ns, speed, distance_mm, run, bits, ..] = *words;
        let part = |at: u32| bits >> at & 0xFF;
        let kind = BusSpeed::ALL[part(8) as usize % BusSpeed::ALL.len()];
        Self {
            host_ns,
            sender: part(0) as u8,
            kind,
            speed_mm_s: (part(32) & 1 != 0).then_some(speed as u16),
            distance: (part(32) & 2 != 0).then_some(BusDistance { run: run as u32, distance_mm }),
            direction: match part(16) {
                1 => Some(Direction::Reverse),
                2 => Some(Direction::Forward),
                _ => None,
            },
            source: match part(24) {
                0 => Some(SelectedSource::Wheel),
                1 => Some(SelectedSource::Ground),
                2 => Some(SelectedSource::Navigation),
                3 => Some(SelectedSource::Blended),
                4 => Some(SelectedSource::Simulated),
                NONE => None,
                bits => Some(SelectedSource::Reserved(bits as u8 & 0xF)),
            },
        }
    }
}
