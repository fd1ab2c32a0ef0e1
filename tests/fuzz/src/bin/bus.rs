//! The adapter's line as far as speeds and distances, and a line of a recording.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::bus;

fuzz_target!(|input: (usize, &[u8])| {
    let (cut, bytes) = input;
    let _took = bus::adapter(bytes, cut % (bytes.len() + 1));
    let _read = bus::log(bytes);
});
