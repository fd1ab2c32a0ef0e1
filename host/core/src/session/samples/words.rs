//! Samples as words: what goes on steadily, and decimals as the whole numbers they were sent as.

use super::{Sample, Words};
use crate::wire::board::CountSample;
use crate::wire::fields::{KM_H_M_S, KNOT_M_S, MINUTE_M};
use crate::wire::fix::{Fix, Quality};
use crate::wire::sentence::GstSigma;

/// Bits, the first of them the lowest.
fn bits(of: impl IntoIterator<Item = bool>) -> u64 {
    of.into_iter().enumerate().fold(0, |bits, (n, set)| bits | u64::from(set) << n)
}

impl Sample for CountSample {
    /// Board time, impulses and edge times.
    const STEADY: u16 = 0b1111_1101;

    fn words(&self) -> Words {
        let host_ns = self.host_ns.wrapping_sub(self.board_us.wrapping_mul(1000));
        let [a, b, c] = self.impulses;
        let before = |edge: Option<u64>| edge.map_or(0, |us| self.board_us.wrapping_sub(us));
        let [d, e, f] = self.last_edge_us.map(before);
        let [g, h, i] = self.rejected.map(u64::from);
        let known = self.last_edge_us.map(|edge| edge.is_some());
        let flags = bits([self.in_work].into_iter().chain(known));
        let overruns = u64::from(self.overruns);
        [self.board_us, host_ns, a, b, c, d, e, f, g, h, i, flags, overruns, 0, 0, 0]
    }

    fn of_words(words: &Words) -> Self {
        let [board_us, host_ns, a, b, c, d, e, f, g, h, i, flags, overruns, ..] = *words;
        let edge = |n: u32, us: u64| (flags & (2 << n) != 0).then_some(board_us.wrapping_sub(us));
        Self {
            host_ns: host_ns.wrapping_add(board_us.wrapping_mul(1000)),
            board_us,
            impulses: [a, b, c],
            last_edge_us: [edge(0, d), edge(1, e), edge(2, f)],
            rejected: [g as u32, h as u32, i as u32],
            in_work: flags & 1 != 0,
            overruns: overruns as u32,
        }
    }
}

/// A unit and how many of its parts are in one: a number is so many parts.
#[derive(Clone, Copy)]
struct Parts {
    unit: f64,
    parts: f64,
}

/// Rounding of what is calculated from decimals, in last places: a sum or a product of two.
const OFF: std::ops::RangeInclusive<i64> = -1..=2;

impl Parts {
    const fn new(unit: f64, parts: f64) -> Self {
        Self { unit, parts }
    }

    /// A decimal of a unit whose last digit is worth `quantum`.
    fn of(unit: f64, quantum: f64) -> Self {
        Self { unit, parts: (unit / quantum).round() }
    }

    /// Parts that a number is, and its last places off them; `None` where it is not so many.
    fn whole(self, value: f64) -> Option<u64> {
        let whole = (value / self.unit * self.parts).round() as i64;
        let off = value.to_bits().wrapping_sub(self.value(whole).to_bits()).cast_signed();
        let word = whole.checked_mul(4)?.checked_add(off.wrapping_sub(*OFF.start()))?;
        OFF.contains(&off).then_some(word.cast_unsigned())
    }

    fn value(self, whole: i64) -> f64 {
        whole as f64 / self.parts * self.unit
    }

    /// The number of a word of [`Self::whole`].
    fn number(self, word: u64) -> f64 {
        let word = word.cast_signed();
        let off = (word & 3) + OFF.start();
        f64::from_bits(self.value(word >> 2).to_bits().wrapping_add_signed(off))
    }
}

/// Numbers of a fix that are sent as decimals.
const DECIMALS: usize = 8;

/// What each may be parts of: latitude, longitude, height, speed, track, and the three of GST.
fn parts(speed_quantum_m_s: f64, position_quantum_m: f64) -> [[Parts; 2]; DECIMALS] {
    const MILLI: Parts = Parts::new(1.0, 1e3);
    const FINE: Parts = Parts::new(1.0, 1e4);
    let degree = Parts::new(1.0, 60.0 * (MINUTE_M / position_quantum_m).round());
    let speed = [KNOT_M_S, KM_H_M_S].map(|unit| Parts::of(unit, speed_quantum_m_s));
    let (place, rest) = ([degree; 2], [MILLI, FINE]);
    [place, place, rest, speed, [Parts::new(1.0, 1e2), MILLI], rest, rest, rest]
}

