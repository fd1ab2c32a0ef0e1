//! The result as one page for browser and paper.
//!
//! A result and a few facts in, the text of an HTML document out: no script, no picture, no font
//! and no address is loaded, so the page says the same in ten years, and a security policy inside
//! it makes the browser hold to that. It comes in the order of the reader's questions: what do I
//! enter, can I trust it, what did the passes do, where does the doubt come from, on what does it
//! rest, how can it be worked again. Text from outside is escaped by the template and passed
//! through `words` for characters that would act unseen. Same input, same bytes.

mod figures;
mod findings;
mod foundation;
mod passes;
pub mod speeds;
mod table;
mod words;

use super::svg;
use super::text::main_doubt;
use crate::budget::cover;
use crate::figure::{COVERAGE, ChannelFigures, Work};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use words::{groups, line, sentence_case};

/// The style sheet of the page.
pub const STYLE: &str = include_str!("style.css");

/// Hexadecimal digits of the capture's digest at the foot of each printed page.
const DIGEST_SHORT: usize = 16;

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
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head(work, facts))
            body {
                @if facts.practice { (practice_banner()) }
                (header(work, facts))
                main {
                    (answers(work))
                    (findings::first(work))
                    @let figures = !work.channels.is_empty();
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
                    (foundation::cautions())
                    (foundation::method())
                    (foundation::again(facts))
                }
                footer { p { "End of the result" } }
            }
        }
    };
    let mut out = page.into_string();
    out.push('\n');
    out
}

fn head(work: &Work, facts: &Facts) -> Markup {
    head_of(&title(work), facts)
}

/// The head of any page: a policy that loads nothing, the style, the digest at the foot of paper.
fn head_of(title: &str, facts: &Facts) -> Markup {
    // Only digits of the digest reach the style sheet: nothing in a file may end it.
    let digest: String =
        facts.capture_digest.chars().filter(char::is_ascii_hexdigit).take(DIGEST_SHORT).collect();
    let foot = format!("@page {{ @bottom-left {{ content: \"Capture {digest}\"; }} }}\n");
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta http-equiv="Content-Security-Policy"
                content="default-src 'none'; style-src 'unsafe-inline'";
            meta name="referrer" content="no-referrer";
            meta name="color-scheme" content="light dark";
            title { (title) }
            style { (PreEscaped(STYLE)) (PreEscaped(foot)) }
        }
    }
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

fn practice_banner() -> Markup {
    html! {
        aside class="practice" aria-label="Practice" {
            p {
                strong { "Practice. " }
                "These data come from the simulator. They are no measurement of any tractor: "
                "do not enter the figures."
            }
        }
    }
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
                @if !facts.started_utc.is_empty() {
                    div { dt { "Capture began" } dd { bdi { (line(&facts.started_utc)) } } }
                }
                @if !facts.capture_name.is_empty() {
                    div { dt { "Capture" } dd { bdi { (line(&facts.capture_name)) } } }
                }
            }
        }
    }
}

/// A section with its heading at the side where there is room.
fn section(id: &str, heading: &str, body: &Markup) -> Markup {
    let heading_id = format!("{id}-heading");
    html! {
        section id=(id) aria-labelledby=(heading_id) {
            h2 id=(heading_id) { (heading) }
            div class="body" { (body) }
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
