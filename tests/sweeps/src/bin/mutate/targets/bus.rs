//! Readers of the implement bus: an adapter's lines, recordings as text.

use super::Attempt;
use trundle_bounds::bus::{self, line_of};
use trundle_core::wire::bus::frame::{CanFrame, ExtendedId, Id, StandardId};
use trundle_core::wire::bus::log::write_line;
use trundle_tests::Draws;
use trundle_tests::mutation::Mutator;

/// Longest input of a stream, bytes.
const LONGEST: usize = 1024;
/// Longest line of a recording, bytes.
const LINE_LONGEST: usize = 128;

/// Frames of a drive, each a tenth of a second after the one before, and foreign ones.
fn frames() -> Vec<CanFrame> {
    let mut out = Vec::new();
    for n in 0..40_u32 {
        let speed_mm_s = (2_000 + 10 * n) as u16;
        let distance_mm = 0xFAFF_F000_u32.wrapping_add(200 * n);
        let mut data = [0xFF; 8];
        data[..2].copy_from_slice(&speed_mm_s.to_le_bytes());
        data[2..6].copy_from_slice(&distance_mm.to_le_bytes());
        let group = [0x18FE_48F0, 0x18FE_49F0, 0x0CF0_22F0, 0x18FE_43F0][n as usize % 4];
        let ids = [ExtendedId::new(group), ExtendedId::new(n << 22 | n)];
        let ids = ids.into_iter().flatten().map(Id::Extended);
        let short = StandardId::new(n as u16 * 50).map(Id::Standard);
        out.extend(ids.chain(short).filter_map(|id| CanFrame::new(id, &data)));
        out.extend(short.and_then(|id| CanFrame::remote(id, n as usize % 9)));
    }
    out
}

/// The adapter's line.
pub fn adapter() -> Attempt {
    let stamp = |n: usize| (n.is_multiple_of(7)).then_some(n as u16 * 100);
    let pool = frames().iter().enumerate().map(|(n, frame)| line_of(frame, stamp(n))).collect();
    let words: [&[u8]; 12] = [
        b"\r",
        b"\x07",
        b"T",
        b"t",
        b"R",
        b"r",
        b"V1013\r",
        b"z\r",
        b"18FE48F08",
        b"FFFF",
        b"00",
        b"EA60\r",
    ];
    let mutator = Mutator::stream(pool, &words, LONGEST);
    Box::new(move |draws: &mut Draws, input| {
        mutator.input(draws, input);
        let cut = draws.below(input.len() + 1);
        bus::adapter(input, cut)
    })
}

/// A line of a recording.
pub fn log() -> Attempt {
    let time_us = |n: usize| 1_700_000_000_000_000 + n as u64 * 100_003;
    let lines = frames()
        .into_iter()
        .enumerate()
        .map(|(n, frame)| write_line(time_us(n), ["can0", "vcan1"][n % 2], &frame).into_bytes());
    let words: [&[u8]; 12] = [
        b"(",
        b") ",
        b".",
        b"#",
        b"##",
        b"#R",
        b" ",
        b"\n",
        b"18FE48F0",
        b"20000080",
        b"9999999999",
        b" T",
    ];
    let mutator = Mutator::text(lines.collect(), &words, LINE_LONGEST);
    Box::new(move |draws: &mut Draws, input| {
        mutator.input(draws, input);
        bus::log(input)
    })
}
