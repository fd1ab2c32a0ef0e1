//! Many samples of one kind in little memory, to the last bit.
//!
//! Neighbours differ little. Whole blocks are kept as differences of their words, some 20 bytes in
//! place of 110, and never change again: copies share them.

use crate::wire::board::CountSample;
use crate::wire::fix::{Fix, Quality};
use crate::wire::sentence::GstSigma;
use std::sync::Arc;

/// Samples in a block.
const BLOCK: usize = 256;
/// Words of a sample, at most.
const WORDS: usize = 16;

/// A sample as words.
type Words = [u64; WORDS];

/// What can be kept as words, and comes back from them the same to the last bit.
pub trait Sample: Copy {
    /// Its words; what it has none for is 0.
    fn words(&self) -> Words;
    /// The sample that has these words.
    fn of_words(words: &Words) -> Self;
}

/// Samples in the order they came.
#[derive(Clone, Debug, PartialEq)]
pub struct Samples<T> {
    /// Blocks of [`BLOCK`] each.
    sealed: Vec<Arc<Block<T>>>,
    /// The newest, at most [`BLOCK`]; empty only where there are none at all.
    open: Vec<T>,
}

#[derive(Debug, PartialEq)]
struct Block<T> {
    first: T,
    /// The others, each by what differs from the one before it.
    bytes: Box<[u8]>,
}

impl<T> Default for Samples<T> {
    fn default() -> Self {
        Self { sealed: Vec::new(), open: Vec::new() }
    }
}

impl<T: Sample> Samples<T> {
    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.sealed.len() * BLOCK + self.open.len()
    }

    /// True when there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.open.is_empty()
    }

    /// The first.
    #[must_use]
    pub fn first(&self) -> Option<&T> {
        self.sealed.first().map(|block| &block.first).or_else(|| self.open.first())
    }

    /// The newest.
    #[must_use]
    pub fn last(&self) -> Option<&T> {
        self.open.last()
    }

    /// Take one more.
    pub fn push(&mut self, sample: T) {
        if self.open.len() == BLOCK {
            self.sealed.extend(Block::of(&self.open).map(Arc::new));
            self.open.clear();
        }
        self.open.push(sample);
    }

    /// All of them.
    #[must_use]
    pub fn iter(&self) -> Iter<'_, T> {
        self.from(0)
    }

    /// Those from number `at` on, counted from 0.
    #[must_use]
    pub fn from(&self, at: usize) -> Iter<'_, T> {
        let begin = at - at % BLOCK;
        let mut iter = Iter { samples: self, at: begin, words: [0; WORDS], bytes: [].iter() };
        for _ in begin..at {
            iter.next();
        }
        iter
    }

    /// Number `at`, counted from 0.
    #[must_use]
    pub fn get(&self, at: usize) -> Option<T> {
        self.from(at).next()
    }

    /// How many come before the first for which `early` does not hold, where it holds for none
    /// after that one.
    #[must_use]
    pub fn partition_point(&self, early: impl Fn(&T) -> bool) -> usize {
        let blocks = self.sealed.partition_point(|block| early(&block.first));
        if blocks == self.sealed.len() && self.open.first().is_some_and(&early) {
            return blocks * BLOCK + self.open.partition_point(early);
        }
        let Some(block) = blocks.checked_sub(1) else { return 0 };
        let inside = self.from(block * BLOCK).take(BLOCK);
        block * BLOCK + inside.take_while(early).count()
    }

    /// Take away those from number `at` on.
    pub fn split_off(&mut self, at: usize) -> Self {
        let after = self.from(at).collect();
        let begin = (at / BLOCK).min(self.sealed.len());
        let kept: Vec<T> = self.from(begin * BLOCK).take(at - begin * BLOCK).collect();
        self.sealed.truncate(begin);
        self.open = kept;
        if self.open.is_empty()
            && let Some(block) = self.sealed.pop()
        {
            let whole = Self { sealed: vec![block], open: Vec::new() };
            self.open = whole.iter().collect();
        }
        after
    }
}

impl<T: Sample> FromIterator<T> for Samples<T> {
    fn from_iter<I: IntoIterator<Item = T>>(iter: I) -> Self {
        let mut samples = Self::default();
        iter.into_iter().for_each(|sample| samples.push(sample));
        samples
    }
}

impl<'a, T: Sample> IntoIterator for &'a Samples<T> {
    type Item = T;
    type IntoIter = Iter<'a, T>;

    fn into_iter(self) -> Iter<'a, T> {
        self.iter()
    }
}

/// Reads [`Samples`] out, one after the other.
#[derive(Clone, Debug)]
pub struct Iter<'a, T> {
    samples: &'a Samples<T>,
    /// Number of the next one.
    at: usize,
    /// Those of the one before it, in its block.
    words: Words,
    bytes: std::slice::Iter<'a, u8>,
}

impl<T: Sample> Iterator for Iter<'_, T> {
    type Item = T;

    #[inline]
    fn next(&mut self) -> Option<T> {
        let (number, inside) = (self.at / BLOCK, self.at % BLOCK);
        let Some(block) = self.samples.sealed.get(number) else {
            let sealed = self.samples.sealed.len() * BLOCK;
            let sample = *self.samples.open.get(self.at - sealed)?;
            self.at += 1;
            return Some(sample);
        };
        self.at += 1;
        if inside == 0 {
            (self.words, self.bytes) = (block.first.words(), block.bytes.iter());
            return Some(block.first);
        }
        let changed = u16::from_le_bytes([*self.bytes.next()?, *self.bytes.next()?]);
        for (n, word) in self.words.iter_mut().enumerate() {
            if changed & (1 << n) != 0 {
                *word = word.wrapping_add(taken(&mut self.bytes)?);
            }
        }
        Some(T::of_words(&self.words))
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        let left = self.samples.len().saturating_sub(self.at);
        (left, Some(left))
    }
}

