//! What a job shows that looks at several things: each with how it stands and what to do, the
//! result so far, and a drawing where there is one.

mod antenna;
mod bus;
mod check;
mod lines;
mod proof;
mod pto;
mod speeds;

pub use antenna::shown_antenna;
pub(crate) use antenna::witness_row;
pub use bus::{bus_row, shown_bus};
pub use check::{check_row, shown_bench, shown_check};
pub use lines::{PROOF_LINES, PTO_LINES};
pub use proof::{proof_row, shown_proof};
pub use pto::{pto_row, shown_pto};
pub use speeds::shown_speeds;

use super::{LabelledLine, Shown, Strip, Value, base, words};
use crate::model::{NextStep, View};
use crate::words::stations_measured as measured;
use serde::Serialize;

/// One thing that is looked at.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct CheckRow {
    /// A sign for how it stands: a shape, never colour alone.
    pub sign: &'static str,
    /// How it stands, in words.
    pub state: &'static str,
    /// What it is.
    pub label: String,
    /// What was seen.
    pub words: String,
    /// What to do; empty where nothing is to be done.
    pub next: String,
    /// It is good as it is.
    pub done: bool,
    /// It needs a look.
    pub beware: bool,
}

/// A drawing that is asked for anew when its number grows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Picture {
    /// Its number, from 1.
    pub number: u64,
    /// It in words.
    pub words: String,
}

/// How one thing stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// Good.
    Good,
    /// Not good.
    Bad,
    /// Still missing.
    Missing,
}

impl CheckRow {
    /// One thing, as it stands.
    #[must_use]
    pub fn new(how: How, state: &'static str, label: &str, seen: String, next: &str) -> Self {
        Self {
            sign: match how {
                How::Good => measured::SIGN_GOOD,
                How::Bad => measured::SIGN_BAD,
                How::Missing => measured::SIGN_MISSING,
            },
            state,
            label: label.to_owned(),
            words: seen,
            next: next.to_owned(),
            done: how == How::Good,
            beware: how == How::Bad,
        }
    }
}

/// What all of them show; a failed recording says so first. `next` is empty where the list has
/// nothing to ask.
fn listed(view: &View, next: &str, main: Value, checks: Vec<CheckRow>) -> Shown {
    let failed = view.next.step == NextStep::Stop;
    Shown {
        next: if failed { view.next.words.clone() } else { next.to_owned() },
        main,
        strip: Strip { at: None, words: String::new(), stale: false },
        passes: Vec::new(),
        figures: Vec::new(),
        last_mark: String::new(),
        checks,
        ending: words::END_LISTED.to_owned(),
        ..base(view)
    }
}

/// A line of the result so far.
fn answer(label: &str, words: String, beware: bool) -> LabelledLine {
    LabelledLine { label: label.to_owned(), words, beware }
}

/// The satellite speed large.
fn satellite(view: &View) -> Value {
    let since = view.receiver.as_ref().and_then(|link| link.since.clone());
    super::speed_value(words::speed_by(crate::words::SATELLITE), view.speeds.satellite, since)
}
