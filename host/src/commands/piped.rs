//! A capture that comes through the standard input: `-` stands in its place.
//!
//! It is read as it comes, in pieces of a fixed size, and only once: from a pipe there is no size
//! to be had, and no way back. What is printed is one line of JSON, for another program.

use crate::recorder::replay::replay_stream;
use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use std::io::IsTerminal as _;
use std::path::Path;
use trundle_core::session::Session;

/// What it is called in messages.
const NAME: &str = "The standard input";
const MEANS: &str = "Nothing was calculated.";

/// True where `-` stands in a capture's place; a file of that name is `./-`.
#[must_use]
pub fn is_piped(capture: &Path) -> bool {
    capture.as_os_str() == "-"
}

/// Feed the standard input to a session, to its end.
///
/// # Errors
/// Exit code 2 when nobody sends anything; else those of a capture in a file.
pub fn replay(session: Session) -> Result<Session, Trouble> {
    // A page that works within the program has no standard input of its own.
    if out::is_heard() || std::io::stdin().is_terminal() {
        return Err(Trouble::new(
            exit::USAGE,
            "- is a capture from the standard input, and no program sends one there.",
            MEANS,
            "Name the file, or send it: trundle work - <FILE.",
        ));
    }
    replay_stream(std::io::stdin().lock(), Path::new(NAME), session)
}

/// Refuse `option`, which takes a capture that has a name and can be read again, if it is `given`.
///
/// # Errors
/// Exit code 2.
pub fn without(option: &str, given: bool) -> Result<(), Trouble> {
    if !given {
        return Ok(());
    }
    let what = format!("{option} names the capture by its file, and - has none.");
    let next = format!("Leave {option} out, or name the file of the capture.");
    Err(Trouble::new(exit::USAGE, what, MEANS, next))
}
