//! Calls that are not allowed, each with what to do instead.

use crate::source::{Source, is_word, uses};

/// A banned path or macro, and what to do instead.
type Ban = (&'static str, &'static str);

/// Touching the world: only at the rim of the program.
const WORLD: &[Ban] = &[
    ("std::time::Instant", "take the time as an argument; shell/clock.rs reads it"),
    ("std::time::SystemTime", "take the time as an argument; shell/clock.rs reads it"),
    ("std::time::*", "name what is used"),
    ("std::fs", "take bytes; the shell reads and writes files"),
    ("std::net", "take bytes; the shell owns every connection"),
    ("std::env", "take the value as an argument; cli reads the environment"),
    ("std::process", "return a value; main.rs ends the program"),
    ("std::thread", "the core has one thread; the shell owns the others"),
    ("std::io::stdin", "take bytes; the shell reads them"),
    ("std::io::stdout", "return text; the shell prints it"),
    ("std::io::stderr", "return text; the shell prints it"),
    ("chrono::Utc::now", "take the time as an argument; shell/clock.rs reads it"),
    ("chrono::Local", "times are UTC wherever they are worked with"),
    ("rand", "pass a seeded generator in"),
    ("println!", "return text; the shell prints it"),
    ("print!", "return text; the shell prints it"),
    ("eprintln!", "return a flag or an error; the shell prints it"),
    ("eprint!", "return a flag or an error; the shell prints it"),
];

/// Containers whose order changes from run to run.
const ORDER: &[Ban] = &[
    ("std::collections::HashMap", "BTreeMap keeps its order, so results are the same bytes"),
    ("std::collections::HashSet", "BTreeSet keeps its order, so results are the same bytes"),
    ("std::collections::hash_map", "BTreeMap keeps its order, so results are the same bytes"),
];

/// In nothing that is shipped.
const SHIPPED: &[Ban] =
    &[(".unwrap()", "return the error, or `expect` with the reason why it cannot be")];

/// Nowhere at all.
const LEFTOVERS: &[Ban] = &[
    ("dbg!", "take it out"),
    ("todo!", "finish it, or leave it out"),
    ("unimplemented!", "finish it, or leave it out"),
];

/// Files that may hold unsafe code: of the board's firmware, what reaches its registers, its
/// interrupts and its stack; and the names that C uses, which count as unsafe. The other packages
/// of the workspace forbid it besides.
const UNSAFE: [&str; 4] = [
    "host/samemath/src/lib.rs",
    "firmware-sim/image/src/lm3s/mod.rs",
    "firmware-sim/image/src/lm3s/registers.rs",
    "firmware-sim/image/src/lm3s/stack.rs",
];

/// Files at the rim, which may touch the world.
fn is_rim(path: &str) -> bool {
    const RIM: [&str; 12] = [
        "host/src/shell/",
        "host/src/ports/",
        "host/src/recorder/",
        "host/src/store/",
        "host/src/web/",
        "host/src/desk/",
        "host/src/cli/",
        "host/src/main.rs",
        "firmware-sim/src/image.rs",
        "firmware-sim/src/pty.rs",
        "firmware-sim/src/serve.rs",
        "firmware-sim/src/main.rs",
    ];
    RIM.iter().any(|rim| path.starts_with(rim))
}

/// Files of a package's `src`, test package excepted.
fn is_shipped(path: &str) -> bool {
    path.contains("src/") && !path.starts_with("tests/")
}

/// Banned calls in a Rust file.
pub fn check(path: &str, source: &Source) -> Vec<String> {
    let mut out = Vec::new();
    if is_shipped(path) {
        find(path, &source.shipped, SHIPPED, &mut out);
        if !is_rim(path) {
            find(path, &source.shipped, WORLD, &mut out);
        }
    }
    if path.starts_with("host/src/") {
        find(path, &source.shipped, ORDER, &mut out);
    }
    find(path, &source.code, LEFTOVERS, &mut out);
    for (i, line) in source.code.lines().enumerate() {
        if has_word(line, "unsafe") && !UNSAFE.contains(&path) {
            out.push(format!("{path}:{}: unsafe: only at the registers of the firmware", i + 1));
        }
    }
    for (i, line) in source.text.lines().enumerate() {
        for word in [concat!("FIX", "ME"), concat!("TO", "DO"), concat!("XX", "X")] {
            if has_word(line, word) {
                out.push(format!("{path}:{}: {word}: finish it, or file it", i + 1));
            }
        }
    }
    out
}

