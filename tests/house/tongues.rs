//! Every sentence that a person reads stands in the table of each further language.

use crate::source::Source;
use std::collections::BTreeSet;

/// Where sentences for people are made.
const SPEAK: [&str; 3] = ["host/core/src/", "host/show/src/", "host/src/"];
/// Files whose sentences are for programs, or are a language's own.
const SILENT: [&str; 2] = ["host/show/src/tongue/", "host/core/src/samples"];

/// The English of a table, line by line.
pub fn english(tables: &[String]) -> BTreeSet<&str> {
    let lines = tables.iter().flat_map(|table| table.lines());
    lines.filter(|line| !line.starts_with("= ") && !line.starts_with('#')).collect()
}

/// Sentences of one file that no table has.
pub fn check(path: &str, source: &Source, known: &BTreeSet<&str>) -> Vec<String> {
    let speaks = SPEAK.iter().any(|root| path.starts_with(root));
    if !speaks || SILENT.iter().any(|root| path.starts_with(root)) {
        return Vec::new();
    }
    let lines = source.literals().into_iter().flat_map(|(line, text)| {
        text.split('\n').map(|part| (line, part.trim().to_owned())).collect::<Vec<_>>()
    });
    let missing = lines.filter(|(_, text)| is_sentence(text) && !known.contains(text.as_str()));
    missing.map(|(line, text)| format!("{path}:{line}: no table has: {text}")).collect()
}

/// It begins with a capital, ends with a full stop or a question mark, and has several words.
fn is_sentence(text: &str) -> bool {
    let words = text.split_whitespace().filter(|word| word.chars().all(|c| c.is_ascii_lowercase()));
    text.starts_with(|c: char| c.is_ascii_uppercase())
        && text.ends_with(['.', '?'])
        && words.count() >= 2
}

#[test]
fn a_sentence_that_no_table_has_is_found() {
    let source = Source::new(
        "const A: &str = \"Drive to the \\\n    peg.\";\nfn f() { \
         format!(\"Stop \\\"here\\\" for {s} more seconds.\\nGo.\"); }\n\
         #[cfg(test)]\nmod tests { const B: &str = \"Not for a reader.\"; }\n",
    );
    let tables = ["Drive to the peg.\n= Zum Pflock fahren.\n".to_owned()];
    let found = check("host/show/src/a.rs", &source, &english(&tables));
    assert_eq!(found, ["host/show/src/a.rs:3: no table has: Stop \"here\" for {s} more seconds."]);
    assert!(check("host/sim/src/a.rs", &source, &BTreeSet::new()).is_empty());
}
