//! What else is measured on a visit, each from a simulated drive of its own.
#![allow(clippy::unwrap_used)]

use crate::{note, replay_with_trail, simulate};
use trundle_core::capture::Record;
use trundle_core::result::part_of::part;
use trundle_core::result::part_v1::{PartMethodV1, PartV1};
use trundle_core::result::record_v1::{CaptureV1, RecordV1};
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::mount::MountOptions;
use trundle_core::survey::pto::PtoOptions;
use trundle_core::survey::speeds::SpeedsOptions;
use trundle_sim::Scenario;

/// A shaft of six impulses per revolution, its display read at three speeds.
#[must_use]
pub fn shaft() -> Vec<Record> {
    let mut records = drive("pto-speeds", 1);
    for (at_s, rpm) in [(30.0, 540), (60.0, 750), (90.0, 1000)] {
        note(&mut records, at_s, &format!("shaft {rpm}"));
    }
    records
}

/// One of the simulator's drives.
///
/// # Panics
/// When there is none of that name.
#[must_use]
pub fn drive(name: &str, seed: u64) -> Vec<Record> {
    simulate(&Scenario::named(name).unwrap(), seed, None).0
}

/// The part of these records.
///
/// # Panics
/// When it has no result.
#[must_use]
pub fn part_of(records: &[Record], method: PartMethodV1) -> PartV1 {
    let capture = CaptureV1 {
        name: format!("{}.capture", method.word()),
        sha256: "b7d0e1c2a4f60538".repeat(4),
        bytes: 91_442,
        started_utc: "2026-05-01T08:40:00.000Z".to_owned(),
    };
    part(&replay_with_trail(records, THINNED_US), method, capture).unwrap()
}

/// PTO, antenna position and speeds; half of what the shaft gives is set in the terminal.
#[must_use]
pub fn parts() -> Vec<PartV1> {
    let set_wrong = PtoOptions { set_now: Some(3.0), ..PtoOptions::default() };
    vec![
        part_of(&shaft(), set_wrong.into()),
        part_of(&drive("circles", 1), MountOptions::default().into()),
        part_of(&drive("speed-steps", 1), SpeedsOptions::default().into()),
    ]
}

/// A record of the parts alone, made of one with a course; not sealed.
#[must_use]
pub fn without_course(record: &RecordV1) -> RecordV1 {
    RecordV1 {
        method: None,
        capture: None,
        channel: None,
        as_found: None,
        to_enter: None,
        as_left: None,
        work: None,
        parts: parts(),
        ..record.clone()
    }
}
