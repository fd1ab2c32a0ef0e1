//! Lines for a terminal.

use super::Said;
use super::table::Table;
use crate::text::lines::{WIDTH, broken, wrap};

/// What stands before a command as it is typed.
const USAGE: &str = "Usage:";
/// How the parser's own descriptions begin.
const OWN: &str = "Print ";

/// Say them; what was broken to fit is put together before, and broken anew.
pub(super) fn said(table: &Table, text: &str) -> Said {
    let mut out = Said::default();
    for line in whole(text) {
        if line.trim().is_empty() {
            out.text.push('\n');
            continue;
        }
        let indent = line.len() - line.trim_start().len();
        if let Some(typed) = line[indent..].strip_prefix(USAGE) {
            let label = table.said_as_typed(USAGE).text;
            out.text.push_str(&format!("{}{label}{typed}\n", &line[..indent]));
            continue;
        }
        let mut own = Said { text: line[..indent].to_owned(), left: Vec::new() };
        cells(table, &line[indent..], &mut own);
        out.left.append(&mut own.left);
        out.text.push_str(&hung(&own.text).unwrap_or_else(|| wrap(&own.text)));
    }
    let ends = text.ends_with('\n');
    if !ends {
        out.text.pop();
    }
    out
}

/// The lines of `--help`, whose sentences were said before: headings, and the parser's own words.
/// All else stays, words that are to be typed above all.
pub(super) fn help(table: &Table, text: &str) -> String {
    let mut out = String::new();
    for line in text.split_inclusive('\n') {
        let inner = line.trim();
        let heads = line.starts_with(char::is_alphabetic) && inner.ends_with(':');
        let end = inner.find(OWN).filter(|at| *at == 0 || inner[..*at].ends_with("  "));
        let (from, to) = match (inner.starts_with(USAGE), heads, end) {
            (true, ..) => (0, USAGE.len()),
            (_, true, _) => (0, inner.len()),
            (.., Some(at)) => (at, inner.len()),
            _ => (0, 0),
        };
        let start = line.find(inner).unwrap_or(0);
        out.push_str(&line[..start + from]);
        out.push_str(&table.said_as_typed(&inner[from..to]).text);
        out.push_str(&line[start + to..]);
    }
    out
}

/// Cells of a table stay in their columns where they fit; a line of a list keeps its dash.
fn cells(table: &Table, line: &str, out: &mut Said) {
    // How far the other language is behind, columns.
    let mut behind = 0;
    let mut rest = line;
    for dash in ["- ", "* ", "! "] {
        if let Some(more) = rest.strip_prefix(dash) {
            out.text.push_str(dash);
            rest = more;
        }
    }
    loop {
        let end = rest.find("  ").unwrap_or(rest.len());
        let (cell, more) = rest.split_at(end);
        let said = table.said(cell);
        let blanks = more.len() - more.trim_start().len();
        out.left.extend(said.left);
        out.text.push_str(&said.text);
        if more.is_empty() {
            return;
        }
        behind += columns(cell) - columns(&said.text);
        let wanted = i64::try_from(blanks).unwrap_or(1) + behind;
        let given = wanted.max(1);
        behind = wanted - given;
        out.text.extend(std::iter::repeat_n(' ', usize::try_from(given).unwrap_or(1)));
        rest = &more[blanks..];
        if rest.is_empty() {
            return;
        }
    }
}

/// A row of a table whose last cell is too long: that goes on below itself.
fn hung(line: &str) -> Option<String> {
    let start = line.trim_start();
    let at = line.len() - start.len() + start.rfind("  ").map(|at| at + 2)?;
    let (before, last) = line.split_at(at);
    let column = before.chars().count();
    if line.chars().count() <= WIDTH || column > WIDTH / 2 {
        return None;
    }
    let mut out = before.to_owned();
    broken(last, column, column, &mut out);
    out.push('\n');
    Some(out)
}

fn columns(text: &str) -> i64 {
    i64::try_from(text.chars().count()).unwrap_or(0)
}

/// Lines as they were before [`wrap`] broke them: it breaks where the next word does not fit, and
/// indents by two columns more.
fn whole(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    // Indent of the sentence and width of its last line.
    let mut last = (0, 0);
    for line in text.lines() {
        let indent = line.chars().take_while(|c| *c == ' ').count();
        let width = line.chars().count();
        let first = line.split_whitespace().next().map_or(0, |word| word.chars().count());
        let follows = first > 0 && indent == last.0 + 2 && last.1 + 1 + first > WIDTH;
        match out.last_mut().filter(|_| follows) {
            Some(sentence) => {
                sentence.push(' ');
                sentence.push_str(line.trim_start());
                last.1 = width;
            }
            None => {
                out.push(line.to_owned());
                last = (indent, width);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_broken_is_whole_again() {
        let long = format!("  {}\nshort\n\n   x  y\n", "impulse ".repeat(30).trim_end());
        assert_eq!(whole(&wrap(&long)).join("\n") + "\n", long);
    }

    #[test]
    fn columns_stay_where_they_can() {
        let table = Table::of(&["wheel\n= Rad\nin order\n= in Ordnung\n"]).0;
        let said = said(&table, "  wheel     in order  3.5\n  radar     12.0\n");
        assert_eq!(said.text, "  Rad       in Ordnung 3,5\n  radar     12,0\n");
    }
}
