//! What the result rests on: course, clocks, notes, and method.

use super::{Facts, section, warnings};
use crate::phrases::plain::{block, sentence_case};
use crate::phrases::result as phrases;
use maud::{Markup, html};
use trundle_core::result::work_v1::{WeightV1, WorkV1};

/// The section on course and tape.
pub fn course(work: &WorkV1, facts: &Facts) -> Markup {
    let body = html! {
        @if let Some(course) = phrases::course(work) { p { (course) } } @else {
            p { "The length of the course by tape is not known." }
        }
        @if !work.assumptions.is_empty() {
            p { "Assumed, because nothing else was stated:" }
            ul {
                @for text in &work.assumptions { li { (sentence_case(&phrases::stop(text))) } }
            }
        }
        (described("The course as it was described:", facts.course_text.as_deref()))
    };
    section("course", "Course and tape", &body)
}

/// The description of the course as it was written.
pub fn described(words: &str, text: Option<&str>) -> Markup {
    html! {
        @if let Some(text) = text.filter(|text| !text.trim().is_empty()) {
            p { (words) }
            pre dir="auto" { (block(text.trim_end())) }
        }
    }
}

/// The section on the clocks.
pub fn clocks(work: &WorkV1) -> Markup {
    let body = html! {
        @if let Some(clocks) = phrases::clocks(work) {
            p { (clocks) " With both marks at standstill this hardly affects the value." }
        } @else {
            p {
                "No receiver gave the time, so there were no clocks to match; the value by tape "
                "does not need it."
            }
        }
        @if let Some(sky) = phrases::sky(work) {
            p { (sky) }
        }
    };
    section("clocks", "Clocks", &body)
}

/// The section with the operator's notes and with remarks.
pub fn notes(work: &WorkV1, facts: &Facts) -> Markup {
    let remarks = work.flags.iter().filter(|flag| flag.weight == WeightV1::Remark);
    let body = html! {
        @if facts.notes.is_empty() {
            p { "There are no notes." }
        } @else {
            ol class="notes" {
                @for note in &facts.notes { li dir="auto" { (block(note)) } }
            }
        }
        @if let Some(remarks) = warnings::list("warnings light", remarks) { (remarks) }
    };
    section("notes", "Notes and remarks", &body)
}

/// How a value is calculated, in words.
pub fn method() -> Markup {
    html! {
        p {
            strong { "By tape: " }
            "the mean impulses from mark to mark over the length of the course along the ground, "
            "times 100. "
            strong { "By satellite: " }
            "the impulses of each pass over its own length, times 100, then averaged, each pass by "
            "its accuracy. The length combines the geodesic between the mean positions at the "
            "marks and the integral of the speed between them. "
            strong { "Combined: " }
            "the mean of both, weighted by the inverse of their own variances. Where they differ "
            "by more than their uncertainties allow, the difference is a source of uncertainty; \
             where they "
            "contradict each other, nothing is combined. The value to enter is the nearest whole "
            "number."
        }
        p {
            strong { "Uncertainty: " }
            "every source is propagated by its partial derivative, what both share as shared (JCGM "
            "100:2008, equation 13); effective degrees of freedom by Welch and Satterthwaite (the "
            "same, G.2b). The interval covers 95 %: Student's t, folded with the shapes of the "
            "sources that have limits (JCGM 101:2008). Type A comes from the scatter of the "
            "passes, type B from anything else."
        }
    }
}
