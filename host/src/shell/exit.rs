//! Exit codes, and errors in three lines: what happened, what it means, what to do.

/// Done, and nothing is wrong.
pub const OK: u8 = 0;
/// Finished, but the result is flagged or there is no valid value.
pub const FLAGGED: u8 = 1;
/// The command was not understood, or there is more than one choice.
pub const USAGE: u8 = 2;
/// A port was not found, is disconnected, or is not what was asked for.
pub const PORT: u8 = 3;
/// No permission for a port or a file, or another program has it.
pub const BLOCKED: u8 = 4;
/// The input is damaged, or not of the kind asked for.
pub const INPUT: u8 = 5;
/// The capture or another file could not be written.
pub const STORAGE: u8 = 6;
/// A fault of the program itself.
pub const INTERNAL: u8 = 70;
/// Interrupted; the capture was closed in order.
pub const INTERRUPTED: u8 = 130;
/// Told to stop by the system; the capture was closed in order.
pub const TERMINATED: u8 = 143;

/// Something that ends a command, in words for the person who gave it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what}\n{means}\n{next}")]
pub struct Trouble {
    /// Exit code of the command.
    pub code: u8,
    /// What happened, one sentence.
    pub what: String,
    /// What that means for the value.
    pub means: String,
    /// What to do next.
    pub next: String,
    /// Name of the option that is at fault, or is wanted; a page says it beside that field.
    pub option: Option<&'static str>,
}

impl Trouble {
    /// Make one of its parts.
    pub fn new(
        code: u8,
        what: impl Into<String>,
        means: impl Into<String>,
        next: impl Into<String>,
    ) -> Self {
        Self { code, what: what.into(), means: means.into(), next: next.into(), option: None }
    }

    /// The same, which this option is at fault for, or would mend.
    #[must_use]
    pub const fn of_option(mut self, option: &'static str) -> Self {
        self.option = Some(option);
        self
    }

    /// A fault of the program itself, where something that cannot happen did.
    pub fn internal(what: impl Into<String>) -> Self {
        let means = "This is a fault of the program, not of the measurement; a capture that was \
                     being written holds everything up to here.";
        let next = "Recalculate the capture with `trundle work`, and report this message with it.";
        Self::new(INTERNAL, what, means, next)
    }
}
