//! The rig file.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::texts;

fuzz_target!(|text: &str| {
    let _took = texts::rig(text);
});
