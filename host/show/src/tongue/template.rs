//! A sentence with places for its values.

/// Literals with places between them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Template {
    /// One more than there are places.
    literals: Vec<String>,
    /// What each place is called, its number where it has no name.
    names: Vec<String>,
}

impl Template {
    /// As it stands in the sources: `{}`, `{0}`, `{name}`, `{name:.1}`; `{{` is a brace.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let (mut literals, mut names) = (vec![String::new()], Vec::new());
        let (mut rest, mut number) = (text, 0);
        while let Some(at) = rest.find(['{', '}']) {
            let (before, after) = rest.split_at(at);
            literals.last_mut()?.push_str(before);
            let brace = &after[..1];
            if let Some(more) = after[1..].strip_prefix(brace) {
                literals.last_mut()?.push_str(brace);
                rest = more;
                continue;
            }
            if brace == "}" {
                return None;
            }
            let (place, more) = after[1..].split_once('}')?;
            let mut name = place.split(':').next()?.to_owned();
            if name.is_empty() {
                name = number.to_string();
                number += 1;
            }
            rest = more;
            // Nothing says where one value ends and the next begins: they are one.
            match names.last_mut().filter(|_| literals.last().is_some_and(String::is_empty)) {
                Some(before) => *before = format!("{before}+{name}"),
                None => {
                    names.push(name);
                    literals.push(String::new());
                }
            }
        }
        literals.last_mut()?.push_str(rest);
        Some(Self { literals, names })
    }

    /// How many letters it says by itself.
    pub(super) fn letters(&self) -> usize {
        self.literals.iter().map(|literal| letters(literal)).sum()
    }

    /// What it begins with.
    pub(super) fn head(&self) -> &str {
        &self.literals[0]
    }

    /// Its longest literal.
    pub(super) fn longest(&self) -> &str {
        self.literals.iter().max_by_key(|literal| literal.len()).map_or("", String::as_str)
    }

    /// Its longest word that no place touches: each text of it holds that as a word.
    pub(super) fn word(&self) -> Option<&str> {
        let last = self.literals.len() - 1;
        let inner = |(n, literal): (usize, &'_ String)| -> (usize, usize) {
            let from = literal.find(|c: char| !c.is_alphabetic()).unwrap_or(literal.len());
            let to = literal.rfind(|c: char| !c.is_alphabetic()).map_or(0, |at| at + 1);
            (if n == 0 { 0 } else { from }, if n == last { literal.len() } else { to })
        };
        let whole = self.literals.iter().enumerate().filter_map(|(n, literal)| {
            let (from, to) = inner((n, literal));
            literal.get(from..to.max(from))
        });
        whole.flat_map(words).max_by_key(|word| word.len())
    }

    /// True where it has a place.
    pub(super) fn has_places(&self) -> bool {
        !self.names.is_empty()
    }

    /// Names of the places, each once, in order.
    pub(super) fn places(&self) -> Vec<&str> {
        let mut all: Vec<&str> = self.names.iter().map(String::as_str).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// True where it ends with a place.
    pub(super) fn ends_open(&self) -> bool {
        self.literals.last().is_some_and(String::is_empty)
    }

    /// For each place whether it holds what somebody typed, or is to type: it stands in quotes or
    /// belongs to an option or a command.
    pub(super) fn typed(&self) -> Vec<bool> {
        let (mut out, mut ticks) = (Vec::new(), 0);
        for literal in &self.literals[..self.names.len()] {
            ticks += literal.matches('`').count();
            let beside = literal.ends_with(['"', '\'', '-', '/', '=', '“', '„']);
            out.push(beside || ticks % 2 == 1);
        }
        out
    }

    /// The values of the places in a text that was made by it: as short as they can be from the
    /// left, none empty, and the same wherever a place has the same name.
    pub(super) fn values<'t>(&self, text: &'t str) -> Option<Vec<&'t str>> {
        let mut rest = text.strip_prefix(self.head())?;
        let (last, inner) = self.literals[1..].split_last()?;
        let mut values = Vec::with_capacity(self.names.len());
        for literal in inner {
            // The first that fits leaves most for the others: no other one need be tried.
            let first = rest.chars().next()?.len_utf8();
            let at = first + rest[first..].find(literal.as_str())?;
            values.push(&rest[..at]);
            rest = &rest[at + literal.len()..];
        }
        values.push(rest.strip_suffix(last.as_str()).filter(|value| !value.is_empty())?);
        let same = |n: usize| self.names[..n].iter().position(|name| *name == self.names[n]);
        let agree = |n: usize| same(n).is_none_or(|before| values[before] == values[n]);
        (0..values.len()).all(agree).then_some(values)
    }

    /// The text it makes of these values, which belong to the places of `other`.
    pub(super) fn filled(&self, other: &Self, values: &[String]) -> String {
        let mut out = String::from(self.head());
        for (name, literal) in self.names.iter().zip(&self.literals[1..]) {
            let at = other.names.iter().position(|one| one == name);
            out.push_str(at.and_then(|at| values.get(at)).map_or("", String::as_str));
            out.push_str(literal);
        }
        out
    }
}

/// Runs of letters of a text.
pub(super) fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty())
}

/// Letters of a text.
pub(super) fn letters(text: &str) -> usize {
    text.chars().filter(|c| c.is_alphabetic()).count()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn values_are_found_and_put_elsewhere() {
        let english = Template::parse("Pass {n}: {} of {:.1} m, {{{n}}}").unwrap();
        let german = Template::parse("{1} m, davon {0}: {n}").unwrap();
        let values = english.values("Pass 3: 40.0 of 100.0 m, {3}").unwrap();
        assert_eq!(values, ["3", "40.0", "100.0", "3"]);
        let own: Vec<String> = values.iter().map(|&value| value.to_owned()).collect();
        assert_eq!(german.filled(&english, &own), "100.0 m, davon 40.0: 3");
        assert_eq!(english.places(), ["0", "1", "n"]);
        assert_eq!(english.values("Pass 3: of 100.0 m, {3}"), None);
        assert_eq!(Template::parse("{a"), None);
        let beside = Template::parse("in {}{b} m").unwrap();
        assert_eq!(beside.values("in 3.0 to 4 m").unwrap(), ["3.0 to 4"]);
    }

    #[test]
    fn a_value_may_hold_what_stands_behind_it() {
        let template = Template::parse("{a} and {b}.").unwrap();
        assert_eq!(template.values("x and y and z.").unwrap(), ["x", "y and z"]);
        assert_eq!(template.values("ä and ü.").unwrap(), ["ä", "ü"]);
        assert_eq!(template.values(" and ."), None);
    }
}