/// A number as a word, and in which way.
fn worded(value: f64, parts: [Parts; 2]) -> (u64, u64) {
    let whole = |n: usize| Some((parts[n].whole(value)?, n as u64 + 1));
    whole(0).or_else(|| whole(1)).unwrap_or((value.to_bits(), 0))
}

fn number(word: u64, way: u64, parts: [Parts; 2]) -> f64 {
    match way {
        1 => parts[0].number(word),
        2 => parts[1].number(word),
        _ => f64::from_bits(word),
    }
}

impl Sample for Fix {
    /// UTC, latitude and longitude.
    const STEADY: u16 = 0b1101;

    fn words(&self) -> Words {
        let utc_ns = self.utc_ns.cast_unsigned();
        let sigma = self.gst.map_or((0.0, 0.0, None), |s| (s.lat_m, s.lon_m, s.height_m));
        let known = bits([
            self.height_m.is_some(),
            self.satellites.is_some(),
            self.hdop.is_some(),
            self.speed_m_s.is_some(),
            self.track_deg.is_some(),
            self.gst.is_some(),
            sigma.2.is_some(),
        ]);
        let numbers = [
            self.lat_deg,
            self.lon_deg,
            self.height_m.unwrap_or_default(),
            self.speed_m_s.unwrap_or_default(),
            self.track_deg.unwrap_or_default(),
            sigma.0,
            sigma.1,
            sigma.2.unwrap_or_default(),
        ];
        let parts = parts(self.speed_quantum_m_s, self.position_quantum_m);
        let each: [(u64, u64); DECIMALS] = std::array::from_fn(|n| worded(numbers[n], parts[n]));
        let ways = (0..DECIMALS).fold(0, |ways, n| ways | each[n].1 << (2 * n));
        let kind = u64::from(self.satellites.unwrap_or(0)) << 16 | coded(self.quality);
        let [lat, lon, height, speed, track, a, b, c] = each.map(|each| each.0);
        [
            utc_ns,
            self.host_ns.wrapping_sub(utc_ns),
            lat,
            lon,
            height,
            speed,
            track,
            a,
            b,
            c,
            u64::from(self.hdop.map_or(0, f32::to_bits)),
            kind,
            ways << 8 | known,
            self.speed_quantum_m_s.to_bits(),
            self.position_quantum_m.to_bits(),
            0,
        ]
    }

    fn of_words(words: &Words) -> Self {
        let [utc_ns, host_ns, rest @ ..] = *words;
        let [.., hdop, kind, known, speed_quantum, position_quantum, _] = *words;
        let speed_quantum_m_s = f64::from_bits(speed_quantum);
        let position_quantum_m = f64::from_bits(position_quantum);
        let parts = parts(speed_quantum_m_s, position_quantum_m);
        let number = |n: usize| number(rest[n], known >> (8 + 2 * n) & 3, parts[n]);
        let has = |bit: u32| known & (1 << bit) != 0;
        let if_known = |bit: u32, n: usize| has(bit).then(|| number(n));
        let sigma = || GstSigma { lat_m: number(5), lon_m: number(6), height_m: if_known(6, 7) };
        Self {
            utc_ns: utc_ns.cast_signed(),
            host_ns: host_ns.wrapping_add(utc_ns),
            lat_deg: number(0),
            lon_deg: number(1),
            height_m: if_known(0, 2),
            quality: quality(kind as u16),
            satellites: has(1).then_some((kind >> 16) as u8),
            hdop: has(2).then_some(f32::from_bits(hdop as u32)),
            speed_m_s: if_known(3, 3),
            track_deg: if_known(4, 4),
            gst: has(5).then(sigma),
            speed_quantum_m_s,
            position_quantum_m,
        }
    }
}

/// In the code of a kind of fix: its digit stands for nothing else.
const OTHER: u16 = 0x100;

fn coded(quality: Quality) -> u64 {
    let other = if matches!(quality, Quality::Other(_)) { OTHER } else { 0 };
    u64::from(other | u16::from(quality.digit()))
}

fn quality(code: u16) -> Quality {
    let digit = code as u8;
    if code & OTHER == 0 { Quality::from_digit(digit) } else { Quality::Other(digit) }
}
