//! `trundle-pto`, version 1: impulses per revolution of the PTO shaft as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-pto-1.schema.json`. Fields are only ever added.

use crate::cautions;
use crate::figure::COVERAGE;
use crate::survey::pto::{Found, Line, Pto, PtoRefusal, Reading, SetNow, Whole};
use serde::Serialize;

#[derive(Serialize)]
struct PtoV1 {
    format: &'static str,
    version: u32,
    software: &'static str,
    cautions: &'static [&'static str],
    state: &'static str,
    to_enter: Option<u32>,
    refusal: Option<RefusalV1>,
    per_revolution: Option<ValueV1>,
    whole_numbers: Option<WholeV1>,
    line: Option<LineV1>,
    no_line: Option<String>,
    readings_contradict: Option<bool>,
    set_now: Option<SetV1>,
    display_step_rpm: f64,
    display_step_assumed: bool,
    readings: Vec<ReadingV1>,
}

#[derive(Serialize)]
struct RefusalV1 {
    code: &'static str,
    what: String,
    means: &'static str,
    next: &'static str,
}

#[derive(Serialize)]
struct ValueV1 {
    value: f64,
    standard_uncertainty: f64,
    expanded_uncertainty: f64,
    coverage_factor: f64,
    coverage_probability: f64,
}

#[derive(Serialize)]
struct WholeV1 {
    lowest: u32,
    highest: u32,
    inside: bool,
}

#[derive(Serialize)]
struct LineV1 {
    slope: f64,
    slope_expanded_uncertainty: f64,
    offset_hz: f64,
    offset_expanded_uncertainty_hz: f64,
    offset_differs: bool,
    reduced_chi_squared: Option<f64>,
}

#[derive(Serialize)]
struct SetV1 {
    value: f64,
    verdict: &'static str,
}

#[derive(Serialize)]
struct ReadingV1 {
    shown_rpm: f64,
    host_s: f64,
    rate_hz: Option<f64>,
    standard_uncertainty_hz: Option<f64>,
    refused: Option<&'static str>,
    refused_because: Option<String>,
}

/// The result as one line of JSON, without a line end. Same result, same bytes.
#[must_use]
pub fn to_json(pto: &Pto) -> String {
    let found = pto.found.as_ref().ok();
    let line = found.map(|found| &found.line);
    let result = PtoV1 {
        format: "trundle-pto",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        cautions: cautions::PTO,
        state: state(pto),
        to_enter: found.and_then(Found::to_enter),
        refusal: pto.found.as_ref().err().map(|refusal| refused(*refusal)),
        per_revolution: found.map(value),
        whole_numbers: found.map(|found| whole(found.whole)),
        line: line.and_then(|line| line.as_ref().ok()).map(line_v1),
        no_line: line.and_then(|line| line.as_ref().err()).map(ToString::to_string),
        readings_contradict: found.map(|found| found.contradict),
        set_now: found.and_then(|found| found.set_now).zip(pto.options.set_now).map(set),
        display_step_rpm: pto.options.display_step_rpm,
        display_step_assumed: !pto.options.step_told,
        readings: pto.readings.iter().map(reading).collect(),
    };
    serde_json::to_string(&result).expect("plain structs of text and numbers always serialise")
}

fn state(pto: &Pto) -> &'static str {
    match &pto.found {
        Ok(found) if found.to_enter().is_some() => "given",
        Ok(_) => "not_clear",
        Err(PtoRefusal::NoSensor | PtoRefusal::NoImpulses) => "not_needed",
        Err(_) => "refused",
    }
}

fn refused(refusal: PtoRefusal) -> RefusalV1 {
    RefusalV1 {
        code: refusal.code(),
        what: refusal.to_string(),
        means: refusal.means(),
        next: refusal.next(),
    }
}

fn value(found: &Found) -> ValueV1 {
    ValueV1 {
        value: found.per_rev,
        standard_uncertainty: found.expanded.standard_uncertainty,
        expanded_uncertainty: found.expanded.expanded_uncertainty,
        coverage_factor: found.expanded.coverage_factor,
        coverage_probability: COVERAGE,
    }
}

fn whole(whole: Whole) -> WholeV1 {
    match whole {
        Whole::Only(n) => WholeV1 { lowest: n, highest: n, inside: true },
        Whole::Several(lowest, highest) => WholeV1 { lowest, highest, inside: true },
        Whole::Outside(n) => WholeV1 { lowest: n, highest: n, inside: false },
    }
}

fn line_v1(line: &Line) -> LineV1 {
    LineV1 {
        slope: line.slope,
        slope_expanded_uncertainty: line.slope_half_width,
        offset_hz: line.offset_hz,
        offset_expanded_uncertainty_hz: line.offset_half_width_hz,
        offset_differs: line.offset_differs,
        reduced_chi_squared: line.reduced_chi_squared,
    }
}

fn set((verdict, value): (SetNow, f64)) -> SetV1 {
    let verdict = match verdict {
        SetNow::Equal => "equal",
        SetNow::TwiceTooHigh => "twice_too_high",
        SetNow::HalfTooLow => "half_too_low",
        SetNow::Other => "other",
    };
    SetV1 { value, verdict }
}

fn reading(reading: &Reading) -> ReadingV1 {
    let (rate, refusal) = (reading.rate.ok(), reading.rate.err());
    ReadingV1 {
        shown_rpm: reading.shown_rpm,
        host_s: reading.host_ns as f64 * 1e-9,
        rate_hz: rate.map(|rate| rate.rate_hz),
        standard_uncertainty_hz: rate.map(|rate| rate.u_hz),
        refused: refusal.map(crate::survey::pto::ReadingRefusal::code),
        refused_because: refusal.map(|refusal| refusal.to_string()),
    }
}
