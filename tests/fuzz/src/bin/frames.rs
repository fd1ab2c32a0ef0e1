//! Frames of the board's line, both directions.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::streams;
use trundle_bounds::sums::frame_of;

fuzz_target!(|input: (usize, Vec<(bool, &[u8])>)| {
    let (cut, parts) = input;
    let part = |&(mend, bytes): &(bool, &[u8])| if mend { frame_of(bytes) } else { bytes.into() };
    let bytes: Vec<u8> = parts.iter().flat_map(part).collect();
    let _took = streams::frames(&bytes, cut % (bytes.len() + 1));
});
