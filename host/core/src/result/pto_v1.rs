//! `trundle-pto`, version 1: impulses per revolution of the PTO shaft as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-pto-1.schema.json`. Fields are only ever added.

use super::document::{list, objects, refusal, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::survey::pto::{Found, Pto, PtoLine, PtoRefusal, Reading, ReadingRefusal, SetNow, Whole};
use serde::Serialize;

/// The result as one line of JSON, without a line end. Same result, same bytes.
#[must_use]
pub fn to_json(pto: &Pto) -> String {
    to_text(&pto_v1(pto, pto.found.as_ref().ok(), pto.found.as_ref().err()))
}

fn state(pto: &Pto) -> &'static str {
    match &pto.found {
        Ok(found) if found.to_enter().is_some() => "given",
        Ok(_) => "not_clear",
        Err(PtoRefusal::NoSensor | PtoRefusal::NoImpulses) => "not_needed",
        Err(_) => "refused",
    }
}

fn whole(whole: Whole) -> impl Serialize {
    match whole {
        Whole::Only(n) => whole_v1(n, n, true),
        Whole::Several(lowest, highest) => whole_v1(lowest, highest, true),
        Whole::Outside(n) => whole_v1(n, n, false),
    }
}

objects! {
    pto_v1(pto: &Pto, found: Option<&Found>, refused: Option<&PtoRefusal>) {
        format = "trundle-pto",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        cautions = cautions::PTO,
        state = state(pto),
        to_enter = found.and_then(Found::to_enter),
        refusal = refused.map(|why| refusal(why.code(), why, why.means(), why.next())),
        per_revolution = found.map(value_v1),
        whole_numbers = found.map(|found| whole(found.whole)),
        line = found.and_then(|found| found.line.as_ref().ok()).map(line_v1),
        no_line = found.and_then(|found| Some(found.line.as_ref().err()?.to_string())),
        readings_contradict = found.map(|found| found.contradict),
        set_now =
            found.and_then(|found| Some(set_v1(pto.options.set_now?, found.set_now?))),
        display_step_rpm = pto.options.display_step_rpm,
        display_step_assumed = !pto.options.step_given,
        readings = list(&pto.readings, reading_v1),
    }

    value_v1(found: &Found) {
        value = found.per_rev,
        standard_uncertainty = found.expanded.standard_uncertainty,
        expanded_uncertainty = found.expanded.expanded_uncertainty,
        coverage_factor = found.expanded.coverage_factor,
        coverage_probability = COVERAGE,
    }

    whole_v1(lowest: u32, highest: u32, inside: bool) {
        lowest = lowest,
        highest = highest,
        inside = inside,
    }

    line_v1(line: &PtoLine) {
        slope = line.slope,
        slope_expanded_uncertainty = line.slope_half_width,
        offset_hz = line.offset_hz,
        offset_expanded_uncertainty_hz = line.offset_half_width_hz,
        offset_differs = line.offset_differs,
        reduced_chi_squared = line.reduced_chi_squared,
    }

    set_v1(value: f64, verdict: SetNow) {
        value = value,
        verdict = match verdict {
            SetNow::Equal => "equal",
            SetNow::TwiceTooHigh => "twice_too_high",
            SetNow::HalfTooLow => "half_too_low",
            SetNow::Other => "other",
        },
    }

    reading_v1(reading: &Reading) {
        shown_rpm = reading.shown_rpm,
        host_s = reading.host_ns as f64 * 1e-9,
        rate_hz = reading.rate.ok().map(|rate| rate.rate_hz),
        standard_uncertainty_hz = reading.rate.ok().map(|rate| rate.u_hz),
        refused = reading.rate.err().map(ReadingRefusal::code),
        refused_because = reading.rate.err().map(|why| why.to_string()),
    }
}
