//! `trundle-course` and `trundle-plan`, version 1: a taped course and a plan as JSON objects.
//!
//! The schemas stand in `host/schemas/trundle-course-1.schema.json` and
//! `host/schemas/trundle-plan-1.schema.json`. Fields are only ever added. Infinite degrees of
//! freedom are `null`, since JSON has no word for them; shares are plain numbers, 0.001 is 0.1 %.

use crate::course::tape::{Correction, CourseLength};
use crate::figure::COVERAGE;
use crate::figure::plan::{Dominant, Expected, LengthPlan, Plan, Remedy};
use crate::stats::budget::{BudgetLine, Quantity, Sources, cover};
use serde::Serialize;

#[derive(Serialize)]
struct CourseV1<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    nominal_m: f64,
    length: LengthV1,
    horizontal: Option<LengthV1>,
    corrections: Vec<CorrectionV1<'a>>,
    budget: Vec<LineV1>,
    assumptions: &'a [String],
    unknown_keys: &'a [String],
}

#[derive(Serialize)]
struct LengthV1 {
    length_m: f64,
    standard_uncertainty_m: f64,
    expanded_uncertainty_m: f64,
    coverage_factor: f64,
    coverage_probability: f64,
    degrees_of_freedom: Option<f64>,
}

#[derive(Serialize)]
struct CorrectionV1<'a> {
    name: &'a str,
    value_m: f64,
    standard_uncertainty_m: f64,
}

#[derive(Serialize)]
struct LineV1 {
    key: String,
    source: String,
    r#type: String,
    distribution: String,
    standard_uncertainty: f64,
    degrees_of_freedom: Option<f64>,
    sensitivity: f64,
    contribution_m: f64,
}

/// A course worked out, and what it was worked out from.
#[derive(Clone, Copy, Debug)]
pub struct TapedCourse<'a> {
    /// What the course is meant to be, metres.
    pub nominal_m: f64,
    /// Its length.
    pub length: &'a CourseLength,
    /// Every source of doubt that the length knows of.
    pub sources: &'a Sources,
    /// Keys of the course file that were not used.
    pub unknown_keys: &'a [String],
}

/// The course as one line of JSON, without a line end. Same course, same bytes.
#[must_use]
pub fn course_to_json(course: &TapedCourse<'_>) -> String {
    let length = course.length;
    let of = |quantity| length_v1(quantity, course.sources);
    let budget = length.length.budget(course.sources);
    to_text(&CourseV1 {
        format: "trundle-course",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        nominal_m: course.nominal_m,
        length: of(&length.length),
        horizontal: length.horizontal.as_ref().map(of),
        corrections: length.corrections.iter().map(correction).collect(),
        budget: budget.iter().map(line).collect(),
        assumptions: &length.assumptions,
        unknown_keys: course.unknown_keys,
    })
}

fn length_v1(quantity: &Quantity, sources: &Sources) -> LengthV1 {
    let expanded = cover(quantity, sources, COVERAGE);
    LengthV1 {
        length_m: quantity.value(),
        standard_uncertainty_m: expanded.standard_uncertainty,
        expanded_uncertainty_m: expanded.expanded_uncertainty,
        coverage_factor: expanded.coverage_factor,
        coverage_probability: expanded.coverage_probability,
        degrees_of_freedom: finite(expanded.degrees_of_freedom),
    }
}

fn correction(correction: &Correction) -> CorrectionV1<'_> {
    CorrectionV1 {
        name: &correction.name,
        value_m: correction.value_m,
        standard_uncertainty_m: correction.standard_uncertainty_m,
    }
}

fn line(line: &BudgetLine) -> LineV1 {
    LineV1 {
        key: line.key.clone(),
        source: line.source.clone(),
        r#type: line.kind.to_string(),
        distribution: line.distribution.to_string(),
        standard_uncertainty: line.standard_uncertainty,
        degrees_of_freedom: finite(line.degrees_of_freedom),
        sensitivity: line.sensitivity,
        contribution_m: line.contribution,
    }
}

#[derive(Serialize)]
struct PlanV1<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    coverage_probability: f64,
    target: f64,
    receiver: Option<&'static str>,
    stop_half_width_m: f64,
    lengths: Vec<LengthPlanV1<'a>>,
    assumptions: &'a [String],
}

#[derive(Serialize)]
struct LengthPlanV1<'a> {
    length_m: f64,
    expected: Vec<ExpectedV1>,
    passes_needed: Option<u32>,
    endless: f64,
    at: ExpectedV1,
    dominant: DominantV1<'a>,
    remedies: Vec<RemedyV1<'a>>,
}

#[derive(Serialize)]
struct ExpectedV1 {
    passes: u32,
    tape: f64,
    satellite: Option<f64>,
    combined: Option<f64>,
}

#[derive(Serialize)]
struct DominantV1<'a> {
    key: &'a str,
    source: &'a str,
    contribution: f64,
    variance_share: f64,
}

#[derive(Serialize)]
struct RemedyV1<'a> {
    change: &'a str,
    expected: f64,
}

/// The plan as one line of JSON, without a line end. Same plan, same bytes.
#[must_use]
pub fn plan_to_json(plan: &Plan) -> String {
    to_text(&PlanV1 {
        format: "trundle-plan",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        coverage_probability: COVERAGE,
        target: plan.inputs.target,
        receiver: plan.inputs.receiver.map(|kind| kind.word()),
        stop_half_width_m: plan.inputs.stop_half_width_m,
        lengths: plan.lengths.iter().map(length_plan).collect(),
        assumptions: &plan.assumptions,
    })
}

fn length_plan(plan: &LengthPlan) -> LengthPlanV1<'_> {
    LengthPlanV1 {
        length_m: plan.length_m,
        expected: plan.rows.iter().map(expected).collect(),
        passes_needed: plan.needed,
        endless: plan.endless,
        at: expected(&plan.at),
        dominant: dominant(&plan.dominant),
        remedies: plan.remedies.iter().map(remedy).collect(),
    }
}

fn expected(e: &Expected) -> ExpectedV1 {
    ExpectedV1 { passes: e.passes, tape: e.tape, satellite: e.satellite, combined: e.combined }
}

fn dominant(d: &Dominant) -> DominantV1<'_> {
    DominantV1 {
        key: &d.key,
        source: &d.source,
        contribution: d.contribution,
        variance_share: d.variance_share,
    }
}

fn remedy(r: &Remedy) -> RemedyV1<'_> {
    RemedyV1 { change: &r.change, expected: r.expected }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn to_text(value: &impl Serialize) -> String {
    serde_json::to_string(value).expect("plain structs of text and numbers always serialise")
}
