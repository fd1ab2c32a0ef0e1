//! Packed captures.
#![allow(clippy::unwrap_used)]

use super::Attempt;
use super::pools::records;
use trundle::packed::pack::pack;
use trundle::packed::{BLOCK, HEAD};
use trundle_bounds::packed::packed;
use trundle_bounds::sums::{block_of, stored_frame};
use trundle_core::capture::encode;
use trundle_tests::Draws;
use trundle_tests::mutation::Mutator;

/// Longest input, bytes.
const LONGEST: usize = 2048;
/// Bytes of which blocks are made that hold little: what repeats comes out short.
const REPEATS: &[u8] = b"speed and count ";

/// A packed capture, whole or in parts.
pub fn capture() -> Attempt {
    let mut small = Vec::new();
    records("simulated-rtk").iter().take(6).for_each(|record| encode(record, &mut small));
    small.truncate(255);
    let long = REPEATS.repeat(3 * BLOCK / REPEATS.len() - 7);
    let files = [small.clone(), long].map(|plain| {
        let mut out = Vec::new();
        pack(&mut &plain[..], plain.len() as u64, &mut out).unwrap();
        out
    });
    let blocks: Vec<Vec<u8>> = files.iter().flat_map(|file| blocks(file)).collect();
    let magic = [0x5E, 0x2A, 0x4D, 0x18];
    let head = [&magic[..], &[48, 0, 0, 0], b"trpack\x01\x00"].concat();
    let words: [&[u8]; 6] =
        [&magic, &magic[..1], &magic[..3], &head, &[0xFF; 8], &[0x28, 0xB5, 0x2F, 0xFD]];
    let whole = Mutator::text(files.to_vec(), &words, LONGEST);
    let parts = Mutator::stream(blocks.clone(), &words, LONGEST);
    let frames = blocks.iter().map(|block| block[HEAD..].to_vec()).chain([small.clone()]);
    let frames = Mutator::text(frames.collect(), &words, LONGEST / 4);
    let mut frame = Vec::new();
    Box::new(move |draws, input| {
        match draws.below(3) {
            0 => whole.input(draws, input),
            1 => parts.input(draws, input),
            // Damage under right sums.
            _ => {
                input.clear();
                for _ in 0..=draws.below(3) {
                    frames.input(draws, &mut frame);
                    input.extend_from_slice(&under_sums(draws, &small, &frame, input.len()));
                }
            }
        }
        let piece = 1 + draws.below(input.len().max(1));
        packed(input, piece)
    })
}

/// A block under right sums: now and then one that can be, else one whose numbers are of chance.
fn under_sums(draws: &mut Draws, small: &[u8], frame: &[u8], at: usize) -> Vec<u8> {
    const TOTALS: [u64; 6] = [255, 256, 131_072, 196_496, 4 << 30, u64::MAX];
    let total = TOTALS[draws.below(TOTALS.len())];
    let offset = [0, 255, total, BLOCK as u64, draws.bits()][draws.below(5)];
    let at = [at as u64, 0, draws.bits()][draws.below(3)];
    let plain = [0, 255, BLOCK as u32, draws.bits() as u32][draws.below(4)];
    match draws.below(4) {
        0 => block_of([total, offset, at], small.len() as u32, &stored_frame(small)),
        1 => block_of([total, total, at], 0, &[]),
        _ => block_of([total, offset, at], plain, frame),
    }
}

/// The blocks of a packed capture, each with its head.
fn blocks(file: &[u8]) -> Vec<Vec<u8>> {
    let (mut all, mut rest) = (Vec::new(), file);
    while !rest.is_empty() {
        let frame = u32::from_le_bytes(rest[44..48].try_into().unwrap()) as usize;
        let (block, behind) = rest.split_at(HEAD + frame);
        all.push(block.to_vec());
        rest = behind;
    }
    all
}
