//! A Rust file taken apart: its code without comments and texts, its functions, its tests.

use std::ops::{Range, RangeInclusive};

/// A Rust file.
pub struct Source {
    /// The text as it stands.
    pub text: String,
    /// The same lines and columns, comments and the contents of texts blanked out.
    pub code: String,
    /// The code, with the `#[cfg(test)]` modules blanked out as well.
    pub shipped: String,
    /// Every function with a body.
    pub functions: Vec<Function>,
}

/// A function with a body.
pub struct Function {
    pub name: String,
    /// Lines from its `fn` to its closing brace, from 1.
    pub lines: RangeInclusive<usize>,
}

impl Source {
    pub fn new(text: &str) -> Self {
        let chars: Vec<char> = text.chars().collect();
        let code = mask(&chars);
        let functions = functions(&code);
        let shipped = without_tests(&code);
        let join = |chars: Vec<char>| chars.into_iter().collect();
        Self { text: text.to_owned(), code: join(code), shipped: join(shipped), functions }
    }
}

impl Source {
    /// Texts in quotes of what is shipped, as they read, each with its line.
    pub fn literals(&self) -> Vec<(usize, String)> {
        let chars: Vec<char> = self.text.chars().collect();
        let tests = tests(&self.code.chars().collect::<Vec<char>>());
        let (mut out, mut at, mut line) = (Vec::new(), 0, 1);
        while at < chars.len() {
            let length = skipped(&chars, at).unwrap_or(0).max(1);
            if chars[at] == '"' && !tests.iter().any(|range| range.contains(&at)) {
                out.push((line, read(&chars[at + 1..at + length - 1])));
            }
            line += chars[at..at + length].iter().filter(|&&c| c == '\n').count();
            at += length;
        }
        out
    }
}

/// A text without its escapes.
fn read(text: &[char]) -> String {
    let mut out = String::new();
    let mut rest = text.iter().copied().peekable();
    while let Some(c) = rest.next() {
        match (c, rest.peek()) {
            ('\\', Some('\n')) => while rest.next_if(|c| c.is_whitespace()).is_some() {},
            ('\\', Some('n')) => out.extend(rest.next().map(|_| '\n')),
            ('\\', Some('u')) => {
                let code: String = rest.by_ref().skip(2).take_while(|&c| c != '}').collect();
                out.extend(u32::from_str_radix(&code, 16).ok().and_then(char::from_u32));
            }
            ('\\', Some(_)) => out.extend(rest.next()),
            _ => out.push(c),
        }
    }
    out
}

/// Length of the comment, text or character that starts at `at`, and how much of its front and
/// back to leave standing; `None` where code goes on.
fn skipped(chars: &[char], at: usize) -> Option<usize> {
    let rest = &chars[at..];
    let starts = |text: &str| text.chars().enumerate().all(|(i, c)| rest.get(i) == Some(&c));
    if starts("//") {
        return Some(rest.iter().position(|&c| c == '\n').unwrap_or(rest.len()));
    }
    if starts("/*") {
        return Some(block_comment(rest));
    }
    match rest[0] {
        '"' => Some(quoted(rest)),
        '\'' => character(rest),
        'r' if !inside_word(chars, at) => raw(rest),
        'b' | 'c' if !inside_word(chars, at) => {
            let inner = rest.get(1)?;
            let length = match inner {
                '"' => quoted(&rest[1..]),
                '\'' => character(&rest[1..])?,
                'r' => raw(&rest[1..])?,
                _ => return None,
            };
            Some(1 + length)
        }
        _ => None,
    }
}

fn inside_word(chars: &[char], at: usize) -> bool {
    at > 0 && is_word(chars[at - 1])
}

pub fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

fn block_comment(rest: &[char]) -> usize {
    let (mut depth, mut at) = (0, 0);
    while at + 1 < rest.len() {
        match (rest[at], rest[at + 1]) {
            ('/', '*') => (depth, at) = (depth + 1, at + 2),
            ('*', '/') => (depth, at) = (depth - 1, at + 2),
            _ => at += 1,
        }
        if depth == 0 {
            return at;
        }
    }
    rest.len()
}

fn quoted(rest: &[char]) -> usize {
    let mut at = 1;
    while at < rest.len() && rest[at] != '"' {
        at += if rest[at] == '\\' { 2 } else { 1 };
    }
    (at + 1).min(rest.len())
}

fn raw(rest: &[char]) -> Option<usize> {
    let hashes = rest[1..].iter().take_while(|&&c| c == '#').count();
    if rest.get(1 + hashes) != Some(&'"') {
        return None;
    }
    let close: Vec<char> = std::iter::once('"').chain(std::iter::repeat_n('#', hashes)).collect();
    let body = &rest[2 + hashes..];
    let end = body.windows(close.len()).position(|w| w == close.as_slice())?;
    Some(2 + hashes + end + close.len())
}

/// A character in quotes, but not a lifetime.
fn character(rest: &[char]) -> Option<usize> {
    if rest.get(1) == Some(&'\\') {
        let end = rest[3..].iter().position(|&c| c == '\'')?;
        return Some(3 + end + 1);
    }
    (rest.get(2) == Some(&'\'')).then_some(3)
}

fn mask(chars: &[char]) -> Vec<char> {
    let mut out = Vec::with_capacity(chars.len());
    let mut at = 0;
    while at < chars.len() {
        let length = skipped(chars, at).unwrap_or(0);
        for &c in &chars[at..at + length] {
            out.push(if c == '\n' { '\n' } else { ' ' });
        }
        at += length;
        if length == 0 {
            out.push(chars[at]);
            at += 1;
        }
    }
    out
}

