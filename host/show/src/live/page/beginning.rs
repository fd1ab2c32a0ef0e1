//! What the page shows before there is a picture of the job.

use super::{Button, NextStep, Shown, Strip, Value, document, words};

/// What the page shows before a job has anything to show but words.
#[must_use]
pub fn before(lines: Vec<String>, practice: bool) -> Shown {
    let nothing = Value { label: String::new(), value: String::new(), unit: "", stale: None };
    let off = || Button { on: false, words: String::new(), number: 0, end: None };
    Shown {
        at: String::new(),
        host_ns: 0,
        practice,
        next: words::BEGINS.to_owned(),
        step: NextStep::Wait,
        main: nothing,
        speeds: Vec::new(),
        bus: Vec::new(),
        links: Vec::new(),
        strip: Strip { at: None, words: String::new(), stale: false },
        start: off(),
        finish: off(),
        undo: off(),
        reject: off(),
        passes: Vec::new(),
        figures: Vec::new(),
        onward: Vec::new(),
        stand_s: None,
        course: None,
        last_mark: String::new(),
        troubles: Vec::new(),
        said: Vec::new(),
        lines,
        slip: None,
        checks: Vec::new(),
        picture: None,
        kind: document::PageKind::Said,
        ending: String::new(),
        over: None,
    }
}
