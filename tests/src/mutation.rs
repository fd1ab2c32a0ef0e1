//! Damaged inputs from sound ones, each made from its seed alone.
//!
//! An input is a few sound pieces in a row, then some edits: flips, cuts, repeats, splices, and
//! words that matter to the decoder. Sums are mended by the caller now and then, so that damage
//! also reaches what stands behind a checksum.

use crate::Draws;

/// Sound pieces in one input, at most.
const PIECES: usize = 4;
/// Edits to one input, at most.
const EDITS: usize = 6;
/// Bytes that one repeat or one stretch of noise adds, at most.
const STRETCH: usize = 96;

/// Makes inputs for one decoder.
#[derive(Clone, Debug)]
pub struct Mutator {
    /// Sound pieces.
    pub pool: Vec<Vec<u8>>,
    /// Bytes that matter to the decoder.
    pub words: Vec<Vec<u8>>,
    /// Pieces joined before the edits; 1 where the decoder takes one document.
    pub pieces: usize,
    /// Longest input, bytes.
    pub longest: usize,
}

impl Mutator {
    /// Of a byte stream.
    #[must_use]
    pub fn stream(pool: Vec<Vec<u8>>, words: &[&[u8]], longest: usize) -> Self {
        Self { pool, words: owned(words), pieces: PIECES, longest }
    }

    /// Of one text at a time.
    #[must_use]
    pub fn text(pool: Vec<Vec<u8>>, words: &[&[u8]], longest: usize) -> Self {
        Self { pool, words: owned(words), pieces: 1, longest }
    }

    /// The next input.
    pub fn input(&self, draws: &mut Draws, out: &mut Vec<u8>) {
        out.clear();
        for _ in 0..=draws.below(self.pieces) {
            out.extend_from_slice(&self.pool[draws.below(self.pool.len())]);
        }
        self.damage(draws, out);
    }

    /// Some edits; now and then none.
    pub fn damage(&self, draws: &mut Draws, out: &mut Vec<u8>) {
        for _ in 0..draws.below(EDITS + 1) {
            if out.is_empty() {
                out.push(draws.bits() as u8);
            }
            self.edit(draws, out);
        }
        out.truncate(self.longest);
    }

    fn edit(&self, draws: &mut Draws, out: &mut Vec<u8>) {
        let at = draws.below(out.len());
        let to = at + draws.below((out.len() - at).min(STRETCH) + 1);
        match draws.below(12) {
            0 | 1 => out[at] ^= 1 << draws.below(8),
            2 => out[at] = draws.bits() as u8,
            3 => out.truncate(at),
            4 => drop(out.drain(..at)),
            5 => drop(out.drain(at..to)),
            6 => {
                let part = out[at..to].to_vec();
                for _ in 0..draws.below(4) {
                    out.splice(at..at, part.iter().copied());
                }
            }
            7 => {
                let other = &self.pool[draws.below(self.pool.len())];
                let (from, end) = (draws.below(other.len() + 1), draws.below(other.len() + 1));
                out.splice(at..to, other[from.min(end)..end.max(from)].iter().copied());
            }
            8 => insert(out, at..at, &self.words[draws.below(self.words.len())]),
            9 => insert(out, at..to, &self.words[draws.below(self.words.len())]),
            // A digit for a digit keeps a text readable and changes what it says.
            10 => {
                if let Some(digit) = out[at..].iter_mut().find(|byte| byte.is_ascii_digit()) {
                    *digit = b'0' + draws.below(10) as u8;
                }
            }
            _ => {
                let noise: Vec<u8> = (at..to).map(|_| draws.bits() as u8).collect();
                insert(out, at..at, &noise);
            }
        }
    }
}

fn owned(words: &[&[u8]]) -> Vec<Vec<u8>> {
    words.iter().map(|word| word.to_vec()).collect()
}

fn insert(out: &mut Vec<u8>, range: std::ops::Range<usize>, word: &[u8]) {
    out.splice(range, word.iter().copied());
}
