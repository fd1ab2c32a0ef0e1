//! The result as one page for browser and paper.
//!
//! A result and a few facts in, the text of an HTML document out (see `page.rs` for what keeps it
//! harmless). It comes in the order of the reader's questions: what do I enter, can I trust it,
//! what did the passes do, where does the doubt come from, on what does it rest, how can it be
//! worked again. Same input, same bytes.

mod figures;
mod findings;
mod foundation;
mod passes;
pub mod speeds;

pub use super::page::STYLE;

use super::page::{Page, again, capture_facts, cautions, document, section, table, words};
use crate::svg;
use crate::text::work::main_doubt;
use maud::{Markup, html};
use trundle_core::figure::{COVERAGE, ChannelFigures, Work};
use trundle_core::stats::budget::cover;
use words::{groups, sentence_case};

/// What the page says beside the result. Nothing in it is trusted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Name of the capture file, without its folder.
    pub capture_name: String,
    /// Digest of the capture file, hexadecimal; shown as given.
    pub capture_digest: String,
    /// When the capture began, RFC 3339; shown as given.
    pub started_utc: String,
    /// Version of the software that worked the result.
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
pub fn page(work: &Work, facts: &Facts) -> String {
    let figures = !work.channels.is_empty();
    let main = html! {
        (answers(work))
        (findings::first(work))
        @if figures { (passes::chart(work)) }
        (passes::table(work))
        @if figures {
            (figures::table(work))
            (figures::budget(work))
            (figures::agreement(work))
        }
        (foundation::course(work, facts))
        (foundation::clocks(work))
        (foundation::notes(work, facts))
        (cautions())
        (foundation::method())
        (again("course", &facts.capture_name, &facts.capture_digest, &facts.software))
    };
    document(&Page {
        title: &title(work),
        digest: &facts.capture_digest,
        style: "",
        practice: facts.practice.then_some("do not enter the figures"),
        header: header(work, facts),
        main,
    })
}

/// Title of the window: the figures, because many such pages may be open at once.
fn title(work: &Work) -> String {
    let figures: Vec<String> = work
        .channels
        .iter()
        .map(|c| match c.figure_to_enter {
            Some(number) => format!("{} {number}", c.name),
            None => format!("{}: no figure", c.name),
        })
        .collect();
    if figures.is_empty() {
        return "Result of a measured course: no figure".to_owned();
    }
    format!("Result of a measured course: {}", figures.join(", "))
}

fn header(work: &Work, facts: &Facts) -> Markup {
    let used = work.passes.iter().filter(|pass| pass.state() != "refused").count();
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

/// A heading for one channel, left out where there is only one: the section says it all then.
fn channel_heading(work: &Work, channel: &ChannelFigures) -> Markup {
    html! {
        @if work.channels.len() > 1 { h3 { (sentence_case(channel.name)) } }
    }
}

fn answers(work: &Work) -> Markup {
    let body = html! {
        div class="answers" {
            @for channel in &work.channels { (answer(channel)) }
            @if work.channels.is_empty() {
                div class="answer" {
                    p class="none" { "No figure" }
                    p { "None of the passes can be used. What to do stands below." }
                }
            }
        }
    };
    section("answer", "Figure to enter", &body)
}

fn answer(channel: &ChannelFigures) -> Markup {
    let Some((best, number)) = channel.best().zip(channel.figure_to_enter) else {
        return no_answer(channel);
    };
    let expanded = cover(best, &channel.sources, COVERAGE);
    let half = expanded.expanded_uncertainty;
    let percent = 100.0 * half / best.value();
    html! {
        div class="answer" {
            h3 { (sentence_case(channel.name)) }
            p class=(if number > 99_999 { "number long" } else { "number" }) {
                // Set apart by space alone, so that the copied number is the number.
                @for group in groups(number) { span { (group) } }
            }
            p class="unit" { "impulses per 100 m" }
            p class="good" {
                "Good to about " strong { "±" (format!("{percent:.2}")) "\u{a0}%" }
                ", that is ±" (words::significant(half, 2)) " impulses per 100 m."
            }
            p { (figures::agreement_sentence(channel)) }
            p { "Most of the doubt: " (main_doubt(best, &channel.sources)) "." }
        }
    }
}

fn no_answer(channel: &ChannelFigures) -> Markup {
    html! {
        div class="answer" {
            h3 { (sentence_case(channel.name)) }
            p class="none" { "No figure" }
            p class="good" { strong { "Do not enter a number from this page." } }
            p { (figures::agreement_sentence(channel)) }
        }
    }
}
