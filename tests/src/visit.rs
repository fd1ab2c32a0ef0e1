//! What else is measured on a visit, each from a simulated drive of its own.
#![allow(clippy::unwrap_used)]

use crate::proof_cases::{Read, type_readings};
use crate::{note, replay_keeping, simulate};
use trundle_core::capture::Record;
use trundle_core::result::part_of::part;
use trundle_core::result::part_v1::{PartMethodV1, PartV1, ProofMethodV1, keeps};
use trundle_core::result::record_v1::{CaptureV1, RecordV1};
use trundle_core::survey::mount::MountOptions;
use trundle_core::survey::proof::{Known, Origin, Stated};
use trundle_core::survey::pto::PtoOptions;
use trundle_core::survey::speeds::SpeedsOptions;
use trundle_protocol::units::Channel;
use trundle_sim::{Keyed, Scenario, Terminal};

/// Seed of the tractor in `logs/simulated-rtk.capture`, and the value that its course gives.
const SEED: u64 = 7;
/// Wheel impulses per 100 m to enter by that course.
pub const ENTERED: f64 = 12_713.0;
/// Found in its terminal before, as the records of this package have it.
pub const OLD: f64 = 13_020.0;

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
    part(&replay_keeping(records, keeps(method.word())), method, capture).unwrap()
}

/// A proof drive of the tractor in `logs/simulated-rtk.capture` with this value in force, read at
/// both pegs of two passes over a course of 100 m that its capture describes.
#[must_use]
pub fn proof_drive(in_force: f64) -> Vec<Record> {
    let terminal = Terminal { keyed: Keyed::Value(in_force), ..Terminal::default() };
    let scenario = Scenario { passes: 2, terminal: Some(terminal), ..Scenario::default() };
    let (mut records, truth) = simulate(&scenario, SEED, Some("[course]\nnominal_m = 100.0\n"));
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    records
}

/// How a proof drive is judged after this value was keyed in.
#[must_use]
pub fn proof_method(entered: f64) -> PartMethodV1 {
    let known = Known { source: Some(Channel::Wheel), values: Vec::new() }
        .with(Origin::Entered, entered)
        .with(Origin::Old, OLD)
        .with(Origin::Tyres("Wide wheels".to_owned()), 12_105.0);
    PartMethodV1::Proof(ProofMethodV1::of(None, &known, Stated::default()))
}

/// PTO, antenna position, speeds and proof drive; half of what the shaft gives is set in the
/// terminal, and the value keyed in took.
#[must_use]
pub fn parts() -> Vec<PartV1> {
    let set_wrong = PtoOptions { set_now: Some(3.0), ..PtoOptions::default() };
    vec![
        part_of(&shaft(), set_wrong.into()),
        part_of(&drive("circles", 1), MountOptions::default().into()),
        part_of(&drive("speed-steps", 1), SpeedsOptions::default().into()),
        part_of(&proof_drive(ENTERED), proof_method(ENTERED)),
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
