//! A second language for everything a person reads.
//!
//! The program speaks English inside: every sentence stands once, in `words` and in the core, and
//! documents, records and captures are made of it. Another language comes in at the edge alone,
//! where a text leaves for a person (the terminal, a page, a paper): there each sentence is found
//! again by its template, its values are taken out of it and put into the template of the other
//! language. So nothing that is stored, exported or compared depends on a language, a record can be
//! read in another one than it was signed in, and a sentence that is changed is missed by a test
//! and not by a reader: what the table does not know stays English.
//!
//! A table is plain text, compiled in; no library that formats messages would take numbers out of a
//! sentence, and one that wants keys instead of sentences would have to stand at four thousand
//! places.

mod cover;
mod german;
mod lines;
mod markup;
mod numbers;
mod table;
mod template;
mod typed;

use serde::Deserialize;
use std::borrow::Cow;
use std::sync::OnceLock;
use table::Table;

pub use table::Fault;
pub use typed::stays_as_typed;

/// A language for people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub enum Tongue {
    /// English, in which the program thinks.
    #[default]
    #[serde(rename = "en")]
    English,
    /// German.
    #[serde(rename = "de")]
    German,
}

/// A text in another language, and what of it could not be said.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// The text.
    pub text: String,
    /// Pieces that stayed as they were although they look like words.
    pub left: Vec<String>,
}

impl Tongue {
    /// All there are, in the order in which they are offered.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its code (ISO 639-1).
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// Its name, in itself.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::English => "English",
            Self::German => "Deutsch",
        }
    }

    /// The language of this code.
    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|tongue| tongue.code() == code)
    }

    /// One text without markup: a sentence, a label, or several of them.
    #[must_use]
    pub fn text(self, text: &str) -> Cow<'_, str> {
        self.table().map_or(Cow::Borrowed(text), |table| Cow::Owned(table.said(text).text))
    }

    /// Lines for a terminal, tables too; what is longer than a line afterwards is broken anew.
    #[must_use]
    pub fn lines(self, text: &str) -> Cow<'_, str> {
        self.table().map_or(Cow::Borrowed(text), |table| Cow::Owned(lines::said(table, text).text))
    }

    /// A text in which numbers and examples stay as they are typed.
    #[must_use]
    pub fn as_typed(self, text: &str) -> Cow<'_, str> {
        self.table().map_or(Cow::Borrowed(text), |table| Cow::Owned(table.said_as_typed(text).text))
    }

    /// The lines of `--help`, made of sentences that were said by [`Self::as_typed`].
    #[must_use]
    pub fn help(self, text: &str) -> Cow<'_, str> {
        self.table().map_or(Cow::Borrowed(text), |table| Cow::Owned(lines::help(table, text)))
    }

    /// A page or a drawing: its text, and those of its attributes that are read or heard.
    #[must_use]
    pub fn markup(self, page: &str) -> Cow<'_, str> {
        let code = self.code();
        self.table()
            .map_or(Cow::Borrowed(page), |table| Cow::Owned(markup::said(table, page, code).text))
    }

    /// A JSON text for a page: its texts, not its keys nor the words that are for its script.
    #[must_use]
    pub fn json(self, json: &str) -> Cow<'_, str> {
        self.table().map_or(Cow::Borrowed(json), |table| Cow::Owned(markup::json(table, json).text))
    }

    fn table(self) -> Option<&'static Table> {
        static GERMAN: OnceLock<Table> = OnceLock::new();
        match self {
            Self::English => None,
            Self::German => Some(GERMAN.get_or_init(|| Table::of(&german::TOPICS).0)),
        }
    }
}

/// Where a text goes, for a table that is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Lines for a terminal.
    Lines,
    /// A page or a drawing.
    Markup,
    /// A JSON text for a page.
    Json,
}

/// A text by the tables as they are given (for who works on them) or by those compiled in, and
/// what they do not know.
#[must_use]
pub fn tried(topics: Option<&[&'static str]>, kind: Kind, text: &str) -> Said {
    let own = topics.map(|topics| Table::of(topics).0);
    let Some(table) = own.as_ref().or_else(|| Tongue::German.table()) else {
        return Said::default();
    };
    match kind {
        Kind::Lines => lines::said(table, text),
        Kind::Markup => markup::said(table, text, Tongue::German.code()),
        Kind::Json => markup::json(table, text),
    }
}

/// What is wrong with the tables that are compiled in.
#[must_use]
pub fn faults() -> Vec<Fault> {
    Table::of(&german::TOPICS).1
}

#[test]
fn the_tables_are_sound() {
    let all: Vec<_> = faults().into_iter().map(|one| (one.english, one.why)).collect();
    assert!(all.is_empty(), "{all:#?}");
}
