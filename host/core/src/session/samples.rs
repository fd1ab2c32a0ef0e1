//! Many samples of one kind in little memory, to the last bit.
//!
//! Neighbours differ little. Whole blocks are kept as differences of their words, a dozen bytes in
//! place of 110, and never change again: copies share them.

mod words;

use std::sync::Arc;

/// Samples in a block.
const BLOCK: usize = 128;
/// Words of a sample, at most.
const WORDS: usize = 16;

/// A sample as words.
type Words = [u64; WORDS];

/// What can be kept as words, and comes back from them the same to the last bit.
pub trait Sample: Copy {
    /// The words that go on as they did, most of the time: bit n for number n. What is kept of them
    /// is by how much they go faster or slower.
    const STEADY: u16;

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
        let (near, bytes) = (Near::default(), [].iter());
        let mut iter = Iter { samples: self, at: begin, near, bytes };
        for _ in begin..at {
            iter.next();
        }
        iter
    }

    /// Those from number `from`, or up to a block before it, to the one before number `to`. Whole
    /// blocks are shared.
    #[must_use]
    pub fn part(&self, from: usize, to: usize) -> Self {
        let to = to.min(self.len());
        if from >= to {
            return Self::default();
        }
        let (first, last) = (from / BLOCK, (to - 1) / BLOCK);
        let sealed = self.sealed.get(first..last).unwrap_or_default().to_vec();
        Self { sealed, open: self.from(last * BLOCK).take(to - last * BLOCK).collect() }
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

    /// Leave out those that are not to be kept.
    pub fn retain(&mut self, keep: impl FnMut(&T) -> bool) {
        *self = self.iter().filter(keep).collect();
    }

    /// No more will come, for all that is known: take no more room than there is need for.
    pub fn shrink_to_fit(&mut self) {
        self.sealed.shrink_to_fit();
        self.open.shrink_to_fit();
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
    /// The one before it, in its block.
    near: Near,
    bytes: std::slice::Iter<'a, u8>,
}

/// Words of a sample, and by how much those that are steady differ from the sample before.
#[derive(Clone, Copy, Debug, Default)]
struct Near {
    words: Words,
    steps: Words,
}

impl Near {
    /// With nothing before it.
    const fn first(words: Words) -> Self {
        Self { words, steps: [0; WORDS] }
    }

    /// What is next if all goes on as it does.
    #[inline]
    fn foretold(&self, n: usize) -> u64 {
        self.words[n].wrapping_add(self.steps[n])
    }

    /// Word `n` of the next one.
    #[inline]
    fn go_on(&mut self, n: usize, word: u64, steady: u16) {
        if steady & (1 << n) != 0 {
            self.steps[n] = word.wrapping_sub(self.words[n]);
        }
        self.words[n] = word;
    }
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
            (self.near, self.bytes) = (Near::first(block.first.words()), block.bytes.iter());
            return Some(block.first);
        }
        let changed = u16::from_le_bytes([*self.bytes.next()?, *self.bytes.next()?]);
        for n in 0..WORDS {
            let mut word = self.near.foretold(n);
            if changed & (1 << n) != 0 {
                word = word.wrapping_add(taken(&mut self.bytes)?);
            }
            self.near.go_on(n, word, T::STEADY);
        }
        Some(T::of_words(&self.near.words))
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
        // Room for all at once, and given back whole: what grows and shrinks leaves holes behind.
        let room = size_of_val(rest);
        let (mut near, mut bytes) = (Near::first(first.words()), Vec::with_capacity(room));
        for sample in rest {
            let words = sample.words();
            let differs = |n: &usize| words[*n] != near.foretold(*n);
            let changed = (0..WORDS).filter(differs).fold(0_u16, |mask, n| mask | 1 << n);
            bytes.extend(changed.to_le_bytes());
            for n in (0..WORDS).filter(differs) {
                put(words[n].wrapping_sub(near.foretold(n)), &mut bytes);
            }
            for (n, word) in words.into_iter().enumerate() {
                near.go_on(n, word, T::STEADY);
            }
        }
        Some(Self { first: *first, bytes: Box::from(bytes.as_slice()) })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::board::CountSample;
    use crate::wire::fields::KNOT_M_S;
    use crate::wire::fix::{Fix, Quality};
    use crate::wire::sentence::GstSigma;

    /// Bytes a sample.
    fn bytes<T: Sample + PartialEq + std::fmt::Debug>(sample: impl Fn(u64, u64) -> T) -> f64 {
        let mut state = 7_u64;
        let draws = std::iter::from_fn(|| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695);
            Some(state >> 33)
        });
        let all: Vec<T> = draws.take(100 * BLOCK + 1).zip(0..).map(|(d, n)| sample(n, d)).collect();
        let kept: Samples<T> = all.iter().copied().collect();
        assert!(kept.iter().eq(all));
        let own = size_of::<Block<T>>() + 3 * size_of::<usize>();
        let bytes: usize = kept.sealed.iter().map(|block| block.bytes.len() + own).sum();
        bytes as f64 / (100 * BLOCK) as f64
    }

    #[test]
    fn a_sample_of_a_drive_takes_some_twenty_bytes() {
        let counts = bytes(|n, draw| {
            let (at_us, wheel) = (20_000 * n, n * 20_000 / 3_940);
            let edge_us = 3_940 * wheel + draw % 40;
            CountSample {
                host_ns: at_us * 1000 + 800_000_000 + draw % 2_000_000,
                board_us: at_us + 100,
                impulses: [wheel, wheel / 2, 0],
                last_edge_us: [Some(edge_us), Some(edge_us / 2), None],
                rejected: [0; 3],
                in_work: n % 4000 < 2000,
                overruns: 0,
            }
        });
        // As a receiver prints them and they are read: seven decimals of a minute, three else.
        let fixes = bytes(|n, draw| Fix {
            utc_ns: (1_700_000_000_000_000_000 + n * 100_000_000).cast_signed(),
            host_ns: n * 100_000_000 + 40_000_000 + draw % 2_000_000,
            lat_deg: (31_200_000_000 + n * 900 + draw % 100) as f64 / 6e8,
            lon_deg: (60_000_000 + n * 700 + draw / 100 % 100) as f64 / 6e8,
            height_m: Some((50_000 + draw % 30) as f64 / 1e3 + 47.1),
            quality: Quality::RtkFixed,
            satellites: Some(14),
            hdop: Some(0.7),
            speed_m_s: Some((4_000 + draw % 50) as f64 / 1e3 * KNOT_M_S),
            track_deg: Some((9_000 + draw % 70) as f64 / 1e2),
            gst: Some(GstSigma { lat_m: 0.012, lon_m: 0.011, height_m: Some(0.02) }),
            speed_quantum_m_s: KNOT_M_S / 1e3,
            position_quantum_m: 1852.0 / 1e7,
        });
        assert!(counts < 14.0 && fixes < 21.0, "{counts} and {fixes} bytes");
    }
}
