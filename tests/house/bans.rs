//! What the compiler's lints do not hold: words that are left over, and unsafe code in the two
//! packages that may have some.
//!
//! Touching the world is banned by the `clippy.toml` of each package, whose names the compiler
//! resolves; printing and unwrapping by the workspace's lints.

use crate::source::{Source, is_word};
use crate::tree::Tree;

/// Files that may hold unsafe code: of the board's firmware, what reaches its registers, its
/// interrupts and its stack; and the names that C uses, which count as unsafe. The other packages
/// of the workspace forbid it besides.
const UNSAFE: [&str; 6] = [
    "host/samemath/src/lib.rs",
    "firmware-sim/pico/src/capture.rs",
    "firmware-sim/pico/src/flash.rs",
    "firmware-sim/pico/src/account.rs",
    "firmware-sim/pico/src/registers.rs",
    "firmware-sim/pico/src/stack.rs",
];

/// Banned words in a Rust file.
pub fn check(path: &str, source: &Source) -> Vec<String> {
    let mut out = Vec::new();
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

/// The walls of core and show are the same list, all of it.
pub fn walls(tree: &Tree) -> Vec<String> {
    let list = |path: &str| -> Vec<String> {
        let text = tree.read(path);
        text.lines().filter(|line| line.contains("path = ")).map(str::to_owned).collect()
    };
    let (core, show) = (list("host/core/clippy.toml"), list("host/show/clippy.toml"));
    assert!(core.len() > 30, "the walls of core were not found");
    let apart = core.iter().filter(|line| !show.contains(line));
    let apart = apart.chain(show.iter().filter(|line| !core.contains(line)));
    apart.map(|line| format!("only one of core and show bans {}", line.trim())).collect()
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
fn banned_words_are_found() {
    for text in ["fn f() { unsafe { g() } }", concat!("// TO", "DO: more")] {
        let found = check("host/core/src/stats/fit/line.rs", &Source::new(text));
        assert_eq!(found.len(), 1, "not found: {text}");
    }
    let good = "// unsafe is only spoken of\nfn f() { g(\"unsafe\"); }\n";
    assert!(check("host/src/main.rs", &Source::new(good)).is_empty());
    let register = "#![deny(unsafe_code)]\nfn f() { unsafe { g() } }\n";
    assert!(check(UNSAFE[1], &Source::new(register)).is_empty());
    assert_eq!(check("firmware-sim/board/src/port.rs", &Source::new(register)).len(), 1);
}