fn find(path: &str, code: &str, bans: &[Ban], out: &mut Vec<String>) {
    let imports = uses(code);
    for (banned, instead) in bans {
        for (i, line) in code.lines().enumerate() {
            let imported = line.trim_start().starts_with("use ");
            if !imported && has_call(line, banned) {
                out.push(format!("{path}:{}: {banned}: {instead}", i + 1));
            }
        }
        for import in &imports {
            if import == banned || import.starts_with(&format!("{banned}::")) {
                out.push(format!("{path}: use {import}: {instead}"));
            }
        }
    }
}

/// The ban as written in full, or by its last two names (`io::stdin`), as code writes it.
fn has_call(line: &str, banned: &str) -> bool {
    let names: Vec<&str> = banned.split("::").collect();
    match names.as_slice() {
        [.., module, name] if *module != "std" => has_word(line, &format!("{module}::{name}")),
        [_, _] => has_word(line, banned),
        // A bare crate name is only banned as the beginning of a path.
        [name] if name.chars().all(is_word) => has_word(line, &format!("{name}::")),
        _ => has_word(line, banned),
    }
}

/// `word` with nothing of a longer word on either side.
pub fn has_word(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + word.len()..].chars().next();
        let longer_before = word.starts_with(is_word) && before.is_some_and(is_word);
        let longer_after = word.ends_with(is_word) && after.is_some_and(is_word);
        !longer_before && !longer_after
    })
}

#[test]
fn banned_calls_are_found() {
    let bad = [
        "use std::time::{Duration, Instant};",
        "fn f() { let t = std::time::SystemTime::now(); }",
        "use std::time::SystemTime;",
        "use std::{fs::File, io::Read};",
        "fn f() { std::env::var(\"A\"); }",
        "use std::net::TcpStream;",
        "fn f() { println!(\"a\"); }",
        "fn f() { eprintln!(\"a\"); }",
        "fn f() { print!(\"a\"); }",
        "fn f() { thread::sleep(d); std::thread::sleep(d); }",
        "fn f() { io::stdin().read(); }",
        "fn f() { rand::random(); }",
        "use std::collections::HashMap;",
        "fn f() { a.unwrap(); }",
        "fn f() { dbg!(a); }",
        "fn f() { todo!() }",
        "fn f() { unsafe { g() } }",
        concat!("// TO", "DO: more"),
    ];
    for text in bad {
        let found = check("host/src/fit/line.rs", &Source::new(text));
        assert!(!found.is_empty(), "not found: {text}");
    }
}

#[test]
fn what_is_allowed_is_not_found() {
    let good = "use std::time::Duration;\n// HashMap, std::fs, println! are only spoken of.\n\
                fn f() { env!(\"A\"); a.unwrap_or(\"println!\"); operand::f(); }\n\
                #[cfg(test)]\nmod tests { fn g() { a.unwrap(); println!(); } }\n";
    let found = check("host/src/fit/line.rs", &Source::new(good));
    assert!(found.is_empty(), "{found:?}");
    let world = "use std::fs;\nfn f() { println!(); }\n";
    assert!(check("host/src/shell/files.rs", &Source::new(world)).is_empty());
    assert!(check("firmware-sim/src/serve.rs", &Source::new(world)).is_empty());
    assert!(!check("firmware-sim/src/world.rs", &Source::new(world)).is_empty());
    let register = "#![deny(unsafe_code)]\nfn f() { unsafe { g() } }\n";
    assert!(check(UNSAFE[1], &Source::new(register)).is_empty());
    assert_eq!(check("firmware-sim/image/src/port.rs", &Source::new(register)).len(), 1);
}
