//! A signed-off record as paper: what was measured, by whom, on what, how sure, and on what it
//! rests.
//!
//! The contents are those of ISO/IEC 17025:2017, 7.8.2.1, 7.8.2.2, 7.8.4.1, 7.8.7 and 7.8.8,
//! without claiming accreditation. A pure function of the stored record: the same record gives
//! the same bytes for as long as this version is kept, and no capture is needed.

mod foundation;
mod item;
mod parts;

pub(super) use item::{DISCLAIMER, STATED};
pub(super) use parts::values as part_values;

use super::page::{Page, document_with, section};
use super::work::{figures, large as number, passes, warnings};
use crate::paper::Sheet;
pub use crate::paper::{Paper, PaperFacts};
use crate::phrases::plain::line;
use crate::phrases::result::{coverage, pair};
use crate::svg;
use maud::{Markup, html};
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::work_v1::WorkV1;

/// What paper adds to the style sheet of all pages.
pub const STYLE: &str = include_str!("record.css");

/// The whole page, ending with a line end. `work` is the result of its course
/// ([`RecordV1::worked`]).
#[must_use]
pub fn page(record: &RecordV1, work: Option<&WorkV1>, facts: &PaperFacts) -> String {
    let sheet = Sheet { record, work, facts };
    let main = html! {
        (answer(&sheet))
        (item::section_of(&sheet))
        @if let Some(work) = work {
            (results(&sheet, work))
            (passes::passes(work, &sheet.sensors()))
            (section("budget", "Sources of uncertainty", &figures::budgets(&sheet.sensors())))
        }
        (parts::section_of(&sheet))
        (against(&sheet))
        (foundation::method(&sheet))
        (foundation::conditions(&sheet))
        (foundation::traceability(&sheet))
        (foundation::opinions(&sheet))
        (foundation::statements(&sheet))
        (foundation::again(&sheet))
        (foundation::signature(&sheet))
    };
    document_with(
        &Page {
            title: &window_title(&sheet),
            digest: digest(record),
            style: STYLE,
            practice: record.practice.then_some(PRACTICE),
            header: header(&sheet),
            main,
        },
        &margins(&sheet),
        &sheet.end(),
    )
}

/// What not to do with a record of the simulator.
pub(super) const PRACTICE: &str = "do not enter the value, and give this to nobody as a result";

/// The digest of the first capture behind it.
pub(super) fn digest(record: &RecordV1) -> &str {
    record.captures().next().map_or("", |capture| &capture.sha256)
}

/// Title of the window: many such pages may be open at once.
pub(super) fn window_title(sheet: &Sheet<'_>) -> String {
    let of = match sheet.work {
        Some(_) => format!("{} {}", sheet.sensor(), sheet.entered()),
        None => sheet.parts().iter().map(|part| part.title).collect::<Vec<_>>().join(", "),
    };
    format!("Record {}: {of}", sheet.id())
}

/// The sheet, the identity at the foot of every page, and at its head what takes the record's
/// worth away.
pub(super) fn margins(sheet: &Sheet<'_>) -> String {
    let id = plain_id(&sheet.record.id);
    let superseded = sheet.facts.superseded_by.as_deref().map(plain_id);
    let above = match (sheet.record.practice, superseded) {
        (true, _) => "PRACTICE: no measurement".to_owned(),
        (false, Some(by)) => format!("Superseded by record {by}"),
        (false, None) => String::new(),
    };
    let paper = sheet.facts.paper.word();
    format!(
        "@page {{ size: {paper}; @top-right {{ content: \"{above}\"; }} \
         @bottom-left {{ content: \"Record {id}\"; }} }}\n"
    )
}

/// Only what identities are made of reaches the style sheet: nothing in a record may end it.
fn plain_id(id: &str) -> String {
    id.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').take(ID_MOST).collect()
}

/// Most characters of an identity in the margin; a sound one has 19.
const ID_MOST: usize = 40;

fn header(sheet: &Sheet<'_>) -> Markup {
    let rig = &sheet.record.rig;
    html! {
        header {
            p class="maker" { "Trundle" }
            h1 { (sheet.title()) }
            (svg::course_line())
            dl class="facts" {
                div { dt { "Record" } dd class="id" { (sheet.id()) } }
                div { dt { "Measured" } dd { (sheet.measured_on()) } }
                div { dt { "Measured by" } dd { bdi { (sheet.name(rig.operator.as_ref())) } } }
                div { dt { "Customer" } dd { bdi { (sheet.name(rig.customer.as_ref())) } } }
                div { dt { "Tractor" } dd { bdi { (sheet.name(rig.tractor.as_ref())) } } }
            }
            (standing(sheet))
        }
        (across(sheet))
    }
}

