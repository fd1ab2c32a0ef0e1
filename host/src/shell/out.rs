//! Every word that goes to the terminal.
//!
//! Nothing else writes to stdout or stderr. When whoever read our output has gone (`| head -1`)
//! the program ends quietly with code 0; a live job first closes its capture in order.

use super::exit;
use std::io::{ErrorKind, Write as _};
use std::sync::atomic::{AtomicU8, Ordering};

/// [`OPEN`], or the exit code to end with because stdout takes nothing any more.
static STATE: AtomicU8 = AtomicU8::new(OPEN);
/// Stdout takes what is written.
const OPEN: u8 = u8::MAX;

/// Write a line to stdout. A broken pipe ends the program quietly with code 0.
pub fn say(line: &str) {
    say_raw(&format!("{line}\n"));
}

/// Write text to stdout as it stands, without a line end of its own. Ends like [`say`].
pub fn say_raw(text: &str) {
    say_bytes(text.as_bytes());
}

/// Print a result as one JSON object or for people, whichever was asked for. Ends like [`say`].
pub fn say_either(json: bool, object: impl FnOnce() -> String, text: impl FnOnce() -> String) {
    if json { say(&object()) } else { say_raw(&text()) }
}

/// Write bytes to stdout, for a file or another program. Ends like [`say`].
pub fn say_bytes(bytes: &[u8]) {
    write_out(bytes);
    if closed() {
        std::process::exit(i32::from(STATE.load(Ordering::Relaxed)));
    }
}

/// Write a line to stdout while a job is live: a broken pipe is only noted, for [`closed`].
pub fn say_live(line: &str) {
    write_out(format!("{line}\n").as_bytes());
}

/// True when stdout takes nothing any more.
#[must_use]
pub fn closed() -> bool {
    STATE.load(Ordering::Relaxed) != OPEN
}

/// Where text for people goes: to stdout, unless that is for the JSON.
#[derive(Clone, Copy, Debug)]
pub struct Voice {
    /// Stdout is for one JSON object.
    pub json: bool,
}

impl Voice {
    /// Say a line to the person.
    pub fn say(self, line: &str) {
        if self.json { notice(line) } else { say_live(line) }
    }

    /// Print a result in the form that was asked for.
    pub fn result(self, human: &str, json: &str) {
        say_live(if self.json { json } else { human.trim_end() });
    }
}

/// Write a line to stderr. If that fails there is nowhere left to say so.
pub fn notice(line: &str) {
    let mut err = std::io::stderr().lock();
    let _ = writeln!(err, "{line}");
}

fn write_out(bytes: &[u8]) {
    if closed() {
        return;
    }
    let mut out = std::io::stdout().lock();
    if let Err(error) = out.write_all(bytes).and_then(|()| out.flush()) {
        if error.kind() == ErrorKind::BrokenPipe {
            STATE.store(exit::OK, Ordering::Relaxed);
        } else {
            notice(&format!("the output could not be written ({error})"));
            STATE.store(exit::STORAGE, Ordering::Relaxed);
        }
    }
}

/// Text from outside, safe for a terminal: control characters, and those that turn the writing
/// direction, become `?`; what is longer than `most` characters is cut with `...`.
#[must_use]
pub fn scrub(text: &str, most: usize) -> String {
    let unsafe_for_terminals = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}')
            || matches!(c, '\u{2066}'..='\u{2069}' | '\u{feff}')
    };
    let mut clean: String =
        text.chars().take(most).map(|c| if unsafe_for_terminals(c) { '?' } else { c }).collect();
    if text.chars().nth(most).is_some() {
        clean.push_str("...");
    }
    clean
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_from_outside_can_steer_the_terminal() {
        assert_eq!(scrub("a\x1b[2Jb\r\n\u{9b}c\u{202e}d", 80), "a?[2Jb???c?d");
        assert_eq!(scrub("\u{fc}ber 5 \u{b0}C", 80), "\u{fc}ber 5 \u{b0}C");
        assert_eq!(scrub("12345", 4), "1234...");
        assert_eq!(scrub("1234", 4), "1234");
    }
}
