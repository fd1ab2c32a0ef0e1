//! A live job on a port and a disk that do as they are told.

use super::Disk;
use std::path::Path;
use trundle::ports::PortChoice;
use trundle::ports::serial::{BytePort, Opener};
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::capture_read::read_from;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup, Parts};
use trundle_bounds::streams::owned;
use trundle_core::capture::Entry;
use trundle_core::session::{Keeps, SessionEvent};
use trundle_protocol::WireMessage as _;
use trundle_protocol::message::{Counts, Hello, Identity, Stamp, ToHost};
use trundle_protocol::units::{BoardMicros, Fixed32, Impulses};

pub fn setup() -> LiveSetup {
    let port = |path: &str| PortChoice { path: path.to_owned(), baud: 115_200 };
    LiveSetup {
        board: Some(port("board")),
        receiver: None,
        bus: None,
        capture: "fake.capture".into(),
        course_text: Some("[course]\nnominal_m = 100\n".to_owned()),
        keeps: Keeps::Passes,
        pace: 1.0,
        started_utc: Some("2026-03-30T10:15:00Z".to_owned()),
        practice: false,
    }
}

pub fn never() -> Opener {
    Box::new(|| Err("gone".to_owned()))
}

pub fn start(disk: &Disk, board: (Box<dyn BytePort>, Opener)) -> LiveJob {
    let writer = CaptureWriter::on(Box::new(disk.clone()), Path::new("fake.capture"));
    LiveJob::start_with(&setup(), Parts { writer, board: Some(board), receiver: None, bus: None })
        .unwrap()
}

pub fn stamp(sequence: u32) -> Stamp {
    Stamp {
        boot_id: Fixed32(5),
        sequence: Fixed32(sequence),
        board_us: BoardMicros(1_000_000 + u64::from(sequence) * 20_000),
    }
}

pub fn hello(sequence: u32) -> Vec<u8> {
    let board_id = Identity(0xB0A2D);
    let hello = Hello { stamp: stamp(sequence), board_id, capabilities: 0b1, ..Hello::default() };
    [&[0], ToHost::Hello(hello).frame().as_bytes()].concat()
}

pub fn counts(sequence: u32) -> Vec<u8> {
    let mut counts = Counts { stamp: stamp(sequence), ..Counts::default() };
    counts.channels[0].impulses = Impulses(u64::from(sequence) * 3);
    ToHost::Counts(counts).frame().as_bytes().to_vec()
}

pub fn acknowledged(event: &LiveEvent) -> bool {
    matches!(event, LiveEvent::Acknowledged(SessionEvent::Mark { .. }))
}

pub fn records(bytes: &[u8]) -> Vec<Entry> {
    let mut entries = Vec::new();
    read_from(bytes, Path::new("fake.capture"), |piece| {
        if let Ok(record) = owned(piece) {
            entries.push(record.entry);
        }
    })
    .unwrap();
    entries
}
