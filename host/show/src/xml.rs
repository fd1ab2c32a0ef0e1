//! Text made fit for XML.

/// Text for content and for quoted attributes: what would be markup is escaped; what XML 1.0 does
/// not allow, and controls with it, is dropped.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().filter(|c| !c.is_control() && !matches!(c, '\u{FFFE}' | '\u{FFFF}')) {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_is_escaped_and_controls_are_dropped() {
        assert_eq!(
            escaped("<a b=\"c\">&'\u{0}\u{1b}\n\u{FFFF}ü"),
            "&lt;a b=&quot;c&quot;&gt;&amp;&apos;ü"
        );
    }
}
