//! The regular report, read by its places.
//!
//! It comes fifty times a second and makes up nearly all that a board sends. Every field has its
//! own place, so it is read whole words at a time; the general reader of the `postcard` package
//! takes each byte by itself, some ten times as long, and is the oracle of the test below.

use crate::message::{CHANNELS, ChannelCounts, Counts, Stamp, Working};
use crate::units::{BoardMicros, Fixed32, Impulses};

/// Reads the payload; `None` if it is not of the right length or a flag is neither 0 nor 1.
pub fn read(payload: &[u8]) -> Option<Counts> {
    let mut places = Places(payload);
    let stamp = Stamp {
        boot_id: Fixed32(places.u32()?),
        sequence: Fixed32(places.u32()?),
        board_us: BoardMicros(places.u64()?),
    };
    let mut channels = [ChannelCounts::default(); CHANNELS];
    for channel in &mut channels {
        *channel = ChannelCounts {
            impulses: Impulses(places.u64()?),
            last_edge_us: BoardMicros(places.u64()?),
            rejected: Fixed32(places.u32()?),
        };
    }
    let working = Working {
        in_work: places.flag()?,
        changes: Fixed32(places.u32()?),
        last_change_us: BoardMicros(places.u64()?),
    };
    let (overruns, dropped_frames) = (Fixed32(places.u32()?), Fixed32(places.u32()?));
    let counts = Counts { stamp, channels, working, overruns, dropped_frames };
    places.0.is_empty().then_some(counts)
}

/// What is not read yet.
struct Places<'a>(&'a [u8]);

impl Places<'_> {
    #[inline]
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (first, rest) = self.0.split_first_chunk()?;
        self.0 = rest;
        Some(*first)
    }

    #[inline]
    fn u32(&mut self) -> Option<u32> {
        self.take().map(u32::from_le_bytes)
    }

    #[inline]
    fn u64(&mut self) -> Option<u64> {
        self.take().map(u64::from_le_bytes)
    }

    #[inline]
    fn flag(&mut self) -> Option<bool> {
        match self.take()? {
            [0] => Some(false),
            [1] => Some(true),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::{exact_payload_len, types};

    #[test]
    fn reads_what_postcard_reads() {
        const LENGTH: usize = exact_payload_len(types::COUNTS).unwrap();
        let mut state = 0x9E37_79B9_7F4A_7C15_u64;
        let mut read_well = 0;
        for round in 0..20_000 {
            let mut payload: [u8; LENGTH + 1] = core::array::from_fn(|_| {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                (state >> 24) as u8
            });
            // The flag: mostly one that exists.
            payload[16 + 3 * 20] = [0, 1, (state >> 32) as u8][round % 3];
            for length in [LENGTH, LENGTH - 1, LENGTH + 1, round % LENGTH] {
                let payload = &payload[..length];
                let general = match postcard::take_from_bytes::<Counts>(payload) {
                    Ok((counts, [])) => Some(counts),
                    _ => None,
                };
                assert_eq!(read(payload), general, "{payload:?}");
                read_well += u32::from(general.is_some());
            }
        }
        assert!(read_well > 12_000, "{read_well}");
    }
}
