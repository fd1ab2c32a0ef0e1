//! What the result rests on: course, clocks, notes, and method.

use super::words::{block, line, sentence_case};
use super::{Facts, findings, section};
use maud::{Markup, html};
use trundle_core::figure::Work;

/// The section on course and tape.
pub fn course(work: &Work, facts: &Facts) -> Markup {
    let body = html! {
        @if let Some(course) = work.course {
            p {
                "From peg to peg along the ground: " (format!("{:.3}", course.length_m))
                " m, standard uncertainty "
                (format!("{:.1}", 1000.0 * course.standard_uncertainty_m)) " mm."
            }
        } @else {
            p { "The length of the course by tape is not known." }
        }
        @if !work.assumptions.is_empty() {
            p { "Taken for granted, because nothing else was said:" }
            ul { @for assumption in &work.assumptions { li { (stop(assumption)) } } }
        }
        @if let Some(text) = facts.course_text.as_deref().filter(|t| !t.trim().is_empty()) {
            p { "The course as it was described:" }
            pre dir="auto" { (block(text.trim_end())) }
        }
    };
    section("course", "Course and tape", &body)
}

/// As a sentence: a capital and a full stop.
fn stop(text: &str) -> String {
    let text = sentence_case(&line(text));
    if text.ends_with('.') { text } else { format!("{text}.") }
}

/// The section on the clocks.
pub fn clocks(work: &Work) -> Markup {
    let body = html! {
        @if let Some(clock) = work.clock {
            p {
                "Counts carry the time of the board, fixes that of the receiver. The two were "
                "joined by " (clock.method) "; the receiver is taken to answer "
                (format!("{:.0}", 1000.0 * clock.lag_s)) " ms late, standard uncertainty "
                (format!("{:.0}", 1000.0 * clock.standard_uncertainty_s)) " ms. "
                "With both marks at rest this hardly touches the figure."
            }
        } @else {
            p {
                "No receiver gave the time, so there was nothing to join; the figure by tape "
                "does not need it."
            }
        }
    };
    section("clocks", "Clocks", &body)
}

/// The section with the operator's notes and with remarks.
pub fn notes(work: &Work, facts: &Facts) -> Markup {
    let body = html! {
        @if facts.notes.is_empty() {
            p { "The operator left no note." }
        } @else {
            ol class="notes" {
                @for note in &facts.notes { li dir="auto" { (block(note)) } }
            }
        }
        (findings::remarks(work))
    };
    section("notes", "Notes and remarks", &body)
}

/// The section on the method.
pub fn method() -> Markup {
    let body = html! {
        p {
            strong { "By tape: " }
            "the impulses of a pass, averaged over the passes, divided by the length of the "
            "course along the ground, times 100."
        }
        p {
            strong { "By satellite: " }
            "the impulses of each pass divided by its own length, times 100, then averaged, each "
            "pass by what it is worth. The length joins two estimates: the geodesic between the "
            "mean positions at the two marks, and the integral of the speed between them."
        }
        p {
            strong { "Combined: " }
            "the weighted mean of both, the weights inverse to the variance that each has for "
            "itself. Where the two stand further apart than their doubts allow, the difference "
            "becomes a source of doubt; where they contradict each other, nothing is combined. "
            "The figure to enter is the nearest whole number."
        }
        p {
            strong { "Doubt: " }
            "every source is propagated by its partial derivative, and what tape and satellite "
            "share is counted as shared (JCGM 100:2008, equation 13). Effective degrees of "
            "freedom follow Welch and Satterthwaite (JCGM 100:2008, G.2b). The expanded "
            "uncertainty covers 95 %: Student's t for what is normal or comes from few passes, "
            "folded with the shapes of the sources that have limits (JCGM 101:2008). Type A "
            "comes from the scatter of the passes, type B from anything else."
        }
        p {
            strong { "Agreement: " }
            "the normalised error of ISO 13528, the difference over its own expanded "
            "uncertainty."
        }
        p {
            "The result holds for this tractor as it stood that day: tyres, pressure, load and "
            "ground included."
        }
    };
    section("method", "How it was worked", &body)
}
