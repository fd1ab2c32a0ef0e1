//! `trundle-course` and `trundle-plan`, version 1: a taped course and a plan as JSON objects.
//!
//! The schemas stand in `host/schemas/trundle-course-1.schema.json` and
//! `host/schemas/trundle-plan-1.schema.json`. Fields are only ever added. Infinite degrees of
//! freedom are `null`, since JSON has no word for them; shares are plain numbers, 0.001 is 0.1 %.

use super::document::{finite, list, objects, to_text};
use crate::course::tape::{Correction, CourseLength};
use crate::figure::COVERAGE;
use crate::figure::plan::{Dominant, Expected, LengthPlan, Plan, Remedy};
use crate::stats::budget::{BudgetLine, Expanded, Quantity, Sources, cover};
use serde::Serialize;

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
    to_text(&course_v1(course, course.length))
}

/// The plan as one line of JSON, without a line end. Same plan, same bytes.
#[must_use]
pub fn plan_to_json(plan: &Plan) -> String {
    to_text(&plan_v1(plan))
}

fn length(quantity: &Quantity, sources: &Sources) -> impl Serialize {
    length_v1(quantity.value(), cover(quantity, sources, COVERAGE))
}

objects! {
    course_v1(course: &TapedCourse<'_>, taped: &CourseLength) {
        format = "trundle-course",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        nominal_m = course.nominal_m,
        length = length(&taped.length, course.sources),
        horizontal = taped.horizontal.as_ref().map(|level| length(level, course.sources)),
        corrections = list(&taped.corrections, correction_v1),
        budget = list(taped.length.budget(course.sources), line_v1),
        assumptions = &taped.assumptions,
        unknown_keys = course.unknown_keys,
    }

    length_v1(length_m: f64, expanded: Expanded) {
        length_m = length_m,
        standard_uncertainty_m = expanded.standard_uncertainty,
        expanded_uncertainty_m = expanded.expanded_uncertainty,
        coverage_factor = expanded.coverage_factor,
        coverage_probability = expanded.coverage_probability,
        degrees_of_freedom = finite(expanded.degrees_of_freedom),
    }

    correction_v1(correction: &Correction) {
        name = &correction.name,
        value_m = correction.value_m,
        standard_uncertainty_m = correction.standard_uncertainty_m,
    }

    line_v1(line: BudgetLine) {
        key = line.key,
        source = line.source,
        r#type = line.kind.word(),
        distribution = line.distribution.word(),
        standard_uncertainty = line.standard_uncertainty,
        degrees_of_freedom = finite(line.degrees_of_freedom),
        sensitivity = line.sensitivity,
        contribution_m = line.contribution,
    }

    plan_v1(plan: &Plan) {
        format = "trundle-plan",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        coverage_probability = COVERAGE,
        target = plan.inputs.target,
        receiver = plan.inputs.receiver.map(|kind| kind.word()),
        stop_half_width_m = plan.inputs.stop_half_width_m,
        lengths = list(&plan.lengths, length_plan_v1),
        assumptions = &plan.assumptions,
    }

    length_plan_v1(plan: &LengthPlan) {
        length_m = plan.length_m,
        expected = list(&plan.rows, expected_v1),
        passes_needed = plan.needed,
        endless = plan.endless,
        at = expected_v1(&plan.at),
        dominant = dominant_v1(&plan.dominant),
        remedies = list(&plan.remedies, remedy_v1),
    }

    expected_v1(e: &Expected) {
        passes = e.passes,
        tape = e.tape,
        satellite = e.satellite,
        combined = e.combined,
    }

    dominant_v1(d: &Dominant) {
        key = &d.key,
        source = &d.source,
        contribution = d.contribution,
        variance_share = d.variance_share,
    }

    remedy_v1(r: &Remedy) {
        change = &r.change,
        expected = r.expected,
    }
}
