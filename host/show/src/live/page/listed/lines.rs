//! What can be typed in these jobs, as buttons and fields of their pages.

use super::super::document::{PageField, PageLine};
use super::measured as words;

const fn alone(button: &'static str, typed: &'static str) -> PageLine {
    PageLine { button, typed, field: None }
}

/// `words`: what the button says, and the label of the field.
const fn with(words: [&'static str; 2], typed: &'static str, number: bool) -> PageLine {
    let [button, label] = words;
    PageLine { button, typed, field: Some(PageField { label, number }) }
}

/// What can be typed while the shaft is measured.
pub const PTO_LINES: &[PageLine] = &[
    with(words::TAKE_READING, "", true),
    alone(words::REJECT_READING, "x"),
    with(words::TAKE_NOTE, "n ", false),
];
/// What can be typed on a proof drive.
pub const PROOF_LINES: &[PageLine] = &[
    with(words::TAKE_DISTANCE, "d ", true),
    with(words::TAKE_SPEED, "v ", true),
    alone(words::REJECT_READING, "x"),
    alone(words::SHOW_STANDING, "s"),
];
