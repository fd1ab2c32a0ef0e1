//! Numbers with a decimal comma.

use super::typed::is_typed;

/// Marks around what is kept as it is: for private use in Unicode, and taken away again.
pub(super) const KEPT: [char; 2] = ['\u{f8e0}', '\u{f8e1}'];
/// A time in seconds since 1970 has so many digits before its point.
const STAMP: usize = 10;

/// Decimal points as commas, in numbers that are values: not in versions, addresses, names of
/// files, times of day or options.
pub(super) fn with_comma(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    // What is kept, or stands between backticks, is as it is typed.
    for (n, outside) in text.split([KEPT[0], KEPT[1]]).enumerate() {
        for (m, plain) in outside.split('`').enumerate() {
            out.push_str(if m == 0 { "" } else { "`" });
            let stays = n % 2 == 1 || m % 2 == 1;
            if stays { out.push_str(plain) } else { plain_with_comma(plain, &mut out) }
        }
    }
    out
}

fn plain_with_comma(text: &str, out: &mut String) {
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, after) = rest.split_at(at);
        out.push_str(before);
        let end = after.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(after.len());
        let number = after[..end].trim_end_matches('.');
        let follows = after[number.len()..].chars().next();
        let leads = out.chars().next_back();
        let part_of_name = |c: char| c.is_alphanumeric() || "_/\\:=@".contains(c);
        let goes_on = after[number.len()..].strip_prefix('.').unwrap_or("").chars().next();
        let time = after[number.len()..].starts_with(':')
            && after[number.len() + 1..].starts_with(|c: char| c.is_ascii_digit());
        let alone = !leads.is_some_and(part_of_name) && !follows.is_some_and(is_name) && !time;
        let points = number.matches('.').count();
        let stamp = number.find('.').is_some_and(|at| at >= STAMP);
        let begins = text.len() - after.len();
        let fits = points == 1
            && (alone && !stamp && !goes_on.is_some_and(is_name))
            && !is_typed(text, begins, number);
        if fits {
            out.push_str(&number.replace('.', ","))
        } else {
            out.push_str(number)
        }
        rest = &after[number.len()..];
        // The rest of a name is passed over whole.
        if !fits && points > 0 {
            let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
            out.push_str(&rest[..end]);
            rest = &rest[end..];
        }
    }
    out.push_str(rest);
}

/// What follows a number that is part of a name; a unit may follow it without a space.
fn is_name(c: char) -> bool {
    c.is_ascii_digit() || c.is_alphabetic() || "_/\\@".contains(c)
}

#[test]
fn only_values_have_a_comma() {
    for (english, german) in [
        ("12.5 km/h, 0.25 % (1.5)", "12,5 km/h, 0,25 % (1,5)"),
        ("-3.0 ± 0.04 m.", "-3,0 ± 0,04 m."),
        ("192.0.2.1 0.1.0 1.5.capture", "192.0.2.1 0.1.0 1.5.capture"),
        ("12:31:26.5 and v1.5 and a-1.5.txt", "12:31:26.5 and v1.5 and a-1.5.txt"),
        ("12676.5", "12676,5"),
        ("0.16: within; 2.5:30", "0,16: within; 2.5:30"),
        ("Pass 3. 4 left.", "Pass 3. 4 left."),
        ("`--right 1.5` 1.5 (1700000000.5)", "`--right 1.5` 1,5 (1700000000.5)"),
        ("a \u{f8e0}r 1.5\u{f8e1} 1.5", "a r 1.5 1,5"),
    ] {
        assert_eq!(with_comma(english), german);
    }
}
