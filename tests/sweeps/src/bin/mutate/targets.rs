//! The readers of bytes from outside, each with the bounds it must keep.

mod bus;
mod documents;
mod jobs;
mod packed;
mod pools;
mod streams;

use trundle_tests::Draws;

/// Makes one input from the draws, writes it down, and lets the reader at it; true if the reader
/// took something of it.
pub type Attempt = Box<dyn FnMut(&mut Draws, &mut Vec<u8>) -> bool>;

/// One reader.
#[derive(Clone, Copy, Debug)]
pub struct Target {
    /// Its name on the command line.
    pub name: &'static str,
    /// Inputs of a usual run.
    pub inputs: u64,
    /// Made anew for each thread.
    pub make: fn() -> Attempt,
}

/// Inputs of a usual run: readers of byte streams.
const STREAM: u64 = 10_000_000;
/// Readers of whole documents.
const DOCUMENT: u64 = 1_000_000;
/// The tables of other programs, which take a hundred times as long to read as a frame.
const TABLE: u64 = 300_000;
/// Packed captures, each of which may stand for some hundred kilobytes.
const PACKED: u64 = 100_000;
/// Whole jobs, from a damaged capture to the figure.
const JOB: u64 = 100_000;

/// All of them.
pub const ALL: [Target; 13] = [
    Target { name: "deframer", inputs: STREAM, make: streams::deframer },
    Target { name: "sentence", inputs: STREAM, make: streams::sentence },
    Target { name: "receiver", inputs: STREAM, make: streams::receiver },
    Target { name: "capture", inputs: STREAM, make: streams::capture },
    Target { name: "packed", inputs: PACKED, make: packed::capture },
    Target { name: "bus", inputs: STREAM, make: bus::adapter },
    Target { name: "bus-log", inputs: STREAM, make: bus::log },
    Target { name: "import", inputs: TABLE, make: documents::import },
    Target { name: "course", inputs: DOCUMENT, make: documents::course },
    Target { name: "rig", inputs: DOCUMENT, make: documents::rig },
    Target { name: "record", inputs: DOCUMENT, make: documents::record },
    Target { name: "request", inputs: STREAM, make: documents::request },
    Target { name: "job", inputs: JOB, make: jobs::job },
];
