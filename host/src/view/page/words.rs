//! Wording of the page alone.

use crate::view::marks::{Due, End};
use crate::view::model::PassState;

pub(super) const IMPULSES: &str = "impulses";
pub(super) const KM_H: &str = "km/h";
pub(super) const PER_S: &str = "imp./s";
pub(super) const NO_UNDO: &str = "Nothing to take back";
pub(super) const STRIP_CLOSED: &str = "The way between the pegs is shown while a pass is open.";
pub(super) const STRIP_UNKNOWN: &str = "The place between the pegs is not known.";
pub(super) const NO_FIGURE: &str = "no figure to enter so far; the result tells why";
pub(super) const START_PEG: &str = "start";
pub(super) const FAR_PEG: &str = "far peg";
pub(super) const PRACTICE: &str = "PRACTICE, not a measurement";
pub(super) const STAY_ON: &str = "Set the display of this device to stay on.";
pub(super) const PLAIN: &str = "The connection is not encrypted: anyone in the same wireless \
                                network can listen. Use the hotspot of your own phone.";
pub(super) const VIEW_ONLY: &str =
    "This device may look, not mark. Open the link for marking to change that.";
pub(super) const NO_SCRIPT: &str = "This page needs its own script to stay up to date.";
pub(super) const QUIET: &str = "No data. Nothing on this page is live.";

pub(super) const PERCENT: &str = "%";
pub(super) const SLIP_LAST: &str = "Slip of the last whole window";
pub(super) const SLIP_BEGINS: &str =
    "Stand still, then drive off: a start or a stop shows how far the receiver lags.";
pub(super) const SLIP_GOES_ON: &str =
    "Drive on. Nobody has to look while driving; all of it is recorded.";
pub(super) const DISTANCE: &str = "Distance in windows";
pub(super) const SLIP_ALL: &str = "Slip so far";
pub(super) const NO_MAP: &str = "The map begins with the first whole window.";
pub(super) const END: &str = "Finish the job";
pub(super) const END_NOW: &str = "Finish now";
pub(super) const END_NOT: &str = "Go on";
pub(super) const END_SLIP: &str = "Recording ends, and the slip of all windows is shown here.";

/// Nothing to show yet.
pub(super) fn slip_waits(why: &str, next: &str) -> String {
    format!("No slip yet: {why} {next}")
}

pub(super) fn slip_last(length_m: f64, half_percent: f64) -> String {
    format!("{SLIP_LAST} ({length_m:.0} m), \u{b1} {half_percent:.1} %")
}

pub(super) fn above(percent: f64) -> String {
    format!("Share of the way above {percent:.0} %")
}

pub(super) fn map_of(mapped: usize, all: usize) -> String {
    if mapped < all {
        format!("Map of the last {mapped} of {all} windows, north up. The result has all of them.")
    } else {
        format!("Map of {all} windows, north up; the outlined one is the newest.")
    }
}

/// What finishing would end.
pub(super) fn ending(open: Option<u32>, passes: usize) -> String {
    match (open, passes) {
        (Some(number), _) => {
            format!("Pass {number} is open: without its finish it cannot be used.")
        }
        (None, 0) => "No pass has been driven: there will be no figure.".to_owned(),
        (None, 1) => "Recording ends, and the result of 1 pass is shown here.".to_owned(),
        (None, n) => format!("Recording ends, and the result of {n} passes is shown here."),
    }
}

/// A mark on a button: short, since it has to be read at a glance on a narrow phone.
pub(super) fn mark(due: Due) -> String {
    match due.end {
        End::Start => format!("Start of pass {}", due.number),
        End::Finish => format!("Finish of pass {}", due.number),
    }
}

pub(super) fn take_back(due: Due) -> String {
    format!("Take back: {}", super::texts::due(due))
}

pub(super) fn leave_out(number: Option<u32>) -> String {
    number.map_or_else(|| "No pass to leave out".to_owned(), |n| format!("Leave out pass {n}"))
}

pub(super) fn impulses_of(channel: &str, number: u32) -> String {
    format!("Pass {number}, {channel}")
}

pub(super) fn no_pass(channel: &str) -> String {
    format!("No pass yet, {channel}")
}

pub(super) fn speed_by(name: &str) -> String {
    format!("Speed by {name}")
}

pub(super) fn figure_of(channel: &str) -> String {
    format!("Figure of {channel}")
}

/// Shapes that differ without colour.
pub(super) const fn sign(state: PassState) -> &'static str {
    match state {
        PassState::Open => "\u{25b6}",
        PassState::Settling => "\u{2026}",
        PassState::Valid => "\u{2713}",
        PassState::Flagged => "!",
        PassState::Refused => "\u{2715}",
    }
}

pub(super) fn pass_values(channel: &str, impulses: Option<f64>, figure: Option<f64>) -> String {
    match (impulses, figure) {
        (Some(count), Some(figure)) => {
            format!("{channel} {count:.1} impulses, {figure:.1} per 100 m")
        }
        (Some(count), None) => format!("{channel} {count:.1} impulses"),
        (None, _) => String::new(),
    }
}
