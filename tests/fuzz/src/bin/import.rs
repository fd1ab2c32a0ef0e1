//! The files of an import.
#![no_main]

use libfuzzer_sys::fuzz_target;
use trundle_bounds::texts;

fuzz_target!(|files: (&[u8], &[u8], Option<&[u8]>)| {
    let (nmea, counts, marks) = files;
    let _took = texts::import(nmea, counts, marks);
});
