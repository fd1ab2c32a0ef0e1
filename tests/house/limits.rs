//! Lengths of files, functions and lines; blanks.

use crate::source::Source;

const FILE_LINES: usize = 400;
const FUNCTION_LINES: usize = 70;
const LINE_COLUMNS: usize = 100;

/// What is too long in a Rust file.
pub fn check(path: &str, source: &Source) -> Vec<String> {
    let mut out = Vec::new();
    let lines = source.text.lines().count();
    if lines > FILE_LINES {
        out.push(format!("{path}: {lines} lines, limit {FILE_LINES}: split it by duty"));
    }
    for (i, line) in source.text.lines().enumerate() {
        let columns = line.chars().count();
        if columns > LINE_COLUMNS {
            out.push(format!("{path}:{}: {columns} columns, limit {LINE_COLUMNS}", i + 1));
        }
    }
    for function in &source.functions {
        let lines = function.lines.end() - function.lines.start() + 1;
        if lines > FUNCTION_LINES {
            let (at, name) = (function.lines.start(), &function.name);
            out.push(format!("{path}:{at}: fn {name}: {lines} lines, limit {FUNCTION_LINES}"));
        }
    }
    out
}

/// Tabs and blanks at line ends of any text, and a last line that is not ended.
pub fn blanks(path: &str, text: &str) -> Vec<String> {
    let mut out = Vec::new();
    for (i, line) in text.lines().enumerate() {
        if line.contains('\t') {
            out.push(format!("{path}:{}: tab", i + 1));
        }
        if line.ends_with([' ', '\r']) {
            out.push(format!("{path}:{}: blank at the end of the line", i + 1));
        }
    }
    if !text.is_empty() && !text.ends_with('\n') {
        out.push(format!("{path}: the last line is not ended"));
    }
    out
}

#[test]
fn what_is_too_long_is_found() {
    let long = format!("fn f() {{\n{}}}\n// {}\n", "let a = 1;\n".repeat(400), "x".repeat(98));
    let found = check("a.rs", &Source::new(&long));
    assert_eq!(found.len(), 3, "{found:?}");
    let fits = format!("fn f() {{\n{}}}\n// {}\n", "let a = 1;\n".repeat(68), "x".repeat(97));
    assert!(check("a.rs", &Source::new(&fits)).is_empty());
}

#[test]
fn blanks_are_found() {
    assert_eq!(blanks("a.md", "a \n\tb\nc").len(), 3);
    assert!(blanks("a.md", "a\n b\n").is_empty());
}