impl<T: Sample> ExactSizeIterator for Iter<'_, T> {}

impl<T: Sample> Block<T> {
    fn of(samples: &[T]) -> Option<Self> {
        let (first, rest) = samples.split_first()?;
        let (mut before, mut bytes) = (first.words(), Vec::new());
        for sample in rest {
            let words = sample.words();
            let differs = |n: &usize| words[*n] != before[*n];
            let changed = (0..WORDS).filter(differs).fold(0_u16, |mask, n| mask | 1 << n);
            bytes.extend(changed.to_le_bytes());
            for n in (0..WORDS).filter(differs) {
                put(words[n].wrapping_sub(before[n]), &mut bytes);
            }
            before = words;
        }
        Some(Self { first: *first, bytes: bytes.into_boxed_slice() })
    }
}

/// A difference, the sign in its lowest bit, seven bits a byte, the lowest first.
fn put(difference: u64, bytes: &mut Vec<u8>) {
    let signed = difference.cast_signed();
    let mut left = (difference << 1) ^ (signed >> 63).cast_unsigned();
    while left > 0x7f {
        bytes.push(left as u8 | 0x80);
        left >>= 7;
    }
    bytes.push(left as u8);
}

#[inline]
fn taken(bytes: &mut std::slice::Iter<'_, u8>) -> Option<u64> {
    let (mut left, mut shift) = (0, 0);
    loop {
        let byte = *bytes.next()?;
        left |= u64::from(byte & 0x7f) << shift;
        if byte & 0x80 == 0 {
            return Some((left >> 1) ^ (left & 1).wrapping_neg());
        }
        shift += 7;
    }
}

/// Bits, the first of them the lowest.
fn bits(of: impl IntoIterator<Item = bool>) -> u64 {
    of.into_iter().enumerate().fold(0, |bits, (n, set)| bits | u64::from(set) << n)
}

impl Sample for CountSample {
    fn words(&self) -> Words {
        let [a, b, c] = self.impulses;
        let [d, e, f] = self.last_edge_us.map(Option::unwrap_or_default);
        let [g, h, i] = self.rejected.map(u64::from);
        let known = self.last_edge_us.map(|edge| edge.is_some());
        let flags = bits([self.in_work].into_iter().chain(known));
        let overruns = u64::from(self.overruns);
        [self.host_ns, self.board_us, a, b, c, d, e, f, g, h, i, flags, overruns, 0, 0, 0]
    }

    fn of_words(words: &Words) -> Self {
        let [host_ns, board_us, a, b, c, d, e, f, g, h, i, flags, overruns, ..] = *words;
        let edge = |n: u32, us: u64| (flags & (2 << n) != 0).then_some(us);
        Self {
            host_ns,
            board_us,
            impulses: [a, b, c],
            last_edge_us: [edge(0, d), edge(1, e), edge(2, f)],
            rejected: [g as u32, h as u32, i as u32],
            in_work: flags & 1 != 0,
            overruns: overruns as u32,
        }
    }
}

impl Sample for Fix {
    fn words(&self) -> Words {
        let number = |value: Option<f64>| value.map_or(0, f64::to_bits);
        let sigma_m = self.gst.map_or((0.0, 0.0, None), |s| (s.lat_m, s.lon_m, s.height_m));
        let known = bits([
            self.height_m.is_some(),
            self.satellites.is_some(),
            self.hdop.is_some(),
            self.speed_m_s.is_some(),
            self.track_deg.is_some(),
            self.gst.is_some(),
            sigma_m.2.is_some(),
        ]);
        let kind = u64::from(self.satellites.unwrap_or(0)) << 16 | coded(self.quality);
        [
            self.utc_ns.cast_unsigned(),
            self.host_ns,
            self.lat_deg.to_bits(),
            self.lon_deg.to_bits(),
            number(self.height_m),
            number(self.speed_m_s),
            number(self.track_deg),
            u64::from(self.hdop.map_or(0, f32::to_bits)),
            kind,
            known,
            sigma_m.0.to_bits(),
            sigma_m.1.to_bits(),
            number(sigma_m.2),
            self.speed_quantum_m_s.to_bits(),
            self.position_quantum_m.to_bits(),
            0,
        ]
    }

    fn of_words(words: &Words) -> Self {
        let [utc, host_ns, lat, lon, height, speed, track, hdop, kind, known, rest @ ..] = *words;
        let [lat_m, lon_m, height_m, speed_quantum, position_quantum, _] = rest.map(f64::from_bits);
        let has = |n: u32| known & (1 << n) != 0;
        let number = |n: u32, bits: u64| has(n).then_some(f64::from_bits(bits));
        let sigma = GstSigma { lat_m, lon_m, height_m: has(6).then_some(height_m) };
        Self {
            utc_ns: utc.cast_signed(),
            host_ns,
            lat_deg: f64::from_bits(lat),
            lon_deg: f64::from_bits(lon),
            height_m: number(0, height),
            quality: quality(kind as u16),
            satellites: has(1).then_some((kind >> 16) as u8),
            hdop: has(2).then_some(f32::from_bits(hdop as u32)),
            speed_m_s: number(3, speed),
            track_deg: number(4, track),
            gst: has(5).then_some(sigma),
            speed_quantum_m_s: speed_quantum,
            position_quantum_m: position_quantum,
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
