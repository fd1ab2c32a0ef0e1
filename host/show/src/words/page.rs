//! The page alone.

use crate::model::PassState;
use trundle_core::session::presses::{Due, End};

pub(crate) const IMPULSES: &str = "impulses";
pub(crate) const KM_H: &str = "km/h";
pub(crate) const KM_H_PROVISIONAL: &str = "km/h, provisional";
pub(crate) const MPH: &str = "mph";
pub(crate) const MPH_PROVISIONAL: &str = "mph, provisional";
pub(crate) const PER_S: &str = "impulses/s";
pub(crate) const NO_UNDO: &str = "Nothing to undo";
pub(crate) const STRIP_CLOSED: &str = "The position between the pegs is shown while a pass is \
                                       open.";
pub(crate) const STRIP_UNKNOWN: &str = "The position between the pegs is not known.";
pub(crate) const NO_FIGURE: &str = "no value to enter yet; see the result for the reason";
pub(crate) const START_PEG: &str = "start";
pub(crate) const FAR_PEG: &str = "far peg";
pub(crate) const PRACTICE: &str = "PRACTICE, not a measurement";
pub(crate) const STAY_ON: &str = "Set the display of this device to stay on.";
pub(crate) const PLAIN: &str = "The connection is not encrypted: anyone in the same \
                                         wireless network can listen. Use the hotspot of your \
                                         own phone.";
pub(crate) const VIEW_ONLY: &str = "View only. To mark, open the link for marking.";
pub(crate) const NO_SCRIPT: &str = "This page needs JavaScript to stay up to date and to mark. \
                                    What stands here was so when it was opened.";
pub(crate) const QUIET: &str = "No data. This page is not live.";

pub(crate) const PERCENT: &str = "%";
pub(crate) const SLIP_LAST: &str = "Slip of the last whole section";
pub(crate) const SLIP_BEGINS: &str =
    "Stand still, then drive off: a start or a stop shows the receiver's delay.";
pub(crate) const SLIP_GOES_ON: &str =
    "Drive on. You need not look while driving; everything is recorded.";
pub(crate) const DISTANCE: &str = "Distance in sections";
pub(crate) const SLIP_ALL: &str = "Slip so far";
pub(crate) const NO_MAP: &str = "The map begins with the first whole section.";
pub(crate) const END: &str = "Close job";
pub(crate) const END_NOW: &str = "Close now";
pub(crate) const END_NOT: &str = "Go on";
pub(crate) const END_SLIP: &str = "Recording ends, and the slip of all sections is shown here.";

pub(crate) const NEXT: &str = "Next";
pub(crate) const MARK: &str = "Mark";
pub(crate) const START: &str = "Start";
pub(crate) const FINISH: &str = "End";
pub(crate) const CALCULATE: &str = "Calculate now";
pub(crate) const LAST_RESULT: &str = "Last result";
pub(crate) const PASSES: &str = "Passes";
pub(crate) const NO_PASSES: &str = "None so far.";
pub(crate) const NOTES: &str = "Conditions and notes";
pub(crate) const ABOUT: &str = "Condition or note";
pub(crate) const TEXT: &str = "Text";
pub(crate) const NOTE: &str = "Note";
pub(crate) const SAVE: &str = "Save";
pub(crate) const REASON: &str = "Reason for rejecting the pass";
pub(crate) const NONE_TO_REJECT: &str = "No pass to reject";
pub(crate) const MESSAGES: &str = "Messages";
pub(crate) const DISPLAY: &str = "Display";
pub(crate) const SLIP: &str = "Slip";
pub(crate) const WHEN_DONE: &str = "End of the job";
pub(crate) const WHERE: &str = "Where";
pub(crate) const TROUBLE: &str = "Trouble";
pub(crate) const READINGS: &str = "Readings";
pub(crate) const SAID_SO_FAR: &str = "So far";
pub(crate) const RESULT: &str = "Result";
pub(crate) const RESULT_SO_FAR: &str = "Result so far";
pub(crate) const STANDING: &str = "How it stands";
pub(crate) const NO_CHECK: &str = "Nothing has been looked at yet.";
pub(crate) const DRAWN: &str = "Drawn";
pub(crate) const NO_PICTURE: &str = "The drawing begins once the tractor has driven off.";
pub(crate) const END_LISTED: &str = "Recording ends, and the result is shown.";
pub(crate) const BEGINS: &str = "Beginning ...";
pub(crate) const NEWEST: &str = "Newest sections";
pub(crate) const WAITS: &str = "Not confirmed yet: waiting for the disk.";
/// Looks that can be chosen, and their names.
pub(crate) const LOOKS: [(&str, &str); 4] =
    [("auto", "Auto"), ("day", "Day"), ("night", "Night"), ("strong", "High contrast")];
