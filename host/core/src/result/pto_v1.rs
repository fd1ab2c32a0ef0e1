//! `trundle-pto`, version 1: impulses per revolution of the PTO shaft as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-pto-1.schema.json`. Fields are only ever added.

use super::document::{RefusalV1, objects, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::survey::pto::{Found, Pto, PtoLine, PtoRefusal, Reading, ReadingRefusal, SetNow, Whole};

/// The result as one line of JSON, without a line end. Same result, same bytes.
#[must_use]
pub fn to_json(pto: &Pto) -> String {
    let found = pto.found.as_ref().ok();
    to_text(&PtoV1::of((pto, found, found.map(|found| &found.line))))
}

fn state(pto: &Pto) -> &'static str {
    match &pto.found {
        Ok(found) if found.to_enter().is_some() => "given",
        Ok(_) => "not_clear",
        Err(PtoRefusal::NoSensor | PtoRefusal::NoImpulses) => "not_needed",
        Err(_) => "refused",
    }
}

fn whole(whole: Whole) -> WholeV1 {
    WholeV1::of(match whole {
        Whole::Only(n) => (n, n, true),
        Whole::Several(lowest, highest) => (lowest, highest, true),
        Whole::Outside(n) => (n, n, false),
    })
}

objects! {
    PtoV1 of (pto, found, line):
        (&Pto, Option<&Found>, Option<&Result<PtoLine, crate::survey::pto::NoLine>>)
    {
        format: &'static str = "trundle-pto",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        cautions: &'static [&'static str] = cautions::PTO,
        state: &'static str = state(pto),
        to_enter: Option<u32> = found.and_then(Found::to_enter),
        refusal: Option<RefusalV1> = pto
            .found
            .as_ref()
            .err()
            .map(|why| RefusalV1::of(why.code(), why, why.means(), why.next())),
        per_revolution: Option<ValueV1> = found.map(ValueV1::of),
        whole_numbers: Option<WholeV1> = found.map(|found| whole(found.whole)),
        line: Option<LineV1> = line.and_then(|line| line.as_ref().ok()).map(LineV1::of),
        no_line: Option<String> = line.and_then(|line| Some(line.as_ref().err()?.to_string())),
        readings_contradict: Option<bool> = found.map(|found| found.contradict),
        set_now: Option<SetV1> =
            found.and_then(|found| found.set_now).zip(pto.options.set_now).map(SetV1::of),
        display_step_rpm: f64 = pto.options.display_step_rpm,
        display_step_assumed: bool = !pto.options.step_given,
        readings: Vec<ReadingV1> = pto.readings.iter().map(ReadingV1::of).collect(),
    }

    ValueV1 of found: &Found {
        value: f64 = found.per_rev,
        standard_uncertainty: f64 = found.expanded.standard_uncertainty,
        expanded_uncertainty: f64 = found.expanded.expanded_uncertainty,
        coverage_factor: f64 = found.expanded.coverage_factor,
        coverage_probability: f64 = COVERAGE,
    }

    WholeV1 of (lowest, highest, inside): (u32, u32, bool) {
        lowest: u32 = lowest,
        highest: u32 = highest,
        inside: bool = inside,
    }

    LineV1 of line: &PtoLine {
        slope: f64 = line.slope,
        slope_expanded_uncertainty: f64 = line.slope_half_width,
        offset_hz: f64 = line.offset_hz,
        offset_expanded_uncertainty_hz: f64 = line.offset_half_width_hz,
        offset_differs: bool = line.offset_differs,
        reduced_chi_squared: Option<f64> = line.reduced_chi_squared,
    }

    SetV1 of (verdict, value): (SetNow, f64) {
        value: f64 = value,
        verdict: &'static str = match verdict {
            SetNow::Equal => "equal",
            SetNow::TwiceTooHigh => "twice_too_high",
            SetNow::HalfTooLow => "half_too_low",
            SetNow::Other => "other",
        },
    }

    ReadingV1 of reading: &Reading {
        shown_rpm: f64 = reading.shown_rpm,
        host_s: f64 = reading.host_ns as f64 * 1e-9,
        rate_hz: Option<f64> = reading.rate.ok().map(|rate| rate.rate_hz),
        standard_uncertainty_hz: Option<f64> = reading.rate.ok().map(|rate| rate.u_hz),
        refused: Option<&'static str> = reading.rate.err().map(ReadingRefusal::code),
        refused_because: Option<String> = reading.rate.err().map(|why| why.to_string()),
    }
}
