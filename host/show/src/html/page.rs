//! What all pages share: head, banner, sections, cautions, and the end.
//!
//! No script, no picture, no font and no address is loaded, so a page says the same in ten years,
//! and a security policy inside it makes the browser hold to that. Text from outside is escaped by
//! the template and passed through `words` for characters that would act unseen.

pub mod table;

use crate::phrases::plain::{line, sentence_case};
use crate::tongue::Tongue;
use crate::words::book;
use crate::words::records as words;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use trundle_core::cautions;

/// What a page of text needs: colours, letters, head and sections.
pub const BASE: &str = include_str!("base.css");
/// The style sheet of all pages of results.
pub const STYLE: &str = concat!(include_str!("base.css"), include_str!("style.css"));

/// Hexadecimal digits of the capture's digest at the foot of each printed page.
const DIGEST_SHORT: usize = 16;

/// What stands before the word of a flag.
const CODE: &str = "<p class=\"code\">";

/// Style of the way back.
const WAY_BACK: &str = ".way-back { padding: 0.5rem 0; } .way-back a { display: inline-block; \
    min-height: 2.75rem; line-height: 2.75rem; padding: 0 1rem; color: inherit; \
    border: 2px solid var(--rule); } .code a { color: inherit; } \
    @media print { .way-back { display: none; } }\n";

/// What a page is made of.
#[derive(Debug)]
pub struct Page<'a> {
    /// Title of the window.
    pub title: &'a str,
    /// Digest of the capture, empty where there is no one capture; not trusted.
    pub digest: &'a str,
    /// Style sheet beside the common one; never text from outside.
    pub style: &'a str,
    /// The data are simulated: what not to do with them.
    pub practice: Option<&'a str>,
    /// Name, date, ornament.
    pub header: Markup,
    /// The sections of the page.
    pub main: Markup,
}

/// The whole page, ending with a line end.
pub fn document(page: &Page<'_>) -> String {
    // Only digits of the digest reach the style sheet: nothing in a file may end it.
    let digest: String =
        page.digest.chars().filter(char::is_ascii_hexdigit).take(DIGEST_SHORT).collect();
    let foot = match digest.is_empty() {
        true => String::new(),
        false => format!("@page {{ @bottom-left {{ content: \"Capture {digest}\"; }} }}\n"),
    };
    document_with(page, &foot, "End of the result")
}

/// The same with margins of its own on paper, and its own last line. `margins` is a style sheet
/// and never text from outside.
pub fn document_with(page: &Page<'_>, margins: &str, end: &str) -> String {
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            (head(page, margins))
            body {
                @if let Some(beware) = page.practice { (practice_banner(beware)) }
                (page.header)
                main { (page.main) }
                footer { p { (end) } }
            }
        }
    };
    let mut out = whole.into_string();
    out.push('\n');
    out
}

/// A finished page with a few words to be read before it, as when the job it tells of has just
/// ended.
#[must_use]
pub fn with_notice(page: &str, words: &str) -> String {
    let notice = html! { aside class="practice" aria-label="Ended" { p { (line(words)) } } };
    page.replacen("<body>", &format!("<body>{}", notice.into_string()), 1)
}

/// A finished page with a way back to a path of ours and to the handbook, for the screen alone:
/// paper has none of it. The word of each flag leads to its entry in the handbook.
#[must_use]
pub fn with_way_back(page: &str, path: &str) -> String {
    let page = with_entries(page);
    with_ways(&page, &[(path, words::BACK), (book::PATH, book::HANDBOOK)])
}

/// The same with the way to the handbook alone.
#[must_use]
pub fn with_handbook(page: &str) -> String {
    with_ways(&with_entries(page), &[(book::PATH, book::HANDBOOK)])
}

/// A finished page or a part of one, whose words of flags lead to their entries in the handbook.
/// Text from outside is escaped and can make no such word.
#[must_use]
pub fn with_entries(page: &str) -> String {
    let mut parts = page.split(CODE);
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        out.push_str(CODE);
        let (word, rest) = part.split_once('<').unwrap_or((part, ""));
        if word.chars().all(|c| c.is_ascii_uppercase() || c == '_') && !word.is_empty() {
            let link = html! { a href=(book::at(&book::flag(word))) { (word) } };
            out.push_str(&link.into_string());
        } else {
            out.push_str(word);
        }
        out.push('<');
        out.push_str(rest);
    }
    out
}

/// A finished page with ways to these paths of ours, for the screen alone.
pub(crate) fn with_ways(page: &str, ways: &[(&str, &str)]) -> String {
    with_ways_in(page, ways, Tongue::English)
}

