//! The file of a packed capture.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::packed;
use trundle_bounds::sums::{block_of, stored_frame};

/// A head, whether its frame is a sound one, and what is in the frame.
type Part<'a> = (Option<([u16; 3], u16, bool)>, &'a [u8]);

fuzz_target!(|input: (u8, Vec<Part<'_>>)| {
    let (piece, parts) = input;
    let part = |&(head, bytes): &Part<'_>| match head {
        Some((numbers, plain, stored)) => {
            let frame = if stored { stored_frame(bytes) } else { bytes.to_vec() };
            block_of(numbers.map(u64::from), u32::from(plain), &frame)
        }
        None => bytes.into(),
    };
    let bytes: Vec<u8> = parts.iter().flat_map(part).collect();
    let _took = packed::packed(&bytes, usize::from(piece));
});
