//! The language in which this run of the program speaks to people.

use std::sync::atomic::{AtomicU8, Ordering};
use trundle_show::tongue::Tongue;

/// Place in [`Tongue::ALL`], or one of those below.
static IN_FORCE: AtomicU8 = AtomicU8::new(NOT_SAID);
/// Nobody has said one.
const NOT_SAID: u8 = u8::MAX;
/// Set on one that was said on the command line: it holds as long as the program runs.
const HOLDS: u8 = 0x40;

/// Speak this language from now on, `None` where the settings name none. What was said on the
/// command line holds.
pub fn speak(tongue: Option<Tongue>) {
    let wanted = tongue.map_or(NOT_SAID, place);
    let _ = IN_FORCE.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |now| {
        (now == NOT_SAID || now & HOLDS == 0).then_some(wanted)
    });
}

/// Speak this language as long as the program runs.
pub fn hold(tongue: Tongue) {
    IN_FORCE.store(place(tongue) | HOLDS, Ordering::Relaxed);
}

/// The language that was said; a page speaks its browser's where none was.
#[must_use]
pub fn said() -> Option<Tongue> {
    let now = IN_FORCE.load(Ordering::Relaxed);
    let place = usize::from(now & !HOLDS);
    (now != NOT_SAID).then(|| Tongue::ALL.get(place).copied()).flatten()
}

/// The language of terminal and papers.
#[must_use]
pub fn in_force() -> Tongue {
    said().unwrap_or_default()
}

fn place(tongue: Tongue) -> u8 {
    u8::try_from(Tongue::ALL.iter().position(|one| *one == tongue).unwrap_or(0)).unwrap_or(0)
}

/// The language that is asked for among the words of a command line, before they are understood:
/// `--help` ends that.
#[must_use]
pub fn asked(words: impl Iterator<Item = std::ffi::OsString>) -> Option<Tongue> {
    let mut words = words.map(|word| word.to_string_lossy().into_owned());
    while let Some(word) = words.next() {
        let code = match word.strip_prefix("--language") {
            Some("") => words.next(),
            Some(rest) => rest.strip_prefix('=').map(str::to_owned),
            None if word == "--" => return None,
            None => None,
        };
        if let Some(tongue) = code.and_then(|code| Tongue::of_code(&code)) {
            return Some(tongue);
        }
    }
    None
}

#[test]
fn the_language_is_found_before_the_rest_is_understood() {
    let asked = |line: &str| asked(line.split(' ').map(Into::into));
    assert_eq!(asked("trundle --language de work"), Some(Tongue::German));
    assert_eq!(asked("trundle work --language=de --help"), Some(Tongue::German));
    assert_eq!(asked("trundle work -- --language=de"), None);
    assert_eq!(asked("trundle work --language xx"), None);
}