/// The same for a page in this language.
pub(crate) fn with_ways_in(page: &str, ways: &[(&str, &str)], tongue: Tongue) -> String {
    let way = html! {
        nav class="way-back" {
            @for (path, words) in ways { a href=(path) { (words) } " " }
            span { (words::PRINT_IT) }
        }
    };
    let page = page.replacen("</style>", &format!("{WAY_BACK}</style>"), 1);
    page.replacen("<body>", &format!("<body>{}", tongue.markup(&way.into_string())), 1)
}

fn head(page: &Page<'_>, margins: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta http-equiv="Content-Security-Policy"
                content="default-src 'none'; style-src 'unsafe-inline'";
            meta name="referrer" content="no-referrer";
            meta name="color-scheme" content="light dark";
            title { (page.title) }
            style { (PreEscaped(STYLE)) (PreEscaped(page.style)) (PreEscaped(margins)) }
        }
    }
}

fn practice_banner(beware: &str) -> Markup {
    html! {
        aside class="practice" aria-label="Practice" {
            p {
                strong { "Practice. " }
                "These data come from the simulator. No tractor was measured: "
                (beware) "."
            }
        }
    }
}

/// A section with its heading at the side where there is room.
pub fn section(id: &str, heading: &str, body: &Markup) -> Markup {
    let heading_id = format!("{id}-heading");
    html! {
        section id=(id) aria-labelledby=(heading_id) {
            h2 id=(heading_id) { (heading) }
            div class="body" { (body) }
        }
    }
}

/// A drawing with what is to be read below it, or these words where there is none.
pub fn drawn(drawing: Option<Markup>, below: &Markup, none: &str) -> Markup {
    html! {
        @if let Some(drawing) = drawing {
            figure class="drawing" {
                (drawing)
                figcaption { (below) }
            }
        } @else if !none.is_empty() { p { (none) } }
    }
}

/// The section of a result that cannot be given: why, what that means and what to do.
pub fn refused(heading: &str, what: &impl ToString, means: &str, next: &str) -> Markup {
    let body = html! {
        p class="none" { "No result" }
        p { bdi { (line(&sentence_case(&what.to_string()))) } ". " (means) }
        p { (next) }
    };
    section("answer", heading, &body)
}

/// The head of a page: its name, and facts about the capture or the rig.
pub fn header(title: &str, facts: &Markup) -> Markup {
    html! {
        header {
            p class="maker" { "Trundle" }
            h1 { (title) }
            dl class="facts" { (facts) }
        }
    }
}

/// Entries of the list of facts in the head of a page that name the capture.
pub fn capture_facts(started_utc: &str, capture_name: &str) -> Markup {
    html! {
        @if !started_utc.is_empty() {
            div { dt { "Capture began" } dd { bdi { (line(started_utc)) } } }
        }
        @if !capture_name.is_empty() {
            div { dt { "Capture" } dd { bdi { (line(capture_name)) } } }
        }
    }
}

/// The section with the cautions.
pub fn cautions() -> Markup {
    let body = html! { ul { @for caution in cautions::ALL { li { (caution) } } } };
    section("cautions", "Cautions", &body)
}

/// The section that names what is needed to recalculate the result: with the same `with`.
pub fn again(with: &str, capture_name: &str, digest: &str, software: &str) -> Markup {
    let body = html! {
        p {
            "The capture holds all data received. Recalculated with the same " (with)
            " it gives the same result."
        }
        dl class="trace" {
            div { dt { "Capture" } dd { bdi { (given(capture_name)) } } }
            div { dt { "Digest" } dd class="digest" { bdi { (given(digest)) } } }
            div { dt { "Software" } dd { "trundle " bdi { (given(software)) } } }
        }
    };
    section("again", "To recalculate it", &body)
}

/// The text, or a word for none.
fn given(text: &str) -> String {
    if text.is_empty() { "not given".to_owned() } else { line(text) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_flags_lead_to_the_handbook_and_nothing_else_does() {
        let page = "<body><p class=\"code\">FIX_GAP</p><p class=\"code\">&lt;b&gt; x</p></body>";
        let served = with_handbook(page);
        let link = "<p class=\"code\"><a href=\"/handbook#flag-fix-gap\">FIX_GAP</a></p>";
        assert!(served.contains(link), "{served}");
        assert!(served.contains("<p class=\"code\">&lt;b&gt; x</p>"), "{served}");
        assert!(served.contains("<a href=\"/handbook\">Handbook</a>"), "{served}");
        assert_eq!(with_entries("<p>x</p>"), "<p>x</p>");
    }
}
