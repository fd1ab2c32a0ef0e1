//! A text, put together of sentences: each is found again, and said in the other language.

use super::Said;
use super::numbers::{KEPT, with_comma};
use super::table::{Entry, Table};
use super::template::{letters, words};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Bound;

/// Values in values in values are looked into; nothing is put together deeper.
const DEEPEST: usize = 3;
/// So many pieces between two marks of punctuation are tried as one sentence.
const LONGEST: usize = 12;
/// A sentence that was cut is known by so many of its bytes.
const SURE: usize = 30;
/// Longer texts are no sentences of ours, bytes.
const MOST: usize = 4_000;
/// Fewer letters than this only join what stands in the places.
const JOINS: usize = 7;
/// What may stand between two sentences.
const BETWEEN: [&str; 15] =
    ["→ ", ". ", "? ", "! ", ": ", "; ", ", ", " · ", " - ", " (", ") ", ")", "  ", " = ", " / "];
/// What stands at the ends of a piece and belongs to no sentence.
const ENDS: &[char] =
    &['→', '.', ',', ':', ';', '(', ')', ' ', '-', '!', '=', '/', '·', '"', '\u{a0}'];

/// How well a text is said.
#[derive(Clone, Default)]
struct Try {
    text: String,
    /// Letters that the table knows.
    known: usize,
    /// Those of them that one sentence says by itself.
    own: usize,
    left: Vec<String>,
}

/// One text that is being said, and what was found of its pieces: the same piece is met again at
/// many cuts.
struct Search<'t> {
    table: &'t Table,
    found: RefCell<BTreeMap<(usize, String), Try>>,
}

impl Table {
    /// Say a text without markup.
    pub(super) fn said(&self, text: &str) -> Said {
        let said = self.searched(text);
        Said { text: with_comma(&said.text), ..said }
    }

    /// The same with numbers as they are typed.
    pub(super) fn said_as_typed(&self, text: &str) -> Said {
        let said = self.searched(text);
        Said { text: said.text.replace(KEPT, ""), ..said }
    }

    fn searched(&self, text: &str) -> Said {
        // An option stays whatever its name is, and so does a place on the disk.
        let option =
            text.starts_with('-') && text[1..].starts_with(|c: char| c.is_alphabetic() || c == '-');
        if option || is_path(text) {
            return Said { text: kept(text), left: Vec::new() };
        }
        if !text.contains(char::is_alphabetic) || text.len() > MOST {
            return Said { text: text.to_owned(), left: Vec::new() };
        }
        if let Some(other) = self.whole.get(text) {
            return Said { text: (*other).to_owned(), left: Vec::new() };
        }
        let found = Search { table: self, found: RefCell::default() }.covered(text, 0);
        Said { text: found.text, left: found.left }
    }
}

