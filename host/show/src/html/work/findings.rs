//! What was found, in the order in which to look at it.

use super::section;
use super::words::{enumerate, line, sentence_case};
use maud::{Markup, html};
use trundle_core::figure::Work;
use trundle_core::flags::{Code, Flag};

/// Findings of one kind, told together: six passes with the same finding are one thing to do.
#[derive(Debug)]
struct Group<'a> {
    code: Code,
    flags: Vec<&'a Flag>,
}

/// How much a finding weighs for the reader: least first.
fn rank(code: Code) -> u8 {
    match code {
        Code::NoPass | Code::Disagree | Code::CourseLengthSuspect => 0,
        code if code.refuses() => 1,
        code if code.is_remark() => 3,
        _ => 2,
    }
}

/// By kind, the gravest first; within a rank in the order of the result.
fn groups<'a>(flags: impl Iterator<Item = &'a Flag>) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for flag in flags {
        match groups.iter_mut().find(|g| g.code == flag.code) {
            Some(group) => group.flags.push(flag),
            None => groups.push(Group { code: flag.code, flags: vec![flag] }),
        }
    }
    groups.sort_by_key(|group| rank(group.code));
    groups
}

/// The section of findings that may touch a figure.
pub fn first(work: &Work) -> Markup {
    let groups = groups(work.all_flags().filter(|flag| !flag.code.is_remark()));
    let body = html! {
        @if groups.is_empty() {
            p { "Nothing. No finding stands against this result." }
        } @else {
            ul class="findings" {
                @for group in &groups { (finding(group)) }
            }
        }
    };
    section("first", "Look at this first", &body)
}

/// Findings that leave the figure as good as it was; empty without any.
pub fn remarks(work: &Work) -> Markup {
    let groups = groups(work.all_flags().filter(|flag| flag.code.is_remark()));
    html! {
        @if !groups.is_empty() {
            ul class="findings light" {
                @for group in &groups { (finding(group)) }
            }
        }
    }
}

/// The mark and the word of a rank; the mark is never alone.
fn weight(code: Code) -> (&'static str, &'static str) {
    match rank(code) {
        0 => ("■", "No figure"),
        1 => ("✕", "Pass not used"),
        2 => ("▲", "Take care"),
        _ => ("·", "Remark"),
    }
}

fn finding(group: &Group<'_>) -> Markup {
    let (mark, word) = weight(group.code);
    let class = format!("finding rank-{}", rank(group.code));
    html! {
        li class=(class) {
            p class="weight" { span aria-hidden="true" { (mark) } " " (word) }
            @for (what, wheres) in told(&group.flags) {
                p class="what" {
                    @if wheres.is_empty() {
                        (sentence_case(&line(what)))
                    } @else {
                        (sentence_case(&enumerate(&wheres))) ": " (line(what))
                    }
                    "."
                }
            }
            dl {
                div { dt { "It means" } dd { (group.code.means()) "." } }
                div { dt { "Next" } dd { (group.code.advice()) "." } }
            }
            p class="code" { (group.code.word()) }
        }
    }
}

/// Each thing that happened, with all the places where it did.
fn told<'a>(flags: &[&'a Flag]) -> Vec<(&'a str, Vec<String>)> {
    let mut told: Vec<(&str, Vec<&Flag>)> = Vec::new();
    for flag in flags {
        match told.iter_mut().find(|(what, _)| *what == flag.what) {
            Some((_, same)) => same.push(flag),
            None => told.push((&flag.what, vec![flag])),
        }
    }
    told.into_iter().map(|(what, same)| (what, places(&same))).collect()
}

/// Channels by name, passes by number, runs of passes as one place.
fn places(flags: &[&Flag]) -> Vec<String> {
    let mut places = Vec::new();
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for flag in flags {
        match (flag.pass, flag.channel) {
            (Some(pass), Some(channel)) => places.push(format!("pass {pass} ({channel})")),
            (None, Some(channel)) => places.push(channel.to_owned()),
            (Some(pass), None) => match runs.last_mut() {
                Some(run) if pass == run.1 + 1 => run.1 = pass,
                _ => runs.push((pass, pass)),
            },
            (None, None) => {}
        }
    }
    places.extend(runs.into_iter().map(|(from, to)| match to - from {
        0 => format!("pass {from}"),
        1 => format!("passes {from} and {to}"),
        _ => format!("passes {from} to {to}"),
    }));
    places
}
