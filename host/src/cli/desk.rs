//! The person's side of a recording without passes: lines typed, events told, until it ends.

use super::drive::words;
use super::recording::Voice;
use crate::shell::exit;
use crate::shell::lines::{Line, read_lines};
use crate::shell::live::{LiveEvent, LiveJob};
use crate::shell::{out, stop};
use std::time::Duration;

/// How often typed lines and the wish to stop are looked at.
const LOOK: Duration = Duration::from_millis(20);

/// How a recording came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The person finished, or nobody reads any more.
    Finished,
    /// A signal.
    Stopped,
}

impl End {
    /// Exit code of the command, where the result alone deserves `code`.
    #[must_use]
    pub fn code(self, code: u8) -> u8 {
        match self {
            Self::Stopped => stop::code(),
            // Whoever read the output has gone: that is no fault of the measurement.
            Self::Finished if out::closed() => exit::OK,
            Self::Finished => code,
        }
    }
}

/// Serve until `q`, the end of the input, a signal or a failure. `typed` gets every other line
/// with the host time at which it came, `happened` every event; `meanwhile` is
/// called at each look, and ends it too when it tells true.
pub fn serve(
    job: &LiveJob,
    voice: Voice,
    typed: &dyn Fn(u64, &str),
    happened: &dyn Fn(&LiveEvent),
    meanwhile: &mut dyn FnMut() -> bool,
) -> End {
    let lines = read_lines(job.clock());
    loop {
        for event in job.poll(LOOK) {
            // A failure ends the command and is told there.
            if matches!(event, LiveEvent::Failed(_)) {
                return End::Finished;
            }
            if let Some(words) = words::event(&event) {
                voice.say(&words);
            }
            happened(&event);
        }
        while let Ok(line) = lines.try_recv() {
            match line {
                Line::Typed(_, text) if text.trim() == "q" => return End::Finished,
                Line::Typed(host_ns, text) => typed(host_ns, text.trim()),
                Line::End => return End::Finished,
                Line::EndOfTerminal => voice.say("q finishes."),
            }
        }
        if stop::wanted() {
            return End::Stopped;
        }
        if out::closed() || meanwhile() {
            return End::Finished;
        }
    }
}
