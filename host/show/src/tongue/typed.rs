//! Texts that somebody typed and that hold a number with a point: the size of a tyre, the name of a
//! tractor. Where one stands in a sentence nothing tells it from a value, so whoever reads such
//! texts from the disk names them here, and they are shown as they were typed.
//!
//! Like the tables this is a matter of showing alone: nothing is calculated, stored or compared by
//! it.

use std::collections::BTreeMap;
use std::sync::{PoisonError, RwLock};

/// Each number with a point, the texts that hold it, and where in them it begins.
static TYPED: RwLock<BTreeMap<String, Vec<(usize, String)>>> = RwLock::new(BTreeMap::new());
/// So many texts are known by one number: those beyond have a comma.
const MOST: usize = 200;

/// Show this text as it was typed, wherever it stands from now on. A number alone or before a unit
/// is a value.
pub fn stays_as_typed(text: &str) {
    let text = text.trim();
    let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').trim_start();
    if unit.chars().all(|c| c.is_alphabetic() || "%/°²".contains(c)) {
        return;
    }
    for (at, number) in numbers(text) {
        let known = |all: &Vec<(usize, String)>| {
            all.len() >= MOST || all.iter().any(|(from, one)| *from == at && one == text)
        };
        if TYPED.read().unwrap_or_else(PoisonError::into_inner).get(number).is_some_and(known) {
            continue;
        }
        let mut all = TYPED.write().unwrap_or_else(PoisonError::into_inner);
        all.entry(number.to_owned()).or_default().push((at, text.to_owned()));
    }
}

/// True where the number that begins at `at` stands in a text that was typed, whole or cut short.
pub(super) fn is_typed(text: &str, at: usize, number: &str) -> bool {
    let all = TYPED.read().unwrap_or_else(PoisonError::into_inner);
    let stands = |(from, typed): &(usize, String)| {
        let Some((before, here)) = at.checked_sub(*from).and_then(|at| text.split_at_checked(at))
        else {
            return false;
        };
        let same = here.chars().zip(typed.chars()).take_while(|(a, b)| a == b);
        let same: usize = same.map(|(c, _)| c.len_utf8()).sum();
        let after = here[same..].chars().next();
        let whole = same == typed.len() && !after.is_some_and(char::is_alphanumeric);
        let cut = same > number.len() && after.is_none_or(|c| c == '…');
        let alone = !before.ends_with(char::is_alphanumeric);
        alone && same >= from + number.len() && (whole || cut)
    };
    all.get(number).is_some_and(|all| all.iter().any(stands))
}

/// The numbers with one point in a text, and where they begin.
fn numbers(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut end = 0;
    let pieces = text.split_inclusive(|c: char| !(c.is_ascii_digit() || c == '.'));
    pieces.filter_map(move |piece| {
        end += piece.len();
        let run = piece.trim_end_matches(|c: char| !c.is_ascii_digit());
        let number = run.trim_start_matches('.');
        let at = end - piece.len() + run.len() - number.len();
        (number.matches('.').count() == 1).then_some((at, number))
    })
}

#[cfg(test)]
mod tests {
    use super::super::numbers::with_comma;
    use super::stays_as_typed;

    #[test]
    fn what_wstays_as_typed_stays_and_values_do_not() {
        for text in
            ["91.9 R34", "Trac 91.140, ours", "Ü 91.5", "91.25", "91.75 km/h", "1. Trac. 91.7."]
        {
            stays_as_typed(text);
        }
        for (english, german) in [
            ("Tyres 91.9 R34, 91.9 km/h", "Tyres 91.9 R34, 91,9 km/h"),
            ("Trac 91.140, ours; 91.140 m", "Trac 91.140, ours; 91,140 m"),
            ("My Trac 91.140, ours", "My Trac 91.140, ours"),
            ("MyTrac 91.140, ours", "MyTrac 91,140, ours"),
            ("Trac 91.140, o…", "Trac 91.140, o…"),
            ("Trac 91.140", "Trac 91.140"),
            ("Trac 91.140 is", "Trac 91,140 is"),
            ("(Ü 91.5) 91.5 Ü 91.5", "(Ü 91.5) 91,5 Ü 91.5"),
            ("91.25", "91,25"),
            ("91.75 km/h", "91,75 km/h"),
            ("1. Trac. 91.7. A", "1. Trac. 91.7. A"),
            ("91.9 R344", "91,9 R344"),
        ] {
            assert_eq!(with_comma(english), german);
        }
    }
}