/// What this record has to do with others.
pub(super) fn standing(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if let Some(by) = &sheet.facts.superseded_by {
            p class="notice" {
                strong { "Superseded by record " (line(by)) ". " }
                "This record no longer holds; use that one."
            }
        }
        @if let Some(amends) = &sheet.record.amends {
            p class="notice" {
                strong { "This record replaces record "
                    (line(&amends.id)) ". " }
                "Reason: " bdi translate="no" { (line(&amends.reason)) }
            }
        }
    }
}

/// The word across every printed page; screen readers have the banner and the head.
pub(super) fn across(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if sheet.record.practice {
            div class="across" aria-hidden="true" { "PRACTICE" }
        } @else if sheet.facts.superseded_by.is_some() {
            div class="across longer" aria-hidden="true" { "SUPERSEDED" }
        }
    }
}

fn answer(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        (large(sheet))
        @if sheet.work.is_some() { (steps(sheet)) }
        p { (sheet.done()) }
        @if sheet.work.is_some() { p { (sheet.sureness()) } }
        (part_values(sheet, usize::MAX))
        @if let Some(cost) = sheet.cost() { p { (cost) } }
        @for warning in sheet.discrepancies() { p { strong { (warning) } } }
    };
    section("answer", "In short", &body)
}

/// The number, set large.
pub(super) fn large(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if let Some(to_enter) = sheet.record.to_enter {
            div class="answer" {
                p class="entered" { "To enter for the " (sheet.sensor()) " sensor" }
                (number(to_enter))
            }
        }
    }
}

/// As found, to enter, as left as typed and, where it was, as measured: the result before and
/// after.
pub(super) fn steps(sheet: &Sheet<'_>) -> Markup {
    let record = sheet.record;
    let stated = |key| {
        html! { @if sheet.stated(key) { " " span class="stated" { (STATED) } } }
    };
    let measured = sheet.as_left_measured();
    html! {
        dl class=(if measured.is_some() { "steps four" } else { "steps" }) {
            div {
                dt { "As found in the terminal" }
                dd { (sheet.read(record.as_found)) (stated("as_found")) }
            }
            div { dt { "To enter" } dd { (sheet.entered()) } }
            div {
                dt { "As left in the terminal" }
                dd { (sheet.read(record.as_left)) (stated("as_left")) }
            }
            @if let Some((outcome, ratio)) = measured {
                div {
                    dt { "As left, measured" }
                    dd {
                        (outcome)
                        @if let Some(ratio) = ratio {
                            " " span class="stated" { "shown over true " (ratio) }
                        }
                    }
                }
            }
        }
    }
}

fn results(sheet: &Sheet<'_>, work: &WorkV1) -> Markup {
    let own = sheet.record.channel.as_deref();
    let others = work.sensors().filter(|(name, _)| Some(*name) != own);
    let rate = sheet.record.method.as_ref().and_then(|method| method.rate_l_per_ha);
    let body = html! {
        (figures::results(&sheet.sensors()))
        @if sheet.channel().is_none() { p { "The result holds nothing of this sensor." } }
        @if let Some(rate) = rate {
            p class="quiet" { "The implement was set to " (rate) " l/ha." }
        }
        // The sensor that was not signed off, so that nothing measured is kept back.
        @for (name, best) in others.filter_map(|(name, channel)| Some((name, channel.best()?))) {
            p class="quiet" {
                "The other sensor, " (line(name)) ", gave " (pair(best))
                " impulses per 100\u{a0}m at a coverage of " (coverage(best))
                ". It is not what this record is about."
            }
        }
    };
    section("figures", "Results", &body)
}

/// What was found against the result, and why it was signed off all the same.
fn against(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        @if let Some(list) = warnings::list("warnings", sheet.flags().iter()) { (list) } @else {
            @if sheet.is_valid() { p { "Nothing. No warning applies to this result." } }
        }
        @for warning in sheet.discrepancies() { p { (warning) } }
        @if let Some(because) = &sheet.record.accepted_because {
            p {
                strong { "Reason for signing off in spite of this, in the signer's words: " }
                bdi translate="no" { (line(because)) }
            }
        } @else if !sheet.is_valid() {
            p { "No reason was given for signing off in spite of this." }
        }
    };
    section("warnings", "Warnings", &body)
}
