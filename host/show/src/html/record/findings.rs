//! What was found against the result, what it means and what to do, and why it was signed off.

use super::super::page::section;
use super::super::page::words::{enumerate, line, sentence_case};
use crate::paper::Sheet;
use maud::{Markup, html};
use trundle_core::result::work_read::FlagRead;

/// The section with all findings of the result.
pub fn section_of(sheet: &Sheet<'_>) -> Markup {
    let groups = groups(&sheet.work.flags);
    let body = html! {
        @if groups.is_empty() {
            p { "Nothing. No finding stands against this result." }
        } @else {
            ul class="findings" { @for group in &groups { (finding(sheet, group)) } }
        }
        @for warning in sheet.discrepancies() { p { (warning) } }
        @if let Some(because) = &sheet.record.accepted_because {
            p {
                strong { "Why it was signed off all the same, in the signer's words: " }
                bdi { (line(because)) }
            }
        } @else if sheet.work.state != "valid" {
            p { "No reason was given why it was signed off all the same." }
        }
    };
    section("findings", "Findings", &body)
}

/// Findings of one code, told together: six passes with the same finding are one thing to do.
fn groups(flags: &[FlagRead]) -> Vec<Vec<&FlagRead>> {
    let mut groups: Vec<Vec<&FlagRead>> = Vec::new();
    for flag in flags {
        match groups.iter_mut().find(|group| group[0].code == flag.code) {
            Some(group) => group.push(flag),
            None => groups.push(vec![flag]),
        }
    }
    groups
}

/// How much a finding weighs, as far as the stored states tell.
fn weight(sheet: &Sheet<'_>, group: &[&FlagRead]) -> (u8, &'static str, &'static str) {
    let state_of = |flag: &FlagRead| {
        let pass = sheet.passes().iter().find(|pass| Some(pass.number) == flag.pass)?;
        Some(pass.state.as_str())
    };
    let all = |state: &str| group.iter().all(|flag| state_of(flag) == Some(state));
    if sheet.work.state == "valid" || all("valid") {
        (3, "·", "Remark")
    } else if all("refused") {
        (1, "✕", "Pass not used")
    } else {
        (2, "▲", "Take care")
    }
}

fn finding(sheet: &Sheet<'_>, group: &[&FlagRead]) -> Markup {
    let (rank, mark, word) = weight(sheet, group);
    let first = group[0];
    html! {
        li class=(format!("finding rank-{rank}")) {
            p class="weight" { span aria-hidden="true" { (mark) } " " (word) }
            @for (what, places) in told(group) {
                p class="what" {
                    @if places.is_empty() {
                        (sentence_case(&line(what)))
                    } @else {
                        (sentence_case(&enumerate(&places))) ": " (line(what))
                    }
                    "."
                }
            }
            dl {
                div { dt { "It means" } dd { (line(&first.means)) "." } }
                div { dt { "Next" } dd { (line(&first.next)) "." } }
            }
            p class="code" { (line(&first.code)) }
        }
    }
}

/// Each thing that happened, with all the places where it did.
fn told<'a>(group: &[&'a FlagRead]) -> Vec<(&'a str, Vec<String>)> {
    let mut told: Vec<(&str, Vec<String>)> = Vec::new();
    for flag in group {
        let place = place(flag);
        match told.iter_mut().find(|(what, _)| *what == flag.what) {
            Some((_, places)) => places.extend(place),
            None => told.push((&flag.what, place.into_iter().collect())),
        }
    }
    told
}

fn place(flag: &FlagRead) -> Option<String> {
    let channel = flag.channel.as_deref().map(line);
    match (flag.pass, channel) {
        (Some(pass), Some(channel)) => Some(format!("pass {pass} ({channel})")),
        (Some(pass), None) => Some(format!("pass {pass}")),
        (None, channel) => channel,
    }
}
