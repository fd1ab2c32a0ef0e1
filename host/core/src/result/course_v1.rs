//! `trundle-course` and `trundle-plan`, version 1: a taped course and a plan as JSON objects.
//!
//! The schemas stand in `host/schemas/trundle-course-1.schema.json` and
//! `host/schemas/trundle-plan-1.schema.json`. Fields are only ever added. Infinite degrees of
//! freedom are `null`, since JSON has no word for them; shares are plain numbers, 0.001 is 0.1 %.

use super::document::{finite, objects, to_text};
use crate::course::tape::{Correction, CourseLength};
use crate::figure::COVERAGE;
use crate::figure::plan::{Dominant, Expected, LengthPlan, Plan, Remedy};
use crate::stats::budget::{BudgetLine, Expanded, Quantity, Sources, cover};

/// A course calculated, and what it was calculated from.
#[derive(Clone, Copy, Debug)]
pub struct TapedCourse<'a> {
    /// What the course is meant to be, metres.
    pub nominal_m: f64,
    /// The length of the course.
    pub length: &'a CourseLength,
    /// Every source of uncertainty that the length knows of.
    pub sources: &'a Sources,
    /// Keys of the course file that were not used.
    pub unknown_keys: &'a [String],
}

/// The course as one line of JSON, without a line end. Same course, same bytes.
#[must_use]
pub fn course_to_json(course: &TapedCourse<'_>) -> String {
    to_text(&CourseV1::of((course, course.length)))
}

/// The plan as one line of JSON, without a line end. Same plan, same bytes.
#[must_use]
pub fn plan_to_json(plan: &Plan) -> String {
    to_text(&PlanV1::of(plan))
}

fn length(quantity: &Quantity, sources: &Sources) -> LengthV1 {
    LengthV1::of((quantity.value(), cover(quantity, sources, COVERAGE)))
}

objects! {
    CourseV1<'a> of (course, taped): (&TapedCourse<'a>, &'a CourseLength) {
        format: &'static str = "trundle-course",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        nominal_m: f64 = course.nominal_m,
        length: LengthV1 = length(&taped.length, course.sources),
        horizontal: Option<LengthV1> =
            taped.horizontal.as_ref().map(|quantity| length(quantity, course.sources)),
        corrections: Vec<CorrectionV1<'a>> =
            taped.corrections.iter().map(CorrectionV1::of).collect(),
        budget: Vec<LineV1> =
            taped.length.budget(course.sources).into_iter().map(LineV1::of).collect(),
        assumptions: &'a [String] = &taped.assumptions,
        unknown_keys: &'a [String] = course.unknown_keys,
    }

    LengthV1 of (length_m, expanded): (f64, Expanded) {
        length_m: f64 = length_m,
        standard_uncertainty_m: f64 = expanded.standard_uncertainty,
        expanded_uncertainty_m: f64 = expanded.expanded_uncertainty,
        coverage_factor: f64 = expanded.coverage_factor,
        coverage_probability: f64 = expanded.coverage_probability,
        degrees_of_freedom: Option<f64> = finite(expanded.degrees_of_freedom),
    }

    CorrectionV1<'a> of correction: &'a Correction {
        name: &'a str = &correction.name,
        value_m: f64 = correction.value_m,
        standard_uncertainty_m: f64 = correction.standard_uncertainty_m,
    }

    LineV1 of line: BudgetLine {
        key: String = line.key,
        source: String = line.source,
        r#type: &'static str = line.kind.word(),
        distribution: &'static str = line.distribution.word(),
        standard_uncertainty: f64 = line.standard_uncertainty,
        degrees_of_freedom: Option<f64> = finite(line.degrees_of_freedom),
        sensitivity: f64 = line.sensitivity,
        contribution_m: f64 = line.contribution,
    }

    PlanV1<'a> of plan: &'a Plan {
        format: &'static str = "trundle-plan",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        coverage_probability: f64 = COVERAGE,
        target: f64 = plan.inputs.target,
        receiver: Option<&'static str> = plan.inputs.receiver.map(|kind| kind.word()),
        stop_half_width_m: f64 = plan.inputs.stop_half_width_m,
        lengths: Vec<LengthPlanV1<'a>> = plan.lengths.iter().map(LengthPlanV1::of).collect(),
        assumptions: &'a [String] = &plan.assumptions,
    }

    LengthPlanV1<'a> of plan: &'a LengthPlan {
        length_m: f64 = plan.length_m,
        expected: Vec<ExpectedV1> = plan.rows.iter().map(ExpectedV1::of).collect(),
        passes_needed: Option<u32> = plan.needed,
        endless: f64 = plan.endless,
        at: ExpectedV1 = ExpectedV1::of(&plan.at),
        dominant: DominantV1<'a> = DominantV1::of(&plan.dominant),
        remedies: Vec<RemedyV1<'a>> = plan.remedies.iter().map(RemedyV1::of).collect(),
    }

    ExpectedV1 of e: &Expected {
        passes: u32 = e.passes,
        tape: f64 = e.tape,
        satellite: Option<f64> = e.satellite,
        combined: Option<f64> = e.combined,
    }

    DominantV1<'a> of d: &'a Dominant {
        key: &'a str = &d.key,
        source: &'a str = &d.source,
        contribution: f64 = d.contribution,
        variance_share: f64 = d.variance_share,
    }

    RemedyV1<'a> of r: &'a Remedy {
        change: &'a str = &r.change,
        expected: f64 = r.expected,
    }
}
