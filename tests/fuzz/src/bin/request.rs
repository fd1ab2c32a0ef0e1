//! Requests to the live page.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::requests;

fuzz_target!(|input: (bool, bool, &str)| {
    let (inside, locked, text) = input;
    let _took = requests::request(text, inside, locked);
});
