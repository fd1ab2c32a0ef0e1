//! Records as a list to choose from, and the way to what else there is of them.

use super::Markup;
use super::form::Field;
use super::parts;
use crate::phrases::plain::{cut, line};
use crate::phrases::proof::outcome;
use crate::words::records as words;
use maud::html;
use std::fmt::Write as _;
use trundle_core::result::part_v1::title;
use trundle_core::result::records_v1::{DAMAGED, RecordRow};

/// Longest name of a rig in a list, characters.
const RIG_MOST: usize = 48;
/// Longest description of damage in a list, characters.
const DAMAGE_MOST: usize = 200;
/// Characters of an RFC 3339 time that say the day.
const DAY: usize = 10;

/// A name as part of a path: every byte but letters, digits and `-._~` by its number (RFC 3986,
/// section 2).
#[must_use]
pub fn path_part(name: &str) -> String {
    let mut out = String::new();
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            // Writing into a text does not fail.
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// A path with what follows the question mark; empty values are left out.
#[must_use]
pub fn asking(path: &str, pairs: &[(&str, &str)]) -> String {
    let pairs = pairs.iter().filter(|(_, value)| !value.is_empty());
    let pairs: Vec<String> =
        pairs.map(|(name, value)| format!("{}={}", path_part(name), path_part(value))).collect();
    if pairs.is_empty() { path.to_owned() } else { format!("{path}?{}", pairs.join("&")) }
}

/// Path of a record.
#[must_use]
pub fn of_record(id: &str) -> String {
    format!("/records/{}", path_part(id))
}

/// A form that only asks: what is typed stands in the address, and nothing is changed.
#[must_use]
pub fn ask(action: &str, hidden: &[(&str, &str)], fields: &[Field], button: &str) -> Markup {
    let id = action.replace('/', "-");
    html! {
        form .sheet method="get" action=(action) {
            @for (name, value) in hidden { input type="hidden" name=(name) value=(value); }
            @for field in fields { (field.markup(&id, &html! {})) }
            button .wide type="submit" { (line(button)) }
        }
    }
}

/// A section under a heading.
#[must_use]
pub fn section(heading: &str, about: &str, body: &[Markup]) -> Markup {
    html! {
        section .of-records {
            @if !heading.is_empty() { h2 { (line(heading)) } }
            @if !about.is_empty() { p .about { (line(about)) } }
            (parts::all(body))
        }
    }
}

/// Ways to several places, side by side where there is room.
#[must_use]
pub fn ways(ways: &[(String, String)]) -> Markup {
    html! {
        ul .ways { @for (path, words) in ways { li { a .wide href=(path) { (line(words)) } } } }
    }
}

/// The same, each as wide as its words: what stands beside the way, not on it.
#[must_use]
pub fn beside(ways: &[(String, String)]) -> Markup {
    html! {
        ul .ways .near { @for (path, words) in ways { li { a href=(path) { (line(words)) } } } }
    }
}

/// The list, a way to each record.
#[must_use]
pub fn list(rows: &[RecordRow]) -> Markup {
    html! {
        @if rows.iter().any(|row| row.damage.is_some()) {
            p .why { (words::BEWARE_DAMAGED) }
        }
        ul .records {
            @for row in rows {
                li {
                    a href=(of_record(&row.id)) {
                        span .id { (line(&row.id)) }
                        // Of a record that may be any, no value is shown.
                        @if row.state != DAMAGED {
                            span { (day(&row.issued_utc)) }
                            bdi .rig { (line(&cut(&row.rig, RIG_MOST))) }
                            span .value { (value(row)) }
                            span { (line(&row.state)) }
                            @for part in also(row) { span { (part) } }
                        }
                        @if row.practice { strong { (words::PRACTICE) } }
                        @if let Some(newer) = &row.amended_by {
                            strong { (words::superseded(&line(newer))) }
                        }
                        @if let Some(damage) = &row.damage {
                            strong { (words::damaged(&line(&cut(damage, DAMAGE_MOST)))) }
                        }
                    }
                }
            }
        }
    }
}

fn day(issued_utc: &str) -> String {
    line(&issued_utc.chars().take(DAY).collect::<String>())
}

/// The value of a record's course.
fn value(row: &RecordRow) -> String {
    let Some(to_enter) = row.to_enter else { return words::NO_COURSE.to_owned() };
    let uncertainty = row.expanded_uncertainty.unwrap_or_default();
    format!("{} {to_enter} \u{b1}{uncertainty:.1}", line(&row.channel))
}

/// What else was measured; the proof drive with what it found.
fn also(row: &RecordRow) -> Vec<String> {
    let named = |word: &String| match &row.as_left_measured {
        Some(state) if word == "proof" => format!("{}: {}", title(word), outcome(state)),
        _ => title(word).to_owned(),
    };
    row.parts.iter().map(named).collect()
}

/// The newer and the older page of a list, where there are such.
#[must_use]
pub fn pager(newer: Option<&str>, older: Option<&str>) -> Markup {
    let way = |path: &str, words: &str| (path.to_owned(), words.to_owned());
    let newer = newer.map(|path| way(path, words::NEWER));
    let older = older.map(|path| way(path, words::OLDER));
    ways(&newer.into_iter().chain(older).collect::<Vec<_>>())
}

/// Warnings above what they are of.
#[must_use]
pub fn warnings(said: &[String]) -> Markup {
    html! {
        @if !said.is_empty() {
            div .notice .bad {
                p { strong { (words::WARNINGS) } }
                @for words in said { p { (line(words)) } }
            }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn row() -> RecordRow {
        RecordRow {
            id: "20260101-0001".to_owned(),
            issued_utc: "2026-01-01T10:00:00Z".to_owned(),
            rig: "Big one".to_owned(),
            channel: "wheel".to_owned(),
            to_enter: Some(13_245),
            expanded_uncertainty: Some(12.04),
            parts: vec!["pto".to_owned(), "proof".to_owned()],
            as_left_measured: Some("took".to_owned()),
            state: "valid".to_owned(),
            practice: false,
            amends: None,
            amended_by: None,
            damage: None,
        }
    }

    #[test]
    fn names_are_safe_as_parts_of_a_path() {
        for (name, part) in [
            ("20260101-ab", "20260101-ab"),
            ("a/b?c=d&e#f", "a%2Fb%3Fc%3Dd%26e%23f"),
            ("\u{fc} +%", "%C3%BC%20%2B%25"),
            ("\u{202e}", "%E2%80%AE"),
        ] {
            assert_eq!(path_part(name), part);
        }
        assert_eq!(asking("/a", &[("x", ""), ("y", "1 2")]), "/a?y=1%202");
        assert_eq!(asking("/a", &[("x", "")]), "/a");
    }

    #[test]
    fn a_list_shows_values_of_what_can_be_believed_and_no_others() {
        let shown = list(&[row()]).into_string();
        for part in ["/records/20260101-0001", "wheel 13245 \u{b1}12.0", "2026-01-01", "Big one"] {
            assert!(shown.contains(part), "{part}: {shown}");
        }
        let doubted = RecordRow {
            state: DAMAGED.to_owned(),
            damage: Some("<b>".repeat(4000)),
            id: "<script>\u{202e}/x".to_owned(),
            ..row()
        };
        let shown = list(&[doubted]).into_string();
        assert!(!shown.contains("13245") && shown.contains("DAMAGED"), "{shown}");
        assert!(!shown.contains("<script>") && !shown.contains("<b>"), "{shown}");
        assert!(!shown.contains('\u{202e}') && shown.len() < 3000, "{shown}");
    }
}
