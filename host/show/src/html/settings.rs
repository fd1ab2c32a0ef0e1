//! The sheet of settings of a rig: one sheet of paper to stand at the terminal with.
//!
//! One sheet exactly: what people wrote is cut to what a line or two hold; the records have it
//! whole.

use super::page::table::{Column, table};
use super::page::{Page, document_with};
use crate::paper::Paper;
use crate::phrases::plain::{cut, line};
use crate::phrases::result::instant;
use crate::phrases::settings::{
    TITLE, again, half, in_force, name, named, number, origin, sentence, standing, tyres,
};
use crate::svg::Caption;
use crate::svg::plan::{Measure, Measures, plan};
use maud::{Markup, html};
use trundle_core::result::settings_v1::{RemarkV1, SettingV1, SettingsV1, SourceV1};

/// What the sheet adds to the style of all pages.
const STYLE: &str = include_str!("settings.css");
/// Beside it where notices stand above the table, or many notes in it.
const TIGHT_STYLE: &str = include_str!("settings_tight.css");
/// What not to do with a sheet of the simulator.
const PRACTICE: &str = "key none of it into a terminal";
/// Characters of a name.
const NAME_MOST: usize = 60;
/// Characters of a sentence: three lines of the page.
const SENTENCE_MOST: usize = 260;
/// Characters of a note: two lines of its column.
const NOTE_MOST: usize = 150;
/// Sentences above the table, and notes below a number, at most: the terminal has all.
const SENTENCES_MOST: usize = 3;
const NOTES_MOST: usize = 2;
/// Notes on a sheet that have room at its usual size.
const NOTES_ROOMY: usize = 4;
/// The lengths in the drawing, each with its letter.
const LETTERS: [(&str, char); 4] = [
    ("antenna_right", 'A'),
    ("antenna_ahead", 'B'),
    ("antenna_height", 'C'),
    ("axle_to_hitch", 'D'),
];

/// The whole page, ending with a line end.
#[must_use]
pub fn page(sheet: &SettingsV1, paper: Paper) -> String {
    let id = plain(&sheet.id);
    let main = html! {
        (against(sheet))
        (numbers(sheet))
        div class="drawn" {
            (drawing(sheet))
            (lengths(sheet))
        }
        p class="small" {
            "± is the half-width of the interval that covers the true value with "
            (format!("{:.0}\u{a0}%", 100.0 * sheet.coverage_probability)) ". "
            (commands(&again(sheet)))
        }
        dl class="sign" {
            div { dt { "Keyed in by" } dd {} }
            div { dt { "Date, and the implement" } dd {} }
        }
    };
    document_with(
        &Page {
            title: &format!("{TITLE} {id}: {}", cut(&line(&sheet.rig), NAME_MOST)),
            digest: "",
            style: &format!("{STYLE}{}", if crowded(sheet) { TIGHT_STYLE } else { "" }),
            practice: sheet.practice.then_some(PRACTICE),
            header: header(sheet),
            main,
        },
        &margins(sheet, paper, &id),
        &format!("End of sheet {id}"),
    )
}

/// Only what identities are made of reaches the style sheet.
fn plain(id: &str) -> String {
    id.chars().filter(char::is_ascii_hexdigit).take(16).collect()
}

fn margins(sheet: &SettingsV1, paper: Paper, id: &str) -> String {
    let above = match (sheet.practice, standing(sheet)) {
        (true, _) => "PRACTICE: no measurement",
        (false, standing) => standing.map_or("", |(word, _)| word),
    };
    let paper = paper.word();
    format!(
        "@page {{ size: {paper}; @top-right {{ content: \"{above}\"; }} \
         @bottom-left {{ content: \"Sheet {id}\"; }} }}\n"
    )
}

fn header(sheet: &SettingsV1) -> Markup {
    let fact = |label: &str, text: &str| {
        html! { div { dt { (label) } dd { bdi { (cut(text, NAME_MOST)) } } } }
    };
    html! {
        header {
            p class="maker" { "Trundle" }
            h1 { (TITLE) }
            dl class="facts" {
                (fact("Rig", &line(&sheet.rig)))
                (fact("Tractor", &named(sheet.tractor.as_deref())))
                (fact("Tyres", &tyres(sheet)))
                (fact("Implement speed from", &in_force(sheet)))
                (fact("Sheet", &line(&sheet.id)))
                (fact("As of", &format!("{} UTC", minute(&sheet.made_utc))))
            }
        }
        @if sheet.practice {
            div class="across" aria-hidden="true" { "PRACTICE" }
        } @else if let Some((word, _)) = standing(sheet) {
            div class="across longer" aria-hidden="true" { (word) }
        }
    }
}

fn minute(at: &str) -> String {
    instant(at).chars().take(16).collect()
}

/// What stands above the table.
fn notices(sheet: &SettingsV1) -> Vec<&RemarkV1> {
    let source = sheet.missing.iter().filter(|one| one.code == "source");
    sheet.out_of_date.iter().chain(source).chain(&sheet.remarks).collect()
}

