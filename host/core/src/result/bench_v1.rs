//! `trundle-bench`, version 1: the check of a counter board on the bench, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-bench-1.schema.json`. Fields are only ever added.

use super::check_v1::line_v1;
use super::document::{list, objects, to_text};
use crate::fitness::board_clock::ClockRate;
use crate::fitness::firmware;
use crate::survey::bench::Bench;

/// The check as one line of JSON, without a line end. Same check, same bytes.
#[must_use]
pub fn to_json(bench: &Bench) -> String {
    to_text(&bench_v1(bench))
}

objects! {
    bench_v1(bench: &Bench) {
        format = "trundle-bench",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        passes = bench.passes(),
        judged = bench.judged(),
        capture_whole = bench.whole,
        damaged_bytes = bench.damaged_bytes,
        board = bench.hello.map(|hello| format!("{:016x}", hello.board_id.0)),
        firmware = bench.hello.map(|hello| firmware_v1(hello.firmware)),
        inputs = list(&bench.planned, |input| input.word()),
        lines = list(&bench.lines, line_v1),
        clock = bench.clock.as_ref().map(clock_v1),
    }

    firmware_v1(version: [u8; 3]) {
        version = firmware::version_words(version),
        expected = firmware::version_words(firmware::EXPECTED),
        stands = firmware::age(version).word(),
    }

    clock_v1(rate: &ClockRate) {
        fast_ppm = rate.ppm,
        u95_ppm = rate.u95_ppm,
        by = rate.by.word(),
        span_s = rate.span_s,
    }
}
