//! Numbers with a decimal comma.

/// Decimal points as commas, in numbers that are values: not in versions, addresses, names of
/// files, times of day or options.
pub(super) fn with_comma(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
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
        let fits = points == 1 && alone && !goes_on.is_some_and(is_name);
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
    out
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
    ] {
        assert_eq!(with_comma(english), german);
    }
}

/// A number as it is typed where it has a decimal comma, as the program reads it. Only a text of
/// numbers and their units is one; any other stays.
pub(super) fn with_point(typed: &str) -> Option<String> {
    let mut changed = false;
    let words: Vec<String> = typed
        .split(' ')
        .map(|word| {
            let point = number_with_point(word);
            changed |= point.is_some();
            point.or_else(|| is_beside_a_number(word).then(|| word.to_owned()))
        })
        .collect::<Option<_>>()?;
    changed.then(|| words.join(" "))
}

/// The longest of what may stand beside a number: a unit, or the key of what is typed.
const BESIDE: usize = 4;

fn is_beside_a_number(word: &str) -> bool {
    let number = word.trim_start_matches(['-', '+']);
    word.chars().count() <= BESIDE && !word.contains(',')
        || number.parse::<f64>().is_ok_and(f64::is_finite)
}

/// A number with one comma, its unit behind it or not.
fn number_with_point(word: &str) -> Option<String> {
    let inner = word.trim_start_matches(['-', '+', '"']);
    let (whole, rest) = inner.split_once(',')?;
    let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|c| c.is_ascii_digit());
    let unit = &rest[digits..];
    let fits = all_digits(whole) && all_digits(&rest[..digits]);
    (fits && unit.chars().count() <= BESIDE && !unit.contains([',', '.']))
        .then(|| word.replacen(',', ".", 1))
}

#[test]
fn a_comma_is_typed_in_numbers_alone() {
    for (typed, read) in [
        ("1,2 bar", Some("1.2 bar")),
        ("12,5", Some("12.5")),
        ("-0,04m", Some("-0.04m")),
        ("328 ft 1,5 in", Some("328 ft 1.5 in")),
        ("r 100,2", Some("r 100.2")),
        ("1.2 bar", None),
        ("Big one, wide", None),
        ("1,2 bar gemessen", None),
        ("1,2,3", None),
        ("", None),
    ] {
        assert_eq!(with_point(typed).as_deref(), read, "{typed}");
    }
}
