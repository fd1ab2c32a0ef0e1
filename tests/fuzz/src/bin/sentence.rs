//! One line of the receiver.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::streams;
use trundle_bounds::sums::sentence_of;

fuzz_target!(|input: (bool, &[u8])| {
    let (mend, bytes) = input;
    let _took = if mend {
        // The line end belongs to the line's splitter.
        streams::sentence(sentence_of(bytes).trim_ascii_end())
    } else {
        streams::sentence(bytes)
    };
});
