//! Which folder of a crate may use which. Between the crates the compiler holds the order.

use crate::source::{Source, is_word, uses};

/// Where each crate lies, and its folders in the order of the data: each may use those before it.
const CRATES: [(&str, &[&str]); 3] = [
    (
        "host/core/src/",
        &[
            "units", "flags", "cautions", "geodesy", "stats", "capture", "wire", "timeline",
            "session", "fitness", "course", "passes", "figure", "survey", "rig", "history",
            "result", "import",
        ],
    ),
    (
        "host/src/",
        &[
            "shell", "packed", "ports", "recorder", "store", "web", "desk", "commands", "stations",
            "main",
        ],
    ),
    (
        "host/show/src/",
        &[
            "model", "reading", "phrases", "words", "xml", "paper", "text", "tongue", "svg",
            "html", "export", "live", "book", "stations",
        ],
    ),
];
/// Parts of `survey` in their order; each may use those before it.
const SURVEY: [&str; 9] =
    ["ride", "slip", "bus", "speeds", "sensors", "pto", "mount", "proof", "bench"];

/// Uses against the stream in one file of a crate.
pub fn check(path: &str, source: &Source) -> Vec<String> {
    let Some((inner, order)) =
        CRATES.iter().find_map(|(root, order)| Some((path.strip_prefix(root)?, *order)))
    else {
        return Vec::new();
    };
    let inner = inner.trim_end_matches(".rs").trim_end_matches("/mod");
    let module: Vec<&str> = inner.split('/').collect();
    let mut out = Vec::new();
    if module[0] == "lib" {
        return out;
    }
    if !order.contains(&module[0]) {
        return vec![format!("{path}: `{}` is not on the map of folders", module[0])];
    }
    for target in targets(&source.shipped, &module) {
        let parts = match (&module[..], &target[..]) {
            (["survey", from, ..], [survey, to, ..]) if survey == "survey" => {
                Some((&SURVEY[..], *from, to.as_str()))
            }
            ([from, ..], [to, ..]) => Some((order, *from, to.as_str())),
            _ => None,
        };
        let Some((order, from, to)) = parts else { continue };
        let rank = |name: &str| order.iter().position(|one| *one == name);
        if rank(to) > rank(from) && rank(from).is_some() {
            out.push(format!("{path}: `{from}` uses `{to}`, which is not to its left"));
        }
    }
    out.sort();
    out.dedup();
    out
}

/// The first two names behind the root of the crate, as this module names them.
fn targets(code: &str, module: &[&str]) -> Vec<Vec<String>> {
    let mut paths = uses(code);
    for root in ["crate::", "super::"] {
        paths.extend(code.match_indices(root).filter_map(|(at, _)| {
            let before = code[..at].chars().next_back();
            let longer = before.is_some_and(|c| is_word(c) || c == ':');
            (!longer).then(|| code[at..].chars().take(200).collect::<String>())
        }));
    }
    paths.into_iter().filter_map(|path| absolute(&path, module)).collect()
}

/// A path as seen from the root of the crate; `None` for one that leads elsewhere.
fn absolute(path: &str, module: &[&str]) -> Option<Vec<String>> {
    let end = path.find(|c: char| !is_word(c) && c != ':').unwrap_or(path.len());
    let names: Vec<&str> = path[..end].split("::").collect();
    let above = names.iter().take_while(|name| **name == "super").count();
    let (front, back) = match names.first() {
        Some(&"crate") => (&module[..0], &names[1..]),
        Some(&"super") => (&module[..module.len().checked_sub(above)?], &names[above..]),
        _ => return None,
    };
    Some(front.iter().chain(back).take(2).map(|name| (*name).to_owned()).collect())
}

#[test]
fn uses_against_the_stream_are_found() {
    let bad = [
        ("host/core/src/wire/fix.rs", "use crate::passes::pass::Pass;"),
        ("host/core/src/wire/fix.rs", "use crate::{capture::Record, figure::Work};"),
        ("host/core/src/stats/fit/york.rs", "fn f() { crate::wire::f(); }"),
        ("host/core/src/geodesy/mod.rs", "use super::result::text;"),
        ("host/core/src/course/tape/spec.rs", "use super::super::super::passes::pass::Pass;"),
        ("host/core/src/session/mod.rs", "use crate::figure::Work;"),
        ("host/core/src/session/mod.rs", "use crate::import::table;"),
        ("host/core/src/survey/ride/mod.rs", "use super::slip::Slip;"),
        ("host/core/src/survey/ride/mod.rs", "use crate::survey::slip::Slip;"),
        ("host/show/src/text/work.rs", "use crate::html::page;"),
        ("host/core/src/elsewhere/mod.rs", ""),
    ];
    for (path, text) in bad {
        assert_eq!(check(path, &Source::new(text)).len(), 1, "{path}: {text}");
    }
}

#[test]
fn uses_with_the_stream_are_not_found() {
    let good = [
        (
            "host/core/src/course/tape.rs",
            "use crate::stats::budget::Sources; use crate::flags::Flag;",
        ),
        ("host/core/src/figure/job.rs", "use crate::session::Totals; use super::channel::F;"),
        ("host/core/src/survey/slip/mod.rs", "use super::ride::Ride; use crate::wire::fix::Fix;"),
        ("host/src/main.rs", "use trundle_show::text;"),
        ("host/core/src/stats/fit/york.rs", "#[cfg(test)]\nmod tests { use crate::passes::pass; }"),
        ("protocol/src/frame.rs", "use crate::result;"),
    ];
    for (path, text) in good {
        let found = check(path, &Source::new(text));
        assert!(found.is_empty(), "{found:?}");
    }
}