impl Search<'_> {
    /// The best there is, looked for once.
    fn covered(&self, text: &str, depth: usize) -> Try {
        let key = (depth, text.to_owned());
        if let Some(found) = self.found.borrow().get(&key) {
            return found.clone();
        }
        let found = self.cover(text, depth);
        self.found.borrow_mut().insert(key, found.clone());
        found
    }

    /// The best there is: as one sentence, or as several.
    fn cover(&self, text: &str, depth: usize) -> Try {
        let inner = text.trim();
        let whole = self.sentence(inner, depth);
        let all = letters(inner);
        let best = match whole {
            Some(whole) if whole.known >= all || depth >= DEEPEST => whole,
            whole => {
                let parts = self.parts(inner, depth);
                match whole {
                    Some(whole) if whole.known >= parts.known => whole,
                    _ => parts,
                }
            }
        };
        let start = text.len() - text.trim_start().len();
        let end = text.trim_end().len().max(start);
        Try { text: format!("{}{}{}", &text[..start], best.text, &text[end..]), ..best }
    }

    /// One sentence of the table: as it stands, with a stop that it lost, without what stands at
    /// its ends, or with a small first letter; that of which most is known.
    fn sentence(&self, text: &str, depth: usize) -> Option<Try> {
        let all = letters(text);
        let ways = [
            Self::as_it_is,
            Self::with_a_stop,
            Self::within_its_ends,
            Self::begun_small,
            Self::cut_short,
        ];
        let mut best: Option<Try> = None;
        for way in ways {
            let found = way(self, text, depth);
            if let Some(found) =
                found.filter(|one| best.as_ref().is_none_or(|b| one.known > b.known))
            {
                if found.known >= all {
                    return Some(found);
                }
                best = Some(found);
            }
        }
        best
    }

    fn as_it_is(&self, text: &str, depth: usize) -> Option<Try> {
        self.exactly(text, depth)
    }

    /// A sentence that lost its full stop, as those of `--help` do.
    fn with_a_stop(&self, text: &str, depth: usize) -> Option<Try> {
        let ends = |c: char| c.is_alphanumeric() || ")\"]`".contains(c);
        let found = text.ends_with(ends).then(|| self.exactly(&format!("{text}."), depth))??;
        let said = found.text.strip_suffix('.')?.to_owned();
        Some(Try { text: said, ..found })
    }

    fn within_its_ends(&self, text: &str, depth: usize) -> Option<Try> {
        let front = text.trim_start_matches(ENDS).len();
        let back = text.trim_end_matches(ENDS).len();
        let from = text.len() - front;
        let mut best: Option<Try> = None;
        for (from, to) in [(0, back), (from, text.len()), (from, back)] {
            if from >= to || (from, to) == (0, text.len()) {
                continue;
            }
            let Some(found) = self.exactly(&text[from..to], depth) else { continue };
            if best.as_ref().is_none_or(|b| found.known > b.known) {
                let said = format!("{}{}{}", &text[..from], found.text, &text[to..]);
                best = Some(Try { text: said, ..found });
            }
        }
        best
    }

    /// A sentence that is put at the start of another begins with a capital there.
    fn begun_small(&self, text: &str, depth: usize) -> Option<Try> {
        let small = |c: char| c.is_lowercase();
        let mut letters = text.chars();
        let first = letters.next().filter(|c| c.is_uppercase())?;
        letters.next().filter(|c| small(*c) || *c == ' ')?;
        let inner = format!("{}{}", first.to_lowercase(), &text[first.len_utf8()..]);
        let ways = [Self::as_it_is, Self::with_a_stop, Self::within_its_ends];
        let found = ways.iter().find_map(|way| way(self, &inner, depth))?;
        let mut said = found.text.chars();
        let first = said.next()?.to_uppercase().to_string();
        Some(Try { text: first + said.as_str(), ..found })
    }

    /// A sentence that was cut for want of room: the other one is cut at the same length.
    fn cut_short(&self, text: &str, _: usize) -> Option<Try> {
        let begun = text.strip_suffix('…')?;
        let after = (Bound::Included(begun), Bound::Unbounded);
        let (whole, other) = self.table.whole.range::<str, _>(after).next()?;
        if begun.len() < SURE || !whole.starts_with(begun) {
            return None;
        }
        let kept: String = other.chars().take(begun.chars().count()).collect();
        let kept = kept.rsplit_once(' ').map_or(kept.as_str(), |(kept, _)| kept);
        let known = letters(begun);
        Some(Try { text: format!("{kept} …"), known, own: known, left: Vec::new() })
    }

    fn exactly(&self, text: &str, depth: usize) -> Option<Try> {
        if let Some(other) = self.table.whole.get(text) {
            let (text, known) = ((*other).to_owned(), letters(text));
            return Some(Try { text, known, own: known, left: Vec::new() });
        }
        let mut held: Vec<&str> = words(text).collect();
        held.sort_unstable();
        held.dedup();
        let by_word = held.iter().filter_map(|word| self.table.by_word.get(*word)).flatten();
        let mut best: Option<Try> = None;
        for entry in by_word.chain(&self.table.open) {
            if !text.contains(entry.holds.as_str()) {
                continue;
            }
            let found = self.made_by(entry, text, depth);
            // Of two that know the same, the one that says more by itself is meant.
            let better =
                |one: &Try| best.as_ref().is_none_or(|b| (one.known, one.own) > (b.known, b.own));
            if let Some(found) = found.filter(better) {
                best = Some(found);
            }
        }
        best
    }

    fn made_by(&self, entry: &Entry, text: &str, depth: usize) -> Option<Try> {
        let values = entry.english.values(text)?;
        // A last place takes no stop with it: that ends the sentence around.
        let last = values.last().filter(|_| entry.english.ends_open());
        if last.is_some_and(|last| last.ends_with(['.', ':', ';', ',']) || last.contains(". ")) {
            return None;
        }
        let mut found = Try { known: entry.letters, own: entry.letters, ..Try::default() };
        let mut own = Vec::with_capacity(values.len());
        for (value, typed) in values.into_iter().zip(entry.english.typed()) {
            if typed || is_path(value) {
                own.push(kept(value));
                continue;
            }
            if depth >= DEEPEST || !value.contains(char::is_alphabetic) {
                own.push(value.to_owned());
                continue;
            }
            let said = self.covered(value, depth + 1);
            found.known += said.known;
            // One word of which nothing is known is a name.
            let left = said.left.into_iter().filter(|left| left.contains(' '));
            found.left.extend(left);
            // What is little more than an "and" joins nothing of which the rest is not known.
            if entry.letters < JOINS && !found.left.is_empty() {
                return None;
            }
            own.push(said.text);
        }
        found.text = entry.other.filled(&entry.english, &own);
        Some(found)
    }

    /// Several sentences: those cuts at which most is known, and of these the fewest.
    fn parts(&self, text: &str, depth: usize) -> Try {
        let cuts = cuts(text);
        // From each cut to the end: what is known there, pieces, and where the first one ends.
        let mut best: Vec<(usize, usize, usize, Try)> = Vec::new();
        best.resize_with(cuts.len(), Default::default);
        for from in (0..cuts.len() - 1).rev() {
            let furthest = (from + LONGEST).min(cuts.len() - 1);
            for to in (from + 1..=furthest).rev() {
                if from == 0 && to == cuts.len() - 1 && to > 1 {
                    continue;
                }
                let piece = &text[cuts[from]..cuts[to]];
                let found = self.piece(piece, depth, to == from + 1);
                let Some(found) = found else { continue };
                let (known, pieces) = (found.known + best[to].0, 1 + best[to].1);
                let first = best[from].1 == 0;
                if first || known > best[from].0 || (known == best[from].0 && pieces < best[from].1)
                {
                    best[from] = (known, pieces, to, found);
                }
            }
        }
        let (mut at, mut out) = (0, Try::default());
        while at < cuts.len() - 1 {
            let (_, _, to, found) = std::mem::take(&mut best[at]);
            out.text.push_str(&found.text);
            out.known += found.known;
            out.left.extend(found.left);
            at = to;
        }
        out
    }

    /// A piece between two cuts; one that cannot be said stays as it is, where it is a shortest.
    fn piece(&self, piece: &str, depth: usize, shortest: bool) -> Option<Try> {
        let inner = piece.trim();
        let start = piece.len() - piece.trim_start().len();
        let end = piece.trim_end().len().max(start);
        if let Some(found) = self.sentence(inner, depth) {
            let text = format!("{}{}{}", &piece[..start], found.text, &piece[end..]);
            return Some(Try { text, ..found });
        }
        shortest.then(|| {
            let left = if is_words(inner) { vec![inner.to_owned()] } else { Vec::new() };
            Try { text: piece.to_owned(), left, ..Try::default() }
        })
    }
}

