//! The result as one page for browser and paper.
//!
//! A result and a few facts in, the text of an HTML document out (see `page.rs` for what keeps it
//! harmless). It comes in the order of the reader's questions: what do I enter, can I trust it,
//! what did the passes do, what are the sources of uncertainty, what is it based on, how can it be
//! recalculated. Same input, same bytes.

pub(crate) mod figures;
pub(crate) mod foundation;
pub(crate) mod passes;
pub mod speeds;
pub(crate) mod warnings;

pub use super::page::STYLE;

use super::page::{Page, again, capture_facts, cautions, document, drawn, section, table};
use crate::phrases::plain::{groups, line, sentence_case, significant};
use crate::phrases::result::{agreement, largest_uncertainty, percent};
use crate::svg;
use maud::{Markup, html};
use trundle_core::result::work_v1::{ChannelV1, WeightV1, WorkV1};

/// What the page says beside the result. Nothing in it is trusted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Name of the capture file, without its folder.
    pub capture_name: String,
    /// Digest of the capture file, hexadecimal; shown as given.
    pub capture_digest: String,
    /// When the capture began, RFC 3339; shown as given.
    pub started_utc: String,
    /// Version of the software that calculated the result.
    pub software: String,
    /// The data are simulated.
    pub practice: bool,
    /// The course description in force, as it was written.
    pub course_text: Option<String>,
    /// The operator's notes, in order.
    pub notes: Vec<String>,
}

/// The whole page, ending with a line end.
#[must_use]
pub fn page(work: &WorkV1, facts: &Facts) -> String {
    let sensors: Vec<_> = work.sensors().collect();
    let main = html! {
        (answers(work))
        (first(work))
        (passes::passes(work, &sensors))
        @if !sensors.is_empty() {
            (section("figures", "The values", &figures::results(&sensors)))
            (section("budget", "Sources of uncertainty", &figures::budgets(&sensors)))
        }
        (foundation::course(work, facts))
        (foundation::clocks(work))
        (foundation::notes(work, facts))
        (cautions())
        (method())
        (again("course", &facts.capture_name, &facts.capture_digest, &facts.software))
    };
    document(&Page {
        title: &title(work),
        digest: &facts.capture_digest,
        style: "",
        practice: facts.practice.then_some("do not enter the values"),
        header: header(work, facts),
        main,
    })
}

/// The section of warnings that may touch a value.
fn first(work: &WorkV1) -> Markup {
    let flags = work.flags.iter().filter(|flag| flag.weight != WeightV1::Remark);
    let body = html! {
        @if let Some(list) = warnings::list("warnings", flags) { (list) } @else {
            p { "Nothing. No warning applies to this result." }
        }
    };
    section("first", "Look at this first", &body)
}

/// The section on the method.
fn method() -> Markup {
    let body = html! {
        (foundation::method())
        p {
            "The result holds for this tractor as it was that day: tyres, pressure, load and "
            "ground included."
        }
    };
    section("method", "How it was calculated", &body)
}

/// Title of the window: the values, because many such pages may be open at once.
fn title(work: &WorkV1) -> String {
    let figures: Vec<String> = work
        .sensors()
        .map(|(name, channel)| match channel.value_to_enter {
            Some(number) => format!("{} {number}", line(name)),
            None => format!("{}: no value", line(name)),
        })
        .collect();
    if figures.is_empty() {
        return "Result of a measured course: no value".to_owned();
    }
    format!("Result of a measured course: {}", figures.join(", "))
}

fn header(work: &WorkV1, facts: &Facts) -> Markup {
    let used = work.passes.iter().filter(|pass| pass.state != "refused").count();
    let driven = work.passes.len();
    let passes = if driven == 1 { "pass" } else { "passes" };
    html! {
        header {
            p class="maker" { "Trundle" }
            h1 { "Result of a measured course" }
            (svg::course_line())
            dl class="facts" {
                div {
                    dt { "Course" }
                    dd {
                        @if let Some(course) = work.course {
                            (format!("{:.3}", course.length_m)) " m by tape"
                        } @else { "length not known" }
                    }
                }
                div {
                    dt { "Driven" }
                    dd { (driven) " " (passes) ", " (used) " used" }
                }
                (capture_facts(&facts.started_utc, &facts.capture_name))
            }
        }
    }
}

fn answers(work: &WorkV1) -> Markup {
    let body = html! {
        div class="answers" {
            @for (name, channel) in work.sensors() { (answer(name, channel)) }
            @if work.channels.is_empty() {
                div class="answer" {
                    p class="none" { "No value" }
                    p { "No pass can be used. For what to do, see below." }
                }
            }
        }
    };
    section("answer", "Value to enter", &body)
}

fn answer(name: &str, channel: &ChannelV1) -> Markup {
    html! {
        div class="answer" {
            h3 { (sentence_case(&line(name))) }
            @if let Some((best, number)) = channel.best().zip(channel.value_to_enter) {
                (large(number))
                @if channel.agreement.is_none() {
                    p { strong { "Provisional" } ": tape and satellite were not held against each \
                        other." }
                }
                p class="good" {
                    "Uncertainty " strong { "±" (format!("{:.2}", percent(best))) "\u{a0}%" }
                    ", that is ±" (significant(best.expanded_uncertainty, 2))
                    " impulses per 100 m."
                }
                p { (agreement(channel)) }
                p { "Largest uncertainty: " (largest_uncertainty(best)) "." }
                @if let Some(found) = &channel.as_found { p { (line(&found.sentence)) } }
            } @else {
                p class="none" { "No value" }
                p class="good" { strong { "Do not enter a number from this page." } }
                p { (agreement(channel)) }
            }
        }
    }
}

/// The number, set large: set apart by space alone, so that the copied number is the number.
pub(super) fn large(number: i64) -> Markup {
    html! {
        p class=(if number > 99_999 { "number long" } else { "number" }) {
            @for group in groups(number) { span { (group) } }
        }
        p class="unit" { "impulses per 100 m" }
    }
}
