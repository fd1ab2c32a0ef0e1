//! Long sentences on a narrow screen.

/// Columns of a terminal line.
pub const WIDTH: usize = 100;

/// Break text at spaces so that no line is wider than [`WIDTH`]; later lines of a sentence are
/// indented by two columns more than its first. Lines that fit stay as they are, tables too.
pub(crate) fn wrap(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + text.len() / 50);
    for line in text.lines() {
        if line.chars().count() <= WIDTH {
            out.push_str(line);
        } else {
            wrap_line(line, &mut out);
        }
        out.push('\n');
    }
    out
}

fn wrap_line(line: &str, out: &mut String) {
    let indent = line.chars().take_while(|c| *c == ' ').count();
    out.extend(std::iter::repeat_n(' ', indent));
    broken(line, indent, indent + 2, out);
}

/// Put the words of a text behind what ends at column `start`; no line gets wider than [`WIDTH`],
/// and later lines begin at column `hang`.
pub(crate) fn broken(text: &str, start: usize, hang: usize, out: &mut String) {
    let mut column = start;
    for (n, word) in text.split_whitespace().enumerate() {
        let width = word.chars().count();
        if n > 0 && column + 1 + width > WIDTH {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', hang));
            column = hang;
        } else if n > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width;
    }
}

/// What was assumed, a line each, below a blank one.
pub(crate) fn assumed(text: &mut String, assumptions: &[String]) {
    text.push('\n');
    for assumption in assumptions {
        text.push_str(&format!("Assumed: {assumption}\n"));
    }
}

/// The text with these cautions below it, and long lines broken.
pub(crate) fn with_cautions(mut text: String, cautions: &[&str]) -> String {
    for caution in cautions {
        text.push_str(&format!("- {caution}\n"));
    }
    wrap(&text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_break_at_spaces_and_short_ones_stay() {
        let table = "  1  out   valid   12680.0\n";
        assert_eq!(wrap(table), table);
        let long = format!("  {}\n", "impulse ".repeat(30).trim_end());
        let wrapped = wrap(&long);
        assert!(wrapped.lines().all(|line| line.chars().count() <= WIDTH));
        assert!(wrapped.lines().skip(1).all(|line| line.starts_with("    impulse")));
        assert_eq!(wrapped.split_whitespace().count(), 30);
    }
}
