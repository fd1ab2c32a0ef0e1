//! Rust files that no package compiles.

use crate::source::Source;
use crate::tree::Tree;
use std::collections::BTreeSet;

/// Files that no root reaches by `mod`.
pub fn dead(tree: &Tree) -> Vec<String> {
    let sources = tree.sources();
    let packages: Vec<String> = tree
        .files
        .iter()
        .filter_map(|path| path.strip_suffix("Cargo.toml"))
        .map(str::to_owned)
        .collect();
    unreached(&sources, &packages, |path| tree.read(path))
}

fn unreached(
    sources: &[String],
    packages: &[String],
    read: impl Fn(&str) -> String,
) -> Vec<String> {
    let mut open: Vec<String> =
        sources.iter().filter(|path| is_root(path, packages)).cloned().collect();
    let mut reached = BTreeSet::new();
    let roots: BTreeSet<String> = open.iter().cloned().collect();
    while let Some(path) = open.pop() {
        if reached.insert(path.clone()) {
            let text = read(&path);
            open.extend(children(&path, &text, roots.contains(&path), sources));
        }
    }
    let dead = sources.iter().filter(|path| !reached.contains(*path));
    dead.map(|path| format!("{path}: no `mod` leads to it: use it or delete it")).collect()
}

/// Files that cargo compiles of itself.
fn is_root(path: &str, packages: &[String]) -> bool {
    let longest = packages.iter().filter(|p| path.starts_with(p.as_str())).max_by_key(|p| p.len());
    let Some(inner) = longest.and_then(|package| path.strip_prefix(package.as_str())) else {
        return false;
    };
    // A package of tests alone has its `main.rs` at the top.
    if ["src/lib.rs", "src/main.rs", "main.rs", "build.rs"].contains(&inner) {
        return true;
    }
    ["src/bin/", "tests/", "benches/", "examples/"].iter().any(|folder| {
        inner.strip_prefix(folder).is_some_and(|rest| match rest.split_once('/') {
            None => true,
            Some((_, file)) => file == "main.rs",
        })
    })
}

/// Files that the `mod` lines of a file lead to.
fn children(path: &str, text: &str, root: bool, sources: &[String]) -> Vec<String> {
    let (folder, file) = path.rsplit_once('/').unwrap_or(("", path));
    let owner = root || file == "mod.rs";
    let inside = if owner {
        folder.to_owned()
    } else {
        format!("{folder}/{}", file.trim_end_matches(".rs"))
    };
    let code = Source::new(text).code;
    let mut named: Option<String> = None;
    let mut out = Vec::new();
    for (line, raw) in code.lines().zip(text.lines()) {
        if line.trim_start().starts_with("#[path") {
            named = raw.split('"').nth(1).map(str::to_owned);
            continue;
        }
        let declared = line.trim().trim_start_matches("pub(crate) ").trim_start_matches("pub ");
        if let Some(name) = declared.strip_prefix("mod ").and_then(|m| m.strip_suffix(';')) {
            let candidates = match named.take() {
                Some(given) => vec![format!("{folder}/{given}")],
                None => vec![format!("{inside}/{name}.rs"), format!("{inside}/{name}/mod.rs")],
            };
            out.extend(candidates.into_iter().filter(|path| sources.contains(path)));
        }
    }
    out
}

#[test]
fn dead_files_are_found() {
    let files = [
        ("p/src/lib.rs", "mod a;\npub mod b;\n// mod dead;\n"),
        ("p/src/a.rs", "mod deep;\n"),
        ("p/src/a/deep.rs", ""),
        ("p/src/b/mod.rs", "pub(crate) mod c;\n"),
        ("p/src/b/c.rs", ""),
        ("p/src/dead.rs", ""),
        ("p/tests/x.rs", "#[path = \"x/part.rs\"]\nmod part;\nmod common;\n"),
        ("p/tests/x/part.rs", ""),
        ("p/tests/x/lost.rs", ""),
        ("p/tests/common/mod.rs", ""),
        ("p/src/bin/tool.rs", ""),
    ];
    let sources: Vec<String> = files.iter().map(|(path, _)| (*path).to_owned()).collect();
    let read = |path: &str| files.iter().find(|(p, _)| *p == path).unwrap().1.to_owned();
    let found = unreached(&sources, &["".to_owned(), "p/".to_owned()], read);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("p/src/dead.rs") && found[1].starts_with("p/tests/x/lost.rs"));
}