fn crowded(sheet: &SettingsV1) -> bool {
    let notes: usize = sheet.settings.iter().map(|one| one.notes.len()).sum();
    let above = sheet.practice || standing(sheet).is_some() || !notices(sheet).is_empty();
    above || notes > NOTES_ROOMY
}

/// What speaks against the sheet, and what is to be known of it.
fn against(sheet: &SettingsV1) -> Markup {
    let all = notices(sheet);
    let more = all.len().saturating_sub(SENTENCES_MOST);
    html! {
        @if !all.is_empty() {
            div class="notice" {
                @if let Some((word, means)) = standing(sheet) {
                    p { strong { (word) } ": " (means) "." }
                }
                @for remark in all.iter().take(SENTENCES_MOST) {
                    p { bdi { (commands(&cut(&sentence(remark), SENTENCE_MOST))) } }
                }
                @if more > 0 {
                    p { "And " (more) " more: " code { "trundle sheet" } " shows them." }
                }
            }
        } @else if let Some((word, means)) = standing(sheet) {
            div class="notice" { p { strong { (word) } ": " (means) "." } }
        }
    }
}

/// Text in which commands stand between backticks.
fn commands(text: &str) -> Markup {
    html! {
        @for (at, piece) in text.split('`').enumerate() {
            @if at % 2 == 1 { code { (piece) } } @else { (piece) }
        }
    }
}

fn numbers(sheet: &SettingsV1) -> Markup {
    let columns = [("What", false), ("Key in", true), ("± and unit", false), ("From", false)]
        .map(|(name, numeric)| Column { name, numeric });
    let rows: Vec<Vec<Markup>> = sheet.settings.iter().map(|one| row(sheet, one)).collect();
    let caption = html! {
        "What is keyed into the terminal of an implement behind this tractor. Letters: see the "
        "drawing."
    };
    table("stack settings", &caption, &columns, &rows)
}

fn row(sheet: &SettingsV1, one: &SettingV1) -> Vec<Markup> {
    let (what, force) = name(one);
    let letter = letter(one);
    let missing = one.source == SourceV1::Missing;
    let next = sheet.missing.iter().find(|of| missing && of.code == one.key);
    vec![
        html! {
            (what)
            @if let Some(letter) = letter { " (" b { (letter) } ")" }
            @if !force.is_empty() {
                " "
                @if one.in_force == Some(true) { strong class="force" { (force) } } @else {
                    "(" (force) ")"
                }
            }
        },
        html! {
            @if let Some(number) = number(one) { b class="key-in" { (minus(&number)) } }
            @else if missing { "not known" } @else { "not clear" }
        },
        html! {
            @if let Some(half) = half(one) { (half) " " }
            (line(&one.unit))
            @if one.uncertainty_assumed { ", assumed" }
        },
        html! {
            @if let Some(next) = next { (commands(&line(&next.next))) } @else {
                @let (how, record) = origin(one);
                (how)
                @if let Some(id) = record { ", record " span class="id" { (id) } }
            }
            @for note in one.notes.iter().take(NOTES_MOST) {
                " " span class="note" { bdi { (commands(&cut(&line(note), NOTE_MOST))) } }
            }
        },
    ]
}

fn letter(one: &SettingV1) -> Option<char> {
    LETTERS.iter().find(|(key, _)| *key == one.key).map(|(_, letter)| *letter)
}

/// As set on paper: a true minus.
fn minus(number: &str) -> String {
    number.replace('-', "\u{2212}")
}

fn drawing(sheet: &SettingsV1) -> Markup {
    let measure = |(key, letter): (&str, char)| {
        let one = sheet.setting(key);
        Measure {
            letter,
            shown: one.and_then(number).map(|number| format!("{} m", minus(&number))),
            negative: one.and_then(|one| one.to_enter).is_some_and(|number| number < 0.0),
        }
    };
    let [right, ahead, height, hitch] = LETTERS.map(measure);
    let description = "The tractor from above, driving up the page, not to scale. A: from the \
                       middle to the antenna. B: from the rear axle to the antenna. C: from the \
                       ground up to the antenna. D: from the rear axle back to the coupling \
                       point. The table has the same numbers.";
    let said = Caption { id: "plan", title: "Where the lengths are measured", description };
    plan(said, &Measures { right, ahead, height, hitch })
}

/// What each letter means, and its sign.
fn lengths(sheet: &SettingsV1) -> Markup {
    let known = sheet.settings.iter().filter_map(|one| Some((letter(one)?, one)));
    html! {
        dl class="letters" {
            @for (letter, one) in known {
                div {
                    dt { (letter) }
                    dd {
                        (name(one).0)
                        @if let Some(signs) = &one.signs { ": " (line(signs)) } "."
                    }
                }
            }
            div { dt {} dd class="quiet" { "From above, not to scale. A broken line: not known." } }
        }
    }
}
