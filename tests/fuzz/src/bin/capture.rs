//! The file of a capture.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::streams;
use trundle_bounds::sums::record_of;
use trundle_core::capture::BODY_MAX;

fuzz_target!(|input: (u8, Vec<(Option<(u8, u64)>, &[u8])>)| {
    let (piece, parts) = input;
    let part = |&(mend, bytes): &(Option<(u8, u64)>, &[u8])| match mend {
        Some((kind, host_ns)) => record_of(kind, host_ns, &bytes[..bytes.len().min(BODY_MAX)]),
        None => bytes.into(),
    };
    let bytes: Vec<u8> = parts.iter().flat_map(part).collect();
    let _took = streams::capture(&bytes, usize::from(piece).max(1));
});
