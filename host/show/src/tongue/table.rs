//! Sentences in two languages, and how they are found.

use super::template::Template;
use std::collections::BTreeMap;

/// One sentence.
pub(super) struct Entry {
    pub(super) english: Template,
    pub(super) other: Template,
    /// Letters that it says by itself.
    pub(super) letters: usize,
    /// What a text must hold to be one of it.
    pub(super) holds: String,
}

/// What is wrong with an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The sentence.
    pub english: String,
    /// What is wrong with it.
    pub why: String,
}

/// All sentences.
pub(super) struct Table {
    /// Those without places.
    pub(super) whole: BTreeMap<&'static str, &'static str>,
    /// Those with places, by a word that each text of them holds.
    pub(super) by_word: BTreeMap<String, Vec<Entry>>,
    /// Those that hold no whole word.
    pub(super) open: Vec<Entry>,
}

impl Table {
    /// Read topics: a line of English, then `= ` and the other language; `#` begins a remark, and
    /// blank lines are none. A `\n` in a sentence parts lines that are shown one by one.
    pub(super) fn of(topics: &[&'static str]) -> (Self, Vec<Fault>) {
        let (whole, by_word) = (BTreeMap::new(), BTreeMap::new());
        let mut table = Self { whole, by_word, open: Vec::new() };
        let mut faults = Vec::new();
        for topic in topics {
            let mut english = None;
            for line in topic.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
                match (english.take(), line.strip_prefix("= ")) {
                    (None, None) => english = Some(line),
                    (Some(from), Some(to)) => table.add(from, to, &mut faults),
                    (from, _) => faults.push(Fault {
                        english: from.unwrap_or(line).to_owned(),
                        why: "it does not stand beside its other language".to_owned(),
                    }),
                }
            }
        }
        (table, faults)
    }

    fn add(&mut self, from: &'static str, to: &'static str, faults: &mut Vec<Fault>) {
        let mut fault = |why: &str| {
            faults.push(Fault { english: from.to_owned(), why: why.to_owned() });
        };
        let (Some(english), Some(other)) = (Template::parse(from), Template::parse(to)) else {
            return fault("a brace does not close");
        };
        if english.places() != other.places() {
            return fault("it has other places than its other language");
        }
        if !english.has_places() && !from.contains("{{") {
            if self.whole.insert(from, to).is_some_and(|before| before != to) {
                fault("it stands twice, with two meanings");
            }
            return;
        }
        let letters = english.letters();
        if letters == 0 {
            return fault("it has no words of its own");
        }
        let holds = english.longest().to_owned();
        let word = english.word().map(str::to_owned);
        let entry = Entry { english, other, letters, holds };
        match word {
            Some(word) => self.by_word.entry(word).or_default().push(entry),
            None => self.open.push(entry),
        }
    }
}
