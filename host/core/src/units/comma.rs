//! Numbers typed with a decimal comma.

use std::borrow::Cow;

/// The text with a point for each decimal comma. A comma is one where it stands between digits
/// without another mark in the number; with just three digits behind it, it sets off thousands to
/// some, so it stays, and whoever reads the number refuses it. Behind a lone 0 it can be none of
/// those.
#[must_use]
pub fn with_point(typed: &str) -> Cow<'_, str> {
    if !typed.contains(',') {
        return Cow::Borrowed(typed);
    }
    let mark = |c: char| matches!(c, '.' | ',');
    let number = |c: char| c.is_ascii_digit() || mark(c);
    let (mut out, mut rest) = (String::with_capacity(typed.len()), typed);
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, from) = rest.split_at(at);
        let (digits, after) = from.split_at(from.find(|c| !number(c)).unwrap_or(from.len()));
        out.push_str(before);
        let parts = digits.split_once(',').filter(|(whole, behind)| {
            let plain = !behind.is_empty() && !whole.contains(mark) && !behind.contains(mark);
            plain && !before.ends_with(mark) && (behind.len() != 3 || *whole == "0")
        });
        match parts {
            Some((whole, behind)) => out.extend([whole, ".", behind]),
            None => out.push_str(digits),
        }
        rest = after;
    }
    out.push_str(rest);
    Cow::Owned(out)
}

#[test]
fn a_comma_is_a_point_where_it_can_be_nothing_else() {
    for (typed, read) in [
        ("1,2 bar", "1.2 bar"),
        ("-0,04m", "-0.04m"),
        ("0,125", "0.125"),
        ("328 ft 1,5 in", "328 ft 1.5 in"),
        ("50 m; 49,98 m", "50 m; 49.98 m"),
        ("12,676", "12,676"),
        ("1,234,567", "1,234,567"),
        ("1.234,5", "1.234,5"),
        ("8, 15", "8, 15"),
        (",5", ",5"),
    ] {
        assert_eq!(with_point(typed), read);
    }
}
