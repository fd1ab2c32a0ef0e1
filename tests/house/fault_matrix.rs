//! The table of faults names tests that exist, and is printed.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const TABLE: &str = include_str!("../data/fault-matrix.txt");
const LEVELS: [&str; 4] = ["SIM", "PTY", "DISK", "OS"];

/// A row: number, fault, level, file and function of its test, outcome.
struct Row<'a> {
    number: u32,
    fault: &'a str,
    level: &'a str,
    file: &'a str,
    function: &'a str,
    outcome: &'a str,
}

fn rows() -> Vec<Row<'static>> {
    let lines = TABLE.lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(" | ").collect();
            let [number, fault, level, test, outcome] = cells[..] else { panic!("{line}") };
            let (file, function) = test.split_once("::").unwrap_or_else(|| panic!("{line}"));
            Row { number: number.parse().unwrap(), fault, level, file, function, outcome }
        })
        .collect()
}

/// Whether the text of a file has this as a test: in Rust a function under `#[test]`, a property
/// included; in a script of the checks a function, or a program that it runs.
fn is_test(file: &str, text: &str, function: &str) -> bool {
    if Path::new(file).extension().is_some_and(|end| end == "sh") {
        let begins = format!("{function}() {{");
        let runs = format!("/{function}\"");
        return text.lines().any(|line| line.starts_with(&begins) || line.contains(&runs));
    }
    let begins = format!("fn {function}(");
    let lines: Vec<&str> = text.lines().map(str::trim_start).collect();
    lines.iter().enumerate().any(|(n, line)| {
        let attributes = lines[..n].iter().rev().take_while(|line| line.starts_with("#["));
        line.starts_with(&begins) && attributes.into_iter().any(|line| *line == "#[test]")
    })
}

#[test]
fn every_fault_names_a_test_that_exists() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).ancestors().nth(2).unwrap();
    let mut files = BTreeMap::new();
    let mut before = 0;
    for row in rows() {
        let text = files.entry(row.file).or_insert_with(|| {
            fs::read_to_string(root.join(row.file)).unwrap_or_else(|e| panic!("{}: {e}", row.file))
        });
        let Row { number, fault, level, file, function, outcome } = row;
        println!("{number:>2}  {level:<4}  {fault}\n          {outcome}\n          {function}");
        assert!(is_test(file, text, function), "row {number}: {file} has no test {function}");
        assert!(LEVELS.contains(&level), "row {number}: level {level}");
        assert!(number >= before, "row {number} stands after row {before}");
        assert!(!fault.is_empty() && !outcome.is_empty(), "row {number} says too little");
        before = number;
    }
}

#[test]
fn what_is_no_test_is_not_taken_for_one() {
    let text = "#[test]\n#[ignore]\nfn one() {}\nfn two() {}\n// fn three() {}\n";
    assert!(is_test("a.rs", text, "one"));
    assert!(["two", "three", "on"].iter().all(|name| !is_test("a.rs", text, name)));
    let script = "full() {\n}\n\"$build/release/days\" 3\n";
    assert!(is_test("a.sh", script, "full") && is_test("a.sh", script, "days"));
    assert!(!is_test("a.sh", script, "day"));
}
