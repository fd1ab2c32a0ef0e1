//! The handbook: one page that loads nothing, made of chapters in Markdown and of the program's own
//! tables, so that these cannot be out of date.

mod chapters;
mod markdown;
mod options;
mod tables;
mod wrong;

use crate::html::page::{BASE, with_ways_in};
use crate::tongue::Tongue;
use crate::words::book as words;
use crate::words::records::BACK;
use crate::words::station::Station;
pub use chapters::Chapter;
use markdown::markdown;
use maud::{DOCTYPE, Markup, PreEscaped, html};
pub use options::option_places;
pub use wrong::slip_flag;

/// Style beside that of all pages.
const BOOK: &str = include_str!("book.css");
/// What a browser may do with the file: nothing but show it, its pictures within it.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// A command as the parser knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommandEntry {
    /// As it is typed.
    pub name: String,
    /// What it does.
    pub about: String,
    /// All that it takes.
    pub options: Vec<OptionEntry>,
}

/// Something that a command takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OptionEntry {
    /// Its name in the parser.
    pub id: String,
    /// As it is typed.
    pub shown: String,
    /// What it is.
    pub about: String,
}

/// Path and place in the book at which a station is explained.
#[must_use]
pub const fn place(station: Station) -> &'static str {
    match station {
        Station::Start => "/handbook#first",
        Station::Rig | Station::Sign | Station::Records => "/handbook#records",
        Station::Check => "/handbook#board",
        Station::Course => "/handbook#course",
        Station::Drive => "/handbook#passes",
        Station::Value => "/handbook#result",
        Station::Slip => "/handbook#others-slip-on-a-wet-headland",
        Station::Speeds => "/handbook#others-do-the-three-speeds-agree",
        Station::Bus => "/handbook#others-what-does-the-tractor-tell-the-implement",
        Station::Pto => "/handbook#others-impulses-per-revolution-of-the-pto",
        Station::Proof => "/handbook#others-did-the-value-take",
        Station::Antenna => "/handbook#others-antenna-position",
    }
}

/// The whole book, ending with a line end. `refusals`: what the page says to whoever is not let in,
/// each with what it means and what to do.
#[must_use]
pub fn page(commands: &[CommandEntry], refusals: &[[String; 3]], tongue: Tongue) -> String {
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="referrer" content="no-referrer";
                meta name="color-scheme" content="light dark";
                title { (words::HANDBOOK) " - Trundle" }
                style { (PreEscaped(BASE)) (PreEscaped(BOOK)) }
            }
            body {
                header {
                    p class="maker" { "Trundle" }
                    h1 { (words::HANDBOOK) }
                    p { (words::ABOUT) }
                }
                (contents())
                main {
                    @for chapter in Chapter::ALL { (written(chapter, commands, refusals, tongue)) }
                    (section("index", words::INDEX, &tables::index()))
                }
                footer { p { (words::END) } }
            }
        }
    };
    let mut out = tongue.markup(&whole.into_string()).into_owned();
    out.push('\n');
    out
}

/// The book as the program serves it: with the way back to the job.
#[must_use]
pub fn served(page: &str, tongue: Tongue) -> String {
    with_ways_in(page, &[("/", BACK)], tongue)
}

fn contents() -> Markup {
    html! {
        nav id="chapters" class="chapters" aria-label=(words::CHAPTERS) {
            h2 { (words::CHAPTERS) }
            ol {
                @for chapter in Chapter::ALL {
                    li { a href=(format!("#{}", chapter.word())) { (chapter.title()) } }
                }
                li { a href="#index" { (words::INDEX) } }
            }
        }
    }
}

fn written(
    chapter: Chapter,
    commands: &[CommandEntry],
    refusals: &[[String; 3]],
    tongue: Tongue,
) -> Markup {
    let body = html! {
        (prose(chapter, tongue))
        @match chapter {
            Chapter::Wrong => { (wrong::wrong(refusals)) }
            Chapter::Export => { (tables::columns()) }
            Chapter::Cautions => { (tables::cautions()) }
            Chapter::Commands => { (options::commands(commands)) }
            Chapter::First => { (tables::stations()) }
            _ => {}
        }
    };
    section(chapter.word(), chapter.title(), &body)
}

/// What is written in a chapter, with the language in which it is where that is not the page's.
fn prose(chapter: Chapter, tongue: Tongue) -> Markup {
    let texts = |texts: &mut dyn Iterator<Item = &'static str>| {
        html! { @for text in texts { (markdown(chapter.word(), text)) } }
    };
    match (tongue, chapter.texts_in(tongue)) {
        (Tongue::English, _) => texts(&mut chapter.texts()),
        // It is said already: nothing in it is looked for among the sentences of the program.
        (_, Some(own)) => html! { div translate="no" { (texts(&mut own.into_iter())) } },
        (_, None) => html! { div lang="en" translate="no" { (texts(&mut chapter.texts())) } },
    }
}

fn section(id: &str, title: &str, body: &Markup) -> Markup {
    let heading = format!("{id}-heading");
    html! {
        section id=(id) aria-labelledby=(heading) {
            div class="head" {
                h2 id=(heading) { (title) }
                p class="up" { a href="#chapters" { (words::TO_CHAPTERS) } }
            }
            div class="body" { (body) }
        }
    }
}
