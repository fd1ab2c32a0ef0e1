//! What the book takes from the program's own tables besides: stations, columns, cautions, and the
//! index.

use super::{Chapter, place};
use crate::export::{Head, passes, records, slip, speeds};
use crate::live::troubles::TroubleKind;
use crate::phrases::plain::sentence_case;
use crate::text;
use crate::words::book::{self as words, anchor};
use crate::words::station::Station;
use maud::{Markup, html};
use trundle_core::cautions;
use trundle_core::flags::Code;

/// Every station and where it is explained.
pub fn stations() -> Markup {
    html! {
        h3 id="stations" { (words::STATIONS) }
        dl { @for station in Station::ALL {
            div id=(anchor("station", station.word())) {
                dt { a href=(place(station).trim_start_matches(words::PATH)) { (station.name()) } }
                dd { (station.about()) }
            }
        } }
    }
}

/// The columns of every table that goes out.
pub fn columns() -> Markup {
    let tables: [(&str, Vec<Head>); 4] = [
        ("records", records::heads()),
        ("passes", passes::heads()),
        ("slip", slip::heads()),
        ("speeds", speeds::heads()),
    ];
    html! {
        @for (name, heads) in &tables {
            h3 id=(anchor("columns", name)) { (words::columns(name)) }
            table {
                thead { tr { th scope="col" { (words::COLUMN) } th scope="col" { (words::IS) } } }
                tbody { @for head in heads {
                    tr { td { code { (head.name) } } td { (head.about) } }
                } }
            }
        }
    }
}

/// The program's own cautions.
pub fn cautions() -> Markup {
    let all = [cautions::ALL, cautions::PTO, cautions::PROOF, cautions::BUS];
    html! {
        @for (name, list) in words::CAUTIONS.into_iter().zip(all) {
            h3 { (name) }
            ul { @for caution in list { li { (caution) } } }
        }
    }
}

/// Where each word is; commands have a chapter of their own.
pub fn index() -> Markup {
    let chapters = Chapter::ALL.map(|one| (one.title().to_owned(), one.word().to_owned()));
    let stations = Station::ALL.map(|one| (one.name().to_owned(), anchor("station", one.word())));
    let flags = Code::ALL.iter().map(|code| code.word());
    let flags = flags.chain(text::speeds::KNOWN.iter().map(|one| one.code));
    let flags = flags.map(|word| (word.to_owned(), words::flag(word)));
    let troubles = TroubleKind::ALL
        .map(|kind| (sentence_case(&kind.word().replace('-', " ")), words::trouble(kind.word())));
    let mut words: Vec<(String, String)> =
        chapters.into_iter().chain(stations).chain(flags).chain(troubles).collect();
    words.sort_by_key(|(word, _)| word.to_lowercase());
    html! {
        ul class="index" {
            @for (word, at) in &words { li { a href=(format!("#{at}")) { (word) } } }
        }
    }
}
