//! Every command with its options. What several commands take with the same words is explained
//! once, and named at each of them.

use super::{CommandEntry, OptionEntry};
use crate::phrases::plain::sentence_case;
use crate::words::book::{self as words, anchor};
use maud::{Markup, html};

/// Name of the list of what several commands take.
const SHARED: &str = "options";

/// What several commands take, each with the name of its entry.
fn shared(all: &[CommandEntry]) -> Vec<(String, &OptionEntry)> {
    let options = || all.iter().flat_map(|command| &command.options);
    let mut found: Vec<(String, &OptionEntry)> = Vec::new();
    for option in options() {
        let known = found.iter().any(|(_, known)| *known == option);
        if known || options().filter(|other| *other == option).count() < 2 {
            continue;
        }
        // Options of one name may differ in what they are.
        let number = found.iter().filter(|(_, known)| known.id == option.id).count() + 1;
        found.push((anchor("option", &format!("{}-{number}", option.id)), option));
    }
    found
}

/// Name of the entry of each option of each command, in their order.
#[must_use]
pub fn option_places(all: &[CommandEntry]) -> Vec<Vec<String>> {
    let shared = shared(all);
    let place = |command: &CommandEntry, option: &OptionEntry| {
        let shared = shared.iter().find(|(_, known)| *known == option);
        shared.map_or_else(|| own(command, option), |(place, _)| place.clone())
    };
    let of = |command: &CommandEntry| {
        command.options.iter().map(|option| place(command, option)).collect()
    };
    all.iter().map(of).collect()
}

/// An option as it is typed, without its value.
fn name(option: &OptionEntry) -> &str {
    option.shown.split([' ', '=']).next().unwrap_or_default()
}

fn own(command: &CommandEntry, option: &OptionEntry) -> String {
    let command = command.name.trim_start_matches("trundle").trim_start();
    anchor("option", &format!("{command}-{}", option.id))
}

/// Every command and all that it takes.
pub fn commands(all: &[CommandEntry]) -> Markup {
    let shared = shared(all);
    html! {
        @for command in all { (entry(command, &shared)) }
        h3 id=(SHARED) { (words::SHARED) }
        (list(shared.iter().map(|(place, option)| (place.clone(), *option))))
    }
}

fn entry(command: &CommandEntry, shared: &[(String, &OptionEntry)]) -> Markup {
    let is_shared = |option: &&OptionEntry| shared.iter().any(|(_, known)| *known == *option);
    let (others, alone): (Vec<&OptionEntry>, Vec<&OptionEntry>) =
        command.options.iter().partition(is_shared);
    html! {
        h3 id=(anchor("command", &command.name)) { code { (command.name) } }
        p { (ended(&sentence_case(&command.about))) }
        @if !alone.is_empty() {
            (list(alone.iter().map(|option| (own(command, option), *option))))
        }
        @if !others.is_empty() {
            p {
                (words::TAKES) " (" a href={ "#" (SHARED) } { (words::BELOW) } "): "
                @for option in &others {
                    " " a href={ "#" (place_of(shared, option)) } { code { (name(option)) } }
                }
                "."
            }
        }
    }
}

/// The name of the entry of an option that several commands take.
fn place_of<'a>(shared: &'a [(String, &OptionEntry)], option: &OptionEntry) -> &'a str {
    shared.iter().find(|(_, known)| *known == option).map_or(SHARED, |(place, _)| place)
}

/// A sentence with its end.
fn ended(sentence: &str) -> String {
    let end = if sentence.ends_with('?') { "" } else { "." };
    format!("{}{end}", sentence.trim_end_matches('.'))
}

fn list<'a>(rows: impl Iterator<Item = (String, &'a OptionEntry)>) -> Markup {
    html! {
        dl { @for (place, option) in rows {
            div id=(place) {
                dt { code { (option.shown) } }
                dd { (ended(&option.about)) }
            }
        } }
    }
}
