//! What would make the uncertainty smaller: each change is tried, and listed with what it gives.

use super::model::{Forecast, ReceiverKind};
use super::{Expected, PlanInputs, stretched};
use crate::course::tape::{CourseSpec, TapeAccuracy, TapeClass, TapeMaterial};

/// A change must take off at least this share to be worth a line.
const WORTH: f64 = 0.03;
/// More passes than before.
const MORE_PASSES: u32 = 2;

/// One change, all else as before.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// The change, in plain words.
    pub change: String,
    /// Expanded relative uncertainty with it, as a share.
    pub expected: f64,
}

/// A job to try.
#[derive(Clone)]
struct Try {
    spec: CourseSpec,
    receiver: Option<ReceiverKind>,
    stop_m: f64,
    passes: u32,
}

/// Every change that is worth while, the best first; equal ones in the order of effort.
pub(super) fn remedies(inputs: &PlanInputs, spec: &CourseSpec, at: &Expected) -> Vec<Remedy> {
    let now = Try {
        spec: spec.clone(),
        receiver: inputs.receiver,
        stop_m: inputs.stop_half_width_m,
        passes: at.passes,
    };
    let mut out: Vec<Remedy> = driving(&now)
        .into_iter()
        .chain(tape(&now))
        .filter_map(|(change, changed)| {
            let Try { spec, receiver, stop_m, passes } = changed;
            // A change that makes the course impossible is no remedy.
            let forecast = Forecast::new(&spec, receiver, stop_m, passes).ok()?;
            Some(Remedy { change, expected: forecast.best() })
        })
        .filter(|remedy| remedy.expected < (1.0 - WORTH) * at.best())
        .collect();
    out.sort_by(|a, b| a.expected.total_cmp(&b.expected));
    out
}

/// Changes of how the course is driven.
fn driving(now: &Try) -> Vec<(String, Try)> {
    let (half_m, longer_m) = (now.stop_m / 2.0, 2.0 * now.spec.nominal_m);
    let mut out = vec![
        (
            format!("stop within ±{half_m:.3} m of the pegs, half of now"),
            Try { stop_m: half_m, ..now.clone() },
        ),
        (
            format!("drive {MORE_PASSES} passes more"),
            Try { passes: now.passes + MORE_PASSES, ..now.clone() },
        ),
        (
            format!("make the course twice as long, {longer_m} m"),
            Try { spec: stretched(&now.spec, longer_m), ..now.clone() },
        ),
    ];
    let better = match now.receiver {
        None => Some(("use a receiver with corrections as well", ReceiverKind::Corrected)),
        Some(ReceiverKind::Standalone) => {
            Some(("use a receiver with corrections", ReceiverKind::Corrected))
        }
        Some(ReceiverKind::Corrected) => {
            Some(("use a receiver with an RTK fixed position", ReceiverKind::Rtk))
        }
        Some(ReceiverKind::Rtk) => None,
    };
    if let Some((words, kind)) = better {
        out.push((words.to_owned(), Try { receiver: Some(kind), ..now.clone() }));
    }
    out
}

/// Changes of how the course is laid out.
fn tape(now: &Try) -> Vec<(String, Try)> {
    let mut out = Vec::new();
    let mut with = |words: &str, change: &dyn Fn(&mut CourseSpec)| {
        let mut changed = now.clone();
        change(&mut changed.spec);
        out.push((words.to_owned(), changed));
    };
    with("set the pegs twice as closely to the marks", &|spec| spec.peg_placement_m /= 2.0);
    if now.spec.tape.temperature_c.is_none() {
        with("use a steel tape and read its temperature", &|spec| {
            spec.tape.temperature_c = Some(spec.tape.reference_temperature_c);
            spec.tape.temperature_half_width_c = None;
            spec.tape.material = TapeMaterial::Steel;
            spec.tape.expansion_per_c = None;
            spec.tape.expansion_half_width_per_c = None;
        });
    }
    let better = match now.spec.tape.accuracy {
        TapeAccuracy::Unstated | TapeAccuracy::Class(TapeClass::III) => {
            Some(("use a tape of class II", TapeClass::II))
        }
        TapeAccuracy::Class(TapeClass::II) => Some(("use a tape of class I", TapeClass::I)),
        TapeAccuracy::Class(TapeClass::I) | TapeAccuracy::Certificate { .. } => None,
    };
    if let Some((words, class)) = better {
        with(words, &|spec| spec.tape.accuracy = TapeAccuracy::Class(class));
    }
    out
}
