//! What was found, in the order in which to look at it.

use crate::phrases::plain::{enumerate, line, sentence_case};
use maud::{Markup, html};
use trundle_core::result::work_v1::{FlagV1, WeightV1};

/// Warnings as a list: those of one kind together, since six passes with the same warning are one
/// thing to do; the gravest kind first. `None` without any.
pub fn list<'a>(class: &str, flags: impl Iterator<Item = &'a FlagV1>) -> Option<Markup> {
    let mut groups: Vec<Vec<&FlagV1>> = Vec::new();
    for flag in flags {
        match groups.iter_mut().find(|group| group[0].code == flag.code) {
            Some(group) => group.push(flag),
            None => groups.push(vec![flag]),
        }
    }
    groups.sort_by_key(|group| rank(group[0].weight).0);
    (!groups.is_empty()).then(|| {
        html! { ul class=(class) { @for group in &groups { (warning(group)) } } }
    })
}

/// Place in the order, mark and word of a weight; the mark is never alone.
const fn rank(weight: WeightV1) -> (u8, &'static str, &'static str) {
    match weight {
        WeightV1::NoValue => (0, "■", "No value"),
        WeightV1::PassNotUsed => (1, "✕", "Pass not used"),
        WeightV1::TakeCare => (2, "▲", "Take care"),
        WeightV1::Remark => (3, "·", "Remark"),
    }
}

fn warning(group: &[&FlagV1]) -> Markup {
    let first = group[0];
    let (rank, mark, word) = rank(first.weight);
    html! {
        li class=(format!("warning rank-{rank}")) {
            p class="weight" { span aria-hidden="true" { (mark) } " " (word) }
            @for (what, wheres) in happened(group) {
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
                div { dt { "It means" } dd { (line(&first.means)) "." } }
                div { dt { "Next" } dd { (line(&first.next)) "." } }
            }
            p class="code" { (line(&first.code)) }
        }
    }
}

/// Each thing that happened, with all the places where it did.
fn happened<'a>(flags: &[&'a FlagV1]) -> Vec<(&'a str, Vec<String>)> {
    let mut happened: Vec<(&str, Vec<&FlagV1>)> = Vec::new();
    for flag in flags {
        match happened.iter_mut().find(|(what, _)| *what == flag.what) {
            Some((_, same)) => same.push(flag),
            None => happened.push((&flag.what, vec![flag])),
        }
    }
    happened.into_iter().map(|(what, same)| (what, places(&same))).collect()
}

/// Channels by name, passes by number, runs of passes as one place.
fn places(flags: &[&FlagV1]) -> Vec<String> {
    let mut places = Vec::new();
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for flag in flags {
        match (flag.pass, flag.channel.as_deref().map(line)) {
            (Some(pass), Some(channel)) => places.push(format!("pass {pass} ({channel})")),
            (None, Some(channel)) => places.push(channel),
            (Some(pass), None) => match runs.last_mut() {
                Some(run) if Some(pass) == run.1.checked_add(1) => run.1 = pass,
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
