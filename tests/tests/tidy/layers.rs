//! Which stage of `host/src` may use which.

use crate::source::{Source, is_word, uses};

/// Stages in the order of the data; each may use those before it.
const STAGES: [&str; 19] = [
    "capture", "wire", "timeline", "course", "session", "fitness", "figure", "ride", "slip",
    "speeds", "sensors", "pto", "mount", "rig", "history", "record", "report", "export", "view",
];
/// Maths and words that belong to no stage; they use each other, but no stage.
const LEAVES: [&str; 6] = ["units", "fault", "geodesy", "fit", "budget", "cautions"];
/// Beside the stages: makes a capture of foreign files, with the tools of the stages on the left.
/// Only the rim starts it.
const IMPORT_USES: [&str; 4] = ["capture", "wire", "timeline", "course"];
/// The rim may use everything else, and nothing else may use the rim. Within it each uses those
/// before it.
const RIM: [&str; 8] = ["shell", "ports", "recorder", "store", "web", "desk", "cli", "main"];

/// May `from` use `to`?
fn allowed(from: &str, to: &str) -> bool {
    let place = |among: &[&str], name: &str| among.iter().position(|other| *other == name);
    let rank = |name: &str| place(&STAGES, name);
    if from == to {
        return true;
    }
    if let Some(from) = place(&RIM, from) {
        return place(&RIM, to).is_none_or(|to| to < from);
    }
    if LEAVES.contains(&to) {
        return true;
    }
    if from == "import" {
        return IMPORT_USES.contains(&to);
    }
    match (rank(from), rank(to)) {
        (Some(from), Some(to)) => to < from,
        _ => false,
    }
}

/// Uses against the stream in one file of `host/src`.
pub fn check(path: &str, source: &Source) -> Vec<String> {
    let Some(inner) = path.strip_prefix("host/src/") else { return Vec::new() };
    let inner = inner.trim_end_matches(".rs").trim_end_matches("/mod");
    let module: Vec<&str> = inner.split('/').collect();
    let stage = module[0];
    if stage == "lib" {
        return Vec::new();
    }
    let known = [&STAGES[..], &LEAVES, &RIM, &["import"]].concat();
    if !known.contains(&stage) {
        return vec![format!("{path}: `{stage}` is not on the map of stages")];
    }
    let mut out = Vec::new();
    for target in targets(&source.shipped, module.len()) {
        if known.contains(&target.as_str()) && !allowed(stage, &target) {
            out.push(format!("{path}: `{stage}` uses `{target}`, which is not to its left"));
        }
    }
    out.sort();
    out.dedup();
    out
}

/// First names behind the root of the crate, as this module names them.
fn targets(code: &str, depth: usize) -> Vec<String> {
    let to_root = "super::".repeat(depth);
    let roots = ["crate::".to_owned(), to_root, "trundle::".to_owned()];
    let mut paths = uses(code);
    for root in &roots {
        paths.extend(code.match_indices(root.as_str()).filter_map(|(at, _)| {
            let before = code[..at].chars().next_back();
            let longer = before.is_some_and(|c| is_word(c) || c == ':');
            (!longer).then(|| code[at..].chars().take(200).collect::<String>())
        }));
    }
    let first = |path: String| {
        let rest = roots.iter().find_map(|root| path.strip_prefix(root.as_str()))?;
        Some(rest.chars().take_while(|c| is_word(*c)).collect::<String>())
    };
    paths.into_iter().filter_map(first).collect()
}

#[test]
fn uses_against_the_stream_are_found() {
    let bad = [
        ("host/src/wire/fix.rs", "use crate::course::pass::Pass;"),
        ("host/src/wire/fix.rs", "use crate::{capture::Record, figure::Work};"),
        ("host/src/fit/york.rs", "fn f() { crate::wire::f(); }"),
        ("host/src/budget/mod.rs", "use super::report::text;"),
        ("host/src/course/tape/spec.rs", "use super::super::super::session::Session;"),
        ("host/src/session/mod.rs", "use crate::figure::Work;"),
        ("host/src/report/text.rs", "use crate::shell::out;"),
        ("host/src/shell/out.rs", "use crate::cli::work;"),
        ("host/src/recorder/live.rs", "use crate::desk::lines;"),
        ("host/src/fitness/judge.rs", "use crate::ports::open;"),
        ("host/src/import/mod.rs", "use crate::figure::Work;"),
        ("host/src/session/mod.rs", "use crate::import::table;"),
        ("host/src/elsewhere/mod.rs", ""),
    ];
    for (path, text) in bad {
        assert_eq!(check(path, &Source::new(text)).len(), 1, "{path}: {text}");
    }
}

#[test]
fn uses_with_the_stream_are_not_found() {
    let good = [
        ("host/src/course/tape.rs", "use crate::budget::Sources; use crate::fault::Flag;"),
        ("host/src/figure/job.rs", "use crate::session::Totals; use super::channel::F;"),
        ("host/src/cli/work.rs", "use crate::shell::out; use trundle::report::text;"),
        ("host/src/fit/york.rs", "#[cfg(test)]\nmod tests { use crate::course::pass; }"),
        ("protocol/src/frame.rs", "use crate::report;"),
    ];
    for (path, text) in good {
        let found = check(path, &Source::new(text));
        assert!(found.is_empty(), "{found:?}");
    }
}