/// Index just behind the brace that closes the one at `open`.
fn closing(code: &[char], open: usize) -> usize {
    let mut depth = 0;
    for (at, &c) in code.iter().enumerate().skip(open) {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return at + 1;
        }
    }
    code.len()
}

fn word_at(code: &[char], at: usize, word: &str) -> bool {
    let end = at + word.len();
    end <= code.len()
        && code[at..end].iter().copied().eq(word.chars())
        && !inside_word(code, at)
        && !code.get(end).is_some_and(|&c| is_word(c))
}

/// The brace that opens the body of what is declared at `from`; none if it ends in `;`.
fn body(code: &[char], from: usize) -> Option<usize> {
    let mut depth = 0;
    for (at, &c) in code.iter().enumerate().skip(from) {
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth -= 1,
            ';' if depth == 0 => return None,
            '{' if depth == 0 => return Some(at),
            _ => {}
        }
    }
    None
}

fn functions(code: &[char]) -> Vec<Function> {
    let line = |at: usize| 1 + code[..at].iter().filter(|&&c| c == '\n').count();
    let mut out = Vec::new();
    for at in 0..code.len() {
        if code[at] != 'f' || !word_at(code, at, "fn") {
            continue;
        }
        let name: String =
            code[at + 2..].iter().skip_while(|c| **c == ' ').take_while(|c| is_word(**c)).collect();
        // Without a name it is the type of a function.
        if name.is_empty() {
            continue;
        }
        if let Some(open) = body(code, at) {
            out.push(Function { name, lines: line(at)..=line(closing(code, open) - 1) });
        }
    }
    out
}

fn without_tests(code: &[char]) -> Vec<char> {
    let mut out = code.to_vec();
    for range in tests(code) {
        out[range].iter_mut().filter(|c| **c != '\n').for_each(|c| *c = ' ');
    }
    out
}

/// Where the test modules are.
fn tests(code: &[char]) -> Vec<Range<usize>> {
    let marker: Vec<char> = "#[cfg(test)]".chars().collect();
    let (mut out, mut at) = (Vec::new(), 0);
    while at + marker.len() <= code.len() {
        if code[at..at + marker.len()] == marker[..]
            && let Some(open) = body(code, at + marker.len())
        {
            let end = closing(code, open);
            out.push(at..end);
            at = end;
        } else {
            at += 1;
        }
    }
    out
}

/// The full paths of all `use` statements of masked code, braces multiplied out.
pub fn uses(code: &str) -> Vec<String> {
    let chars: Vec<char> = code.chars().collect();
    let mut out = Vec::new();
    for at in 0..chars.len() {
        if chars[at] == 'u' && word_at(&chars, at, "use") {
            let tree: String = chars[at + 3..].iter().take_while(|&&c| c != ';').collect();
            let tree: String = tree.split_whitespace().collect::<Vec<_>>().join(" ");
            multiply("", &tree, &mut out);
        }
    }
    out
}

fn multiply(prefix: &str, tree: &str, out: &mut Vec<String>) {
    let tree = tree.trim();
    let Some(open) = tree.find('{') else {
        let path = tree.split(" as ").next().unwrap_or(tree);
        out.push(format!("{prefix}{}", path.trim()));
        return;
    };
    let prefix = format!("{prefix}{}", tree[..open].trim());
    let inner = tree[open + 1..].trim_end().trim_end_matches('}');
    let (mut depth, mut start) = (0, 0);
    for (at, c) in inner.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                multiply(&prefix, &inner[start..at], out);
                start = at + 1;
            }
            _ => {}
        }
    }
    if !inner[start..].trim().is_empty() {
        // A nested group lost its last brace to the trimming above; put it back.
        let last = &inner[start..];
        let missing = last.matches('{').count() - last.matches('}').count();
        multiply(&prefix, &format!("{last}{}", "}".repeat(missing)), out);
    }
}

#[test]
fn texts_comments_and_characters_are_blanked_out() {
    let text = "let a = \"// { \\\" \"; // {\nlet b = '{'; /* { /* */ */ \
                let c: &'a str = r#\"\"{\"#;";
    let source = Source::new(text);
    assert!(!source.code.contains('{'), "{}", source.code);
    assert!(source.code.contains("let c: &'a str ="));
    assert_eq!(source.code.lines().count(), 2);
}

#[test]
fn functions_are_measured_to_their_closing_brace() {
    let text = "trait T { fn none(a: [u8; 2]); }\nfn f(x: fn(u8) -> u8)\n{\n  if x { \"}\" }\n}\n";
    let source = Source::new(text);
    let found: Vec<_> = source.functions.iter().map(|f| (f.name.as_str(), &f.lines)).collect();
    assert_eq!(found, [("f", &(2..=5))]);
}

#[test]
fn tests_are_no_part_of_what_is_shipped() {
    let source = Source::new("fn a() {}\n#[cfg(test)]\nmod tests { fn b() { {} } }\nfn c() {}");
    assert!(source.shipped.contains("fn a") && source.shipped.contains("fn c"));
    assert!(!source.shipped.contains("fn b"));
}

#[test]
fn groups_of_imports_are_multiplied_out() {
    let found = uses("use std::{fs, time::{Duration, Instant as I}}; use a::b;");
    assert_eq!(found, ["std::fs", "std::time::Duration", "std::time::Instant", "a::b"]);
}
