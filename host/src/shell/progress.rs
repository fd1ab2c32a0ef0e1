//! How far something long has come: only on a terminal, only when it takes more than a second.

use super::out;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal as _;
use std::time::{Duration, Instant};

/// Shorter work shows nothing.
const SHORT: Duration = Duration::from_secs(1);

/// Something that takes a number of steps.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
    began: Instant,
}

impl Progress {
    /// Begin with no step done.
    #[must_use]
    pub fn start(steps: u64, what: &'static str) -> Self {
        Self::with(steps, what, "{msg} {pos} of {len} [{wide_bar}] {eta}")
    }

    /// Begin with something that is counted in bytes.
    #[must_use]
    pub fn bytes(length: u64, what: &'static str) -> Self {
        Self::with(length, what, "{msg} {bytes} of {total_bytes} [{wide_bar}] {eta}")
    }

    fn with(steps: u64, what: &'static str, template: &str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(steps), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template(template);
        if let Ok(style) = style {
            bar.set_style(style.progress_chars("=> "));
        }
        bar.set_message(what);
        Self { bar, began: Instant::now() }
    }

    /// One step is done.
    pub fn step(&self) {
        self.steps(1);
    }

    /// So many steps are done.
    pub fn steps(&self, done: u64) {
        let seen = !out::is_heard() && std::io::stderr().is_terminal();
        if seen && self.bar.is_hidden() && self.began.elapsed() > SHORT {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.inc(done);
    }

    /// All is done; nothing of it stays on the screen.
    pub fn end(self) {
        self.bar.finish_and_clear();
    }
}
