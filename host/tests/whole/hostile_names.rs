//! Names and texts that somebody meant no good with, in every field that takes text: they come out
//! harmless on screen, on paper, in tables and as file names, or they are refused.

use crate::support;
use crate::support::{TempDir, in_tree, json, trundle_in};
use trundle_core::rig::conditions::{CONDITIONS, option};
use trundle_core::rig::{FieldKind, Thing};

/// Markup, formulas, paths, device names, marks of other languages. Kept as they are.
const KEPT: [&str; 12] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "'; DROP TABLE rig; --",
    "=HYPERLINK(\"http://example.invalid\",\"x\")",
    "+1+cmd|' /C calc'!A0",
    "@SUM(1+1)",
    "../../../etc/passwd",
    "..\\..\\con",
    "CON",
    "nul.txt",
    "\u{ff1d}1+1",
    "%00%2e%2e%2f &amp; ]]> ${x} {{x}}",
];
/// What steers terminals, hides or turns the writing direction. Refused.
const REFUSED: [&str; 7] = [
    "a\x1b]52;c;aGk=\x07b",
    "a\x1b[2Jb",
    "line\nbreak",
    "tab\tbed",
    "a\u{202e}b",
    "a\u{200b}b",
    "a\u{9b}31mb",
];

fn run(data: &str, args: &[&str]) -> support::Finished {
    trundle_in(args, &[("TRUNDLE_DATA", data)])
}

fn text_options(thing: Thing) -> Vec<String> {
    let text = thing.fields().iter().filter(|field| field.kind == FieldKind::Text);
    text.map(|field| format!("--{}", field.key.replace('_', "-"))).collect()
}

/// What signing off takes as text.
fn said_options() -> Vec<String> {
    let text = CONDITIONS.iter().filter(|field| field.kind == FieldKind::Text);
    let conditions = text.map(|field| format!("--{}", option(field)));
    let others = ["--location", "--because", "--remark"].map(str::to_owned);
    conditions.chain(others).collect()
}

#[test]
fn what_steers_is_refused_in_every_field() {
    let folder = TempDir::new();
    let data = folder.file("data");
    for hostile in REFUSED {
        for thing in Thing::ALL {
            let named = run(&data, &[thing.word(), "add", hostile]);
            assert_eq!(named.code, Some(2), "{hostile:?}: {}", named.stderr);
            assert!(!named.stderr.contains('\x1b') && !named.stderr.contains('\u{202e}'));
            for option in text_options(thing) {
                let end = run(&data, &[thing.word(), "add", "Name", &option, hostile]);
                assert_eq!(end.code, Some(2), "{option} {hostile:?}: {}", end.stderr);
                assert!(!end.stderr.contains('\x1b') && !end.stderr.contains('\u{9b}'));
            }
        }
        for option in said_options() {
            let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
            run(&data, &["rig", "add", "Rig"]);
            let end = run(&data, &["sign", &capture, &option, hostile]);
            assert_eq!(end.code, Some(2), "{option} {hostile:?}: {}", end.stderr);
        }
    }
}

#[test]
fn what_is_kept_comes_out_harmless() {
    let folder = TempDir::new();
    let data = folder.file("data");
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    for hostile in KEPT {
        for thing in Thing::ALL {
            let mut args = vec![thing.word().to_owned(), "add".to_owned(), hostile.to_owned()];
            for option in text_options(thing) {
                args.extend([option, hostile.to_owned()]);
            }
            if thing == Thing::Rig {
                for link in ["--tractor", "--tyres", "--tape", "--operator", "--customer"] {
                    args.extend([link.to_owned(), hostile.to_owned()]);
                }
            }
            let args: Vec<&str> = args.iter().map(String::as_str).collect();
            let end = run(&data, &args);
            assert_eq!(end.code, Some(0), "{hostile:?}: {}", end.stderr);
            // It comes back as it went in.
            let shown = run(&data, &[thing.word(), "show", hostile, "--json"]);
            assert_eq!(json(&shown.stdout)["entries"][0]["name"], hostile);
        }
        let mut args = vec!["sign", &capture, "--rig", hostile, "--json"];
        let options = said_options();
        for option in &options {
            args.extend([option.as_str(), hostile]);
        }
        let record = run(&data, &args);
        assert_eq!(record.code, Some(0), "{hostile:?}: {}", record.stderr);
        let id = json(&record.stdout)["id"].as_str().unwrap().to_owned();
        let to = folder.file("page.html");
        // The sheet of a rig that does not say its source is incomplete: code 1.
        for (print, code) in [
            (&["record", "print", &id, "--to", &to][..], 0),
            (&["record", "print", &id, "--to", &to, "--short"], 0),
            (&["sheet", hostile, "--report", &to], 1),
        ] {
            assert_eq!(run(&data, print).code, Some(code), "{print:?}");
            let page = std::fs::read_to_string(&to).unwrap();
            let lower = page.to_lowercase();
            for never in ["<script", "<img", "onerror=alert(1)>", "http://", "https://"] {
                let allowed = never.starts_with("http") && hostile.contains("http://");
                assert!(allowed || !lower.contains(never), "{hostile:?}: {never}");
            }
        }
    }
    // Names of files are made of identities, never of names.
    let captures = folder.path().join("data/captures");
    for file in std::fs::read_dir(captures).unwrap() {
        let name = file.unwrap().file_name().into_string().unwrap();
        let sound = name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'.');
        assert!(sound && name.len() == 72, "{name}");
    }
    let listed = run(&data, &["record", "list"]).stdout;
    assert!(listed.chars().all(|c| c == '\n' || !c.is_control()), "{listed:?}");
}