/// A value that is kept as it is, numbers in it too.
fn kept(value: &str) -> String {
    format!("{}{value}{}", KEPT[0], KEPT[1])
}

/// A place on a disk, as a system names it.
fn is_path(text: &str) -> bool {
    let drive = text.as_bytes().first().is_some_and(u8::is_ascii_alphabetic);
    text.starts_with(['/', '\\', '~'])
        || text.starts_with("./")
        || text.starts_with("../")
        || (drive && text[1..].starts_with(":\\"))
}

/// Where a text may be cut: its start, behind each mark between two sentences, and its end.
fn cuts(text: &str) -> Vec<usize> {
    let mut cuts = vec![0];
    let mut at = 0;
    while at < text.len() {
        let between = BETWEEN.iter().find(|mark| text[at..].starts_with(**mark));
        if let Some(length) = stamp(&text[at..]) {
            at += length;
            cuts.push(at);
            continue;
        }
        at += between
            .map_or_else(|| text[at..].chars().next().map_or(1, char::len_utf8), |mark| mark.len());
        if between.is_some() && at < text.len() && cuts.last() != Some(&at) {
            cuts.push(at);
        }
    }
    cuts.push(text.len());
    cuts
}

/// Length of a time of day, `12:31:26`, with the space behind it.
fn stamp(text: &str) -> Option<usize> {
    let bytes = text.as_bytes().get(..9)?;
    let fits = bytes.iter().enumerate().all(|(n, byte)| match n {
        2 | 5 => *byte == b':',
        8 => *byte == b' ',
        _ => byte.is_ascii_digit(),
    });
    (fits && text.len() > 9).then_some(9)
}

/// It looks like words for people and not like a unit, a name, a code or a number.
fn is_words(text: &str) -> bool {
    let plain = |word: &str| {
        let core = word.trim_matches(ENDS);
        core.len() > 2 && core.chars().all(|c| c.is_ascii_lowercase())
    };
    text.split_whitespace().any(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ENTRIES: [&str; 8] = [
        "Stop beside the far peg, then stand still.\n= Am Zielpflock anhalten, dann stillstehen.\n",
        "Pass {n}: {why}\n= Messfahrt {n}: {why}\n",
        "no fix\n= keine Position\n",
        "the rig \"{name}\" is saved\n= gespeichert: Gespann \"{name}\"\n",
        "{a} and {b}\n= {a} und {b}\n",
        "wheel\n= Rad\n",
        "radar\n= Radar\n",
        "type `trundle {kind} add`\n= `trundle {kind} add` eintippen\n",
    ];

    #[test]
    fn sentences_are_found_in_what_was_put_together() {
        let table = Table::of(&ENTRIES).0;
        for (english, german) in [
            ("Pass 2: no fix", "Messfahrt 2: keine Position"),
            ("12:31:26 No fix. (Pass 2: wheel)", "12:31:26 Keine Position. (Messfahrt 2: Rad)"),
            (
                "Stop beside the far peg, then stand still",
                "Am Zielpflock anhalten, dann stillstehen",
            ),
            ("Stop beside the far peg, then st…", "Am Zielpflock anhalten, dann …"),
            ("wheel and radar, 1.5 m", "Rad und Radar, 1,5 m"),
            // What somebody named, or is to type, stays.
            ("The rig \"wheel\" is saved.", "Gespeichert: Gespann \"wheel\"."),
            ("type `trundle wheel add`", "`trundle wheel add` eintippen"),
            // Of what is not known nothing is half said.
            ("mud and snow on the way", "mud and snow on the way"),
        ] {
            assert_eq!(table.said(english).text, german);
        }
        let left = table.said("Pass 2: mud on the sensor; no fix").left;
        assert_eq!(left, ["mud on the sensor;"]);
    }
}
