//! Names in documents: those that must lead somewhere, and those that must not be there.

use crate::bans::has_word;
use crate::tree::Tree;

/// Documents for people; their back-quoted paths must exist.
const DOCUMENTS: [&str; 8] = [
    "README.md",
    "DEVELOPERS.md",
    "host/handbook/guide.md",
    "protocol/SPEC.md",
    "firmware-sim/BUILDING.md",
    "firmware-sim/input-board/README.md",
    "firmware-sim/emulator/README.md",
    "firmware-sim/pico/README.md",
];
/// Folders by which a path is known to be one of the project's own.
const FOLDERS: [&str; 15] = [
    "host/",
    "firmware-sim/",
    "protocol/",
    "tests/",
    "logs/",
    ".ci/",
    "src/",
    "shell/",
    "ports/",
    "recorder/",
    "web/",
    "desk/",
    "commands/",
    "schemas/",
    "data/",
];
/// Ends by which a bare name is known to be a file of the project. Tables and texts that a user
/// makes (`counts.csv`, `course.toml`) are no files of the project.
const ENDS: [&str; 2] = [".rs", ".md"];

/// Paths named in documents and module heads that lead nowhere.
pub fn missing(tree: &Tree) -> Vec<String> {
    let mut out = Vec::new();
    for document in DOCUMENTS {
        if tree.files.iter().any(|path| path == document) {
            check(document, &tree.read(document), &tree.files, &mut out);
        } else {
            out.push(format!("{document}: missing"));
        }
    }
    for path in tree.sources() {
        let head = |line: &str| line.trim_start().starts_with("//!").then(|| line.to_owned());
        let text: Vec<String> =
            tree.read(&path).lines().map(|line| head(line).unwrap_or_default()).collect();
        check(&path, &text.join("\n"), &tree.files, &mut out);
    }
    out
}

fn check(document: &str, text: &str, files: &[String], out: &mut Vec<String>) {
    for (i, line) in text.lines().enumerate() {
        for quoted in line.split('`').skip(1).step_by(2) {
            let name = quoted.trim_start_matches("./");
            if looks_like_path(name) && !exists(document, name, files) {
                out.push(format!("{document}:{}: `{quoted}` does not exist", i + 1));
            }
        }
    }
}

fn looks_like_path(name: &str) -> bool {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-./*".contains(c);
    let known = FOLDERS.iter().any(|folder| name.starts_with(folder))
        || ENDS.iter().any(|end| name.len() > end.len() && name.ends_with(end));
    known && name.chars().all(plain)
}

/// From the top, from the sources of the host (whose stages every document names by their own
/// names), from the document's folder or one above it; a bare name, anywhere in the package. A
/// star stands for anything.
fn exists(document: &str, name: &str, files: &[String]) -> bool {
    let package = document.split_inclusive('/').next().filter(|p| p.ends_with('/')).unwrap_or("");
    let mut folder = document;
    let crates = ["host/src/", "host/core/src/", "host/show/src/"];
    let mut bases: Vec<String> = crates.map(str::to_owned).into();
    bases.push(String::new());
    while let Some((above, _)) = folder.rsplit_once('/') {
        bases.push(format!("{above}/"));
        folder = above;
    }
    let bare = !name.contains('/');
    files.iter().any(|file| {
        bases.iter().any(|base| covers(&format!("{base}{name}"), file))
            || (bare && file.starts_with(package) && file.ends_with(&format!("/{name}")))
    })
}

/// Is `file` the named file, or in the named folder?
fn covers(named: &str, file: &str) -> bool {
    match named.split_once('*') {
        Some((front, back)) => {
            file.len() >= front.len() + back.len()
                && file.starts_with(front)
                && file.ends_with(back)
        }
        None => {
            let folder = named.trim_end_matches('/');
            file.strip_prefix(folder).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        }
    }
}

/// Words that say where or how the project was made, which is nobody's business.
pub fn private(path: &str, text: &str) -> Vec<String> {
    // In two halves, so that this file does not name them.
    let words = [
        concat!("hel", "per"),
        concat!("hel", "pers"),
        concat!("crates", ".io"),
        concat!("pypi", ".org"),
        concat!("python", "hosted.org"),
        concat!("npm", "js.org"),
        concat!("debian", ".org"),
        concat!("golang", ".org"),
    ];
    let root = concat!("/wo", "rk");
    let mut out = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let lower = line.to_lowercase();
        for word in words.iter().filter(|word| has_word(&lower, word)) {
            out.push(format!("{path}:{}: names {word}", i + 1));
        }
        let names_root = lower.match_indices(root).any(|(at, _)| {
            let before = lower[..at].chars().next_back();
            let after = lower[at + root.len()..].chars().next();
            before.is_none_or(|c| !c.is_alphanumeric() && !"._-*})/".contains(c))
                && after.is_none_or(|c| c == '/' || c.is_whitespace() || "\"'`),;".contains(c))
        });
        if names_root {
            out.push(format!("{path}:{}: names a path of one machine", i + 1));
        }
    }
    out
}

#[test]
fn paths_that_lead_nowhere_are_found() {
    let files = [
        "host/core/src/stats/fit/york.rs",
        "host/src/lib.rs",
        "logs/a.capture",
        "tests/tests/x.rs",
    ];
    let files: Vec<String> = files.iter().map(|path| (*path).to_owned()).collect();
    let mut found = Vec::new();
    let good = "`host/core/src/stats/fit/york.rs` `host/src` `logs/*.capture` `counts.csv` `a/b` \
                `Vec<u8>`";
    check("README.md", good, &files, &mut found);
    check(
        "host/core/src/lib.rs",
        "//! `stats/fit/york.rs`, `york.rs`, `src/stats/`",
        &files,
        &mut found,
    );
    assert!(found.is_empty(), "{found:?}");
    let bad =
        "`host/core/src/stats/fit/deming.rs` and `logs/*.nmea`, `PLAN.md`, `shell/nothing.rs`";
    check("README.md", bad, &files, &mut found);
    check("protocol/src/lib.rs", "//! `york.rs`", &files, &mut found);
    assert_eq!(found.len(), 5, "{found:?}");
}

#[test]
fn private_names_are_found() {
    let root = concat!("/wo", "rk");
    for text in [
        format!("see {root}/main"),
        format!("`{root}`"),
        concat!("a Hel", "per wrote it").to_owned(),
        concat!("https://crates", ".io/x").to_owned(),
    ] {
        assert_eq!(private("a.md", &text).len(), 1, "{text}");
    }
    for text in ["host/src/commands/work.rs", "schemas/work", "field/workshop", "a workable help"] {
        assert!(private("a.md", text).is_empty(), "{text}");
    }
}
