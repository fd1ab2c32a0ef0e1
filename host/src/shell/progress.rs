//! How far something long has come: only on a terminal, only when it takes more than a second.

use super::{out, tongue};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::cell::RefCell;
use std::io::IsTerminal as _;
use std::time::{Duration, Instant};

/// Shorter work shows nothing.
const SHORT: Duration = Duration::from_secs(1);

/// Sees how many of how many steps are done.
type Eye = Box<dyn Fn(u64, u64)>;

thread_local! {
    /// Set on a thread that works for a page.
    static EYE: RefCell<Option<Eye>> = const { RefCell::new(None) };
}

/// Do `what` on this thread; `eye` sees how far it has come: steps done, and all of them. Bytes
/// that are read within a step are none.
pub fn seen<T>(what: impl FnOnce() -> T, eye: impl Fn(u64, u64) + 'static) -> T {
    struct Blind;
    impl Drop for Blind {
        fn drop(&mut self) {
            EYE.with_borrow_mut(|eye| *eye = None);
        }
    }
    let _blind = Blind;
    EYE.with_borrow_mut(|own| *own = Some(Box::new(eye)));
    what()
}

/// Something that takes a number of steps.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
    began: Instant,
    /// Counted in steps, not in bytes.
    counted: bool,
}

impl Progress {
    /// Begin with no step done.
    #[must_use]
    pub fn start(steps: u64, what: &'static str) -> Self {
        let counted = Self::with(steps, what, "{msg} {pos}/{len} [{wide_bar}] {eta}");
        let counted = Self { counted: true, ..counted };
        counted.steps(0);
        counted
    }

    /// Begin with something that is counted in bytes.
    #[must_use]
    pub fn bytes(length: u64, what: &'static str) -> Self {
        Self::with(length, what, "{msg} {bytes}/{total_bytes} [{wide_bar}] {eta}")
    }

    fn with(steps: u64, what: &'static str, template: &str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(steps), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template(template);
        if let Ok(style) = style {
            bar.set_style(style.progress_chars("=> "));
        }
        bar.set_message(tongue::in_force().text(what).into_owned());
        Self { bar, began: Instant::now(), counted: false }
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
        if self.counted {
            let (done, all) = (self.bar.position(), self.bar.length().unwrap_or(0));
            EYE.with_borrow(|eye| eye.iter().for_each(|eye| eye(done, all)));
        }
    }

    /// All is done; nothing of it stays on the screen.
    pub fn end(self) {
        self.bar.finish_and_clear();
    }
}
