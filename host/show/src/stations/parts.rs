//! What stations are made of beside forms.

use super::Markup;
use crate::phrases::plain::line;
use crate::words::station::Station;
use crate::words::stations as words;
use maud::html;

/// Several parts, one after the other.
#[must_use]
pub fn all(parts: &[Markup]) -> Markup {
    html! { @for part in parts { (part) } }
}

/// Sentences, each a paragraph.
#[must_use]
pub fn sentences(said: &[String]) -> Markup {
    html! { @for words in said { p { (line(words)) } } }
}

/// What is to be heeded before anything moves.
#[must_use]
pub fn cautions(heading: &str, cautions: &[&str]) -> Markup {
    html! {
        section .cautions {
            h2 { (heading) }
            ul { @for caution in cautions { li { (caution) } } }
        }
    }
}

/// What a command said, as it stands in a terminal, under a heading.
#[must_use]
pub fn said(heading: &str, lines: &[String]) -> Markup {
    html! {
        section {
            h2 { (line(heading)) }
            pre .said-words { @for words in lines { (line(words)) "\n" } }
        }
    }
}

/// Lines of a command, as they stand in a terminal.
#[must_use]
pub fn lines(lines: &[String]) -> Markup {
    html! { pre .said-words { @for words in lines { (line(words)) "\n" } } }
}

/// Something that most need not read, folded away.
#[must_use]
pub fn folded(heading: &str, body: &Markup) -> Markup {
    html! { details .folded { summary { (line(heading)) } (body) } }
}

/// A form that most need not fill in, folded away unless something is wrong with it.
#[must_use]
pub fn folded_form(heading: &str, open: bool, form: &Markup) -> Markup {
    html! { details .folded open[open] { summary { (line(heading)) } (form) } }
}

/// A link of ours that looks like a button.
#[must_use]
pub fn go(path: &str, words: &str) -> Markup {
    html! { a .wide href=(path) { (line(words)) } }
}

/// A link of ours in a line of its own.
#[must_use]
pub fn link(path: &str, words: &str) -> Markup {
    html! { p .way-to { a href=(path) { bdi { (line(words)) } } } }
}

/// A heading within a page.
#[must_use]
pub fn heading(words: &str) -> Markup {
    html! { h2 { (line(words)) } }
}

/// A table: its heads, and rows of texts, of which the first leads to a path where there is one.
#[must_use]
pub fn table(heads: &[&str], rows: &[(Option<String>, Vec<String>)]) -> Markup {
    html! {
        div .wide-table tabindex="0" role="region" aria-label=(heads.join(", ")) {
            table .list {
                thead { tr { @for head in heads { th scope="col" { (head) } } } }
                tbody {
                    @for (path, cells) in rows {
                        tr {
                            @for (n, cell) in cells.iter().enumerate() {
                                td {
                                    @match path {
                                        Some(path) if n == 0 => a href=(path) { (line(cell)) },
                                        _ => (line(cell)),
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What a station is for.
#[must_use]
pub fn about(station: Station) -> Markup {
    html! { p .about { (station.about()) } }
}

/// What is due next, with the way there.
#[must_use]
pub fn due(station: Station) -> Markup {
    html! {
        section {
            h2 { (words::NEXT) }
            p { (station.about()) }
            a .wide href=(station.path()) { (station.name()) }
        }
    }
}
