//! Text and numbers made fit for the page.
//!
//! Notes, names and course files come from people and from captures of unknown origin. Markup in
//! them is escaped by the template; what is dealt with here is what escaping lets through:
//! characters that act on the text without being seen. They are shown by their number instead,
//! so that nothing is hidden and nothing turns the line round.

/// One line: unseen characters shown, line ends too.
pub fn line(text: &str) -> String {
    visible(text, false)
}

/// Several lines: line ends and tabs stay, other unseen characters are shown.
pub fn block(text: &str) -> String {
    visible(&text.replace("\r\n", "\n"), true)
}

fn visible(text: &str, lines: bool) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if lines && matches!(c, '\n' | '\t') || !unseen(c) {
            out.push(c);
        } else {
            out.push_str(&format!("[U+{:04X}]", u32::from(c)));
        }
    }
    out
}

/// Controls, direction marks, zero-width and annotation characters, tags, noncharacters. The two
/// joiners stay, because some scripts cannot be written without them.
fn unseen(c: char) -> bool {
    let number = u32::from(c);
    c.is_control()
        || number & 0xFFFE == 0xFFFE
        || matches!(number,
            0x00AD | 0x061C | 0x180E | 0x200B | 0x200E | 0x200F | 0x2028..=0x202E
            | 0x2060..=0x206F | 0xFDD0..=0xFDEF | 0xFEFF | 0xFFF9..=0xFFFB | 0xE0000..=0xE0FFF)
}

/// At most so many characters, with a mark where more were.
pub fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most).collect();
    format!("{}…", kept.trim_end())
}

/// A number with so many significant digits, never in powers of ten; a dash for none.
pub fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    if value.abs() < 1e-9 {
        return "0".to_owned();
    }
    let places = (digits - 1 - value.abs().log10().floor() as i32).clamp(0, 10);
    let places = usize::try_from(places).unwrap_or(0);
    format!("{value:.places$}")
}

/// A number with fixed decimals, or a dash.
pub fn fixed(value: Option<f64>, places: usize) -> String {
    value.filter(|v| v.is_finite()).map_or_else(|| "–".to_owned(), |v| format!("{v:.places$}"))
}

/// `1`, `1 and 2`, `1, 2 and 3`.
pub fn enumerate(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// The first letter in upper case, for text that starts a sentence.
pub fn sentence_case(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Groups of three digits, from the left, for a number that is set large.
pub fn groups(number: i64) -> Vec<String> {
    let digits = number.to_string();
    let first = (digits.len() + 2) % 3 + 1;
    let (head, tail) = digits.split_at(first.min(digits.len()));
    let mut out = vec![head.to_owned()];
    out.extend(tail.as_bytes().chunks(3).map(|c| String::from_utf8_lossy(c).into_owned()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_unseen_is_shown() {
        assert_eq!(line("a\u{202E}b\u{0}\nc"), "a[U+202E]b[U+0000][U+000A]c");
        assert_eq!(block("a\r\nb\tc\u{1B}"), "a\nb\tc[U+001B]");
        assert_eq!(line("Grüße, می\u{200C}خواهم"), "Grüße, می\u{200C}خواهم");
    }

    #[test]
    fn long_text_is_cut_with_a_mark_and_short_text_is_left() {
        assert_eq!(cut("Grüße", 5), "Grüße");
        assert_eq!(cut("Grüße an alle", 6), "Grüße…");
    }

    #[test]
    fn numbers_keep_their_digits() {
        assert_eq!(significant(0.001_234_5, 3), "0.00123");
        assert_eq!(significant(12_983.4, 3), "12983");
        assert_eq!(significant(f64::INFINITY, 3), "–");
        assert_eq!(groups(12_983), ["12", "983"]);
        assert_eq!(groups(983), ["983"]);
        assert_eq!(groups(1_000_000), ["1", "000", "000"]);
    }
}