/// What the script in the page says by itself, while the program cannot.
const SCRIPT: [(&str, &str); 10] = [
    ("since", "no data since "),
    ("never", "no data yet"),
    ("pass", "Pass "),
    ("sent", "Sent, not confirmed yet."),
    ("asking", "Not confirmed yet. Asking again for the same mark."),
    ("unreachable", "Not confirmed: no connection. Sending the same mark again."),
    ("unknown", "Not confirmed. Look at the list of passes before you press again."),
    ("direction", ", "),
    ("state", ": "),
    ("handbook", super::book::ENTRIES),
];

/// The words of the script, as one JSON object.
pub(crate) fn script() -> String {
    let words = SCRIPT.iter().map(|(name, words)| ((*name).to_owned(), (*words).into()));
    serde_json::Value::Object(words.collect()).to_string()
}

pub(crate) const NO_SCRIPT_AGAIN: &str = "How do things stand now?";

/// The word of the script's list.
fn of_script(name: &str) -> &'static str {
    SCRIPT.iter().find(|(own, _)| *own == name).map_or("", |(_, words)| words)
}

/// Old values: since when.
pub(crate) fn since(at: &str) -> String {
    if at.is_empty() { of_script("never").to_owned() } else { of_script("since").to_owned() + at }
}

/// Head of a pass, as the script writes it.
pub(crate) fn pass_head(number: u32, way: &str, state: &str) -> String {
    let way = if way == "-" { String::new() } else { of_script("direction").to_owned() + way };
    format!("{}{number}{way}{}{state}", of_script("pass"), of_script("state"))
}

/// A press that was done.
pub(crate) fn confirmed(now: &str, mark: Option<Due>) -> String {
    mark.map_or_else(
        || format!("Confirmed at {now}."),
        |due| format!("Confirmed at {now}: {}.", super::due(due)),
    )
}

/// Nothing to show yet.
pub(crate) fn slip_waits(why: &str, next: &str) -> String {
    format!("No slip yet: {why} {next}")
}

pub(crate) fn slip_last(length_m: f64, half_percent: f64) -> String {
    format!("{SLIP_LAST} ({length_m:.0} m), \u{b1} {half_percent:.1} %")
}

pub(crate) fn above(percent: f64) -> String {
    format!("% of distance above {percent:.0} % slip")
}

pub(crate) fn map_of(mapped: usize, all: usize) -> String {
    if mapped < all {
        format!("Map of the last {mapped} of {all} sections, north up. The result has all of them.")
    } else {
        format!("Map of {all} sections, north up; the outlined one is the newest.")
    }
}

/// What finishing would end.
pub(crate) fn ending(open: Option<u32>, passes: usize) -> String {
    match (open, passes) {
        (Some(number), _) => {
            format!("Pass {number} is open: without its end it cannot be used.")
        }
        (None, 0) => "No pass has been driven: there will be no value.".to_owned(),
        (None, 1) => "Recording ends, and the result of 1 pass is shown here.".to_owned(),
        (None, n) => format!("Recording ends, and the result of {n} passes is shown here."),
    }
}

/// A mark on a button: short, since it has to be read at a glance on a narrow phone.
pub(crate) fn mark(due: Due) -> String {
    match due.end {
        End::Start => format!("Start of pass {}", due.number),
        End::Finish => format!("End of pass {}", due.number),
    }
}

pub(crate) fn undo(due: Due) -> String {
    format!("Undo: {}", super::due(due))
}

pub(crate) fn reject(number: Option<u32>) -> String {
    number.map_or_else(|| "No pass to reject".to_owned(), |n| format!("Reject pass {n}"))
}

pub(crate) fn impulses_of(channel: &str, number: u32) -> String {
    format!("Pass {number}, {channel}")
}

pub(crate) fn no_pass(channel: &str) -> String {
    format!("No pass yet, {channel}")
}

pub(crate) fn speed_by(name: &str) -> String {
    format!("Speed by {name}")
}

/// Beside the speeds of board and receiver.
pub(crate) fn bus_speed(name: &str) -> String {
    format!("{}: {name}", super::LABEL_BUS)
}

pub(crate) fn figure_of(channel: &str) -> String {
    format!("Value of {channel}")
}

/// Shapes that differ without colour.
pub(crate) const fn sign(state: PassState) -> &'static str {
    match state {
        PassState::Open => "\u{25cb}",
        PassState::Settling => "\u{2026}",
        PassState::Valid => "\u{2713}",
        PassState::Flagged => "!",
        PassState::Refused => "\u{2715}",
    }
}

pub(crate) fn pass_values(channel: &str, impulses: Option<f64>, figure: Option<f64>) -> String {
    match (impulses, figure) {
        (Some(count), Some(figure)) => {
            format!("{channel} {count:.1} impulses, {figure:.1} per 100 m")
        }
        (Some(count), None) => format!("{channel} {count:.1} impulses"),
        (None, _) => String::new(),
    }
}
