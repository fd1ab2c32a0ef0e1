//! The screen in the terminal, and words that other screens share with it.

use super::due;
use super::far;
use crate::model::{CoursePosition, FigureRow, Link, PassState, Speed, Trouble, View};
use crate::reading::LengthUnit;
use trundle_core::rig::conditions::CONDITIONS;
use trundle_core::session::presses::End;
use trundle_core::wire::bus::message::{BusSpeed, SelectedSource};

pub(crate) const PRACTICE: &str = "- PRACTICE, not a measurement";
pub(crate) const LABEL_NEXT: &str = "NEXT";
pub(crate) const NEXT_SLIP: &str = "Drive as you work. Every whole section adds a line.";
pub(crate) const LABEL_BOARD: &str = "Board";
pub(crate) const LABEL_RECEIVER: &str = "Receiver";
pub(crate) const LABEL_SPEED: &str = "Speed";
pub(crate) const LABEL_BUS: &str = "Bus";
pub(crate) const LABEL_COURSE: &str = "Course";
pub(crate) const LABEL_FIGURE: &str = "Value";
pub(crate) const NO_RECEIVER: &str = "none: the value will be by tape alone";
pub(crate) const WHEEL: &str = "wheel";
pub(crate) const RADAR: &str = "radar";
pub(crate) const SATELLITE: &str = "satellite";
pub(crate) const STALE: &str = "STALE";
pub(crate) const NO_FIGURE_YET: &str = "none yet; about 20 s after the end of pass 1";
pub(crate) const PASS_HEAD: &str = "Pass  dir.  state    ";
pub(crate) const MORE: &str = "... and more.";
pub(crate) const KEYS_BEFORE: &str = "up, down: scroll   any other key: to the job";
pub(crate) const KEYS_READING: &str = "up, down: scroll   space: mark   any other key: back";
pub(crate) const ASK_FINISH: &str = "Close the job and show the result?  y: close   any other \
                                     key: go on";

/// Left of an open pass.
pub fn label_pass(number: u32) -> String {
    format!("Pass {number}")
}

/// A live port, and what is known of the sky.
pub fn link_live(link: &Link) -> String {
    let used = link.satellites.map(|used| match link.in_view {
        Some(in_view) => format!(", {used} of {in_view} satellites"),
        None => format!(", {used} satellites"),
    });
    let signal = link.signal_db_hz.map(|signal| format!(", signal {signal:.0} dB-Hz"));
    let hdop = link.hdop.map(|hdop| format!(", HDOP {hdop:.1}"));
    let sky: String = [used, signal, hdop].into_iter().flatten().collect();
    format!("live: {}{sky}", link.words)
}

/// A speed with its name.
pub fn speed(name: &str, speed: &Speed) -> String {
    let value = match (speed.km_h, speed.impulses_per_s) {
        (Some(km_h), _) => format!("{km_h:.1} km/h"),
        (None, Some(rate)) => format!("{rate:.0} impulses/s"),
        (None, None) => return format!("{name} -"),
    };
    match (speed.stale, speed.provisional && speed.km_h.is_some()) {
        (true, _) => format!("{name} {STALE} ({value})"),
        (false, true) => format!("{name} {value} (provisional)"),
        (false, false) => format!("{name} {value}"),
    }
}

/// A speed on the bus: which, of the control unit with this address where there are several, and
/// where a selected one comes from.
pub fn bus_speed(kind: BusSpeed, sender: Option<u8>, source: Option<SelectedSource>) -> String {
    let kind = match kind {
        BusSpeed::Wheel => "wheel",
        BusSpeed::Ground => "ground",
        BusSpeed::Selected => "selected",
    };
    let of = sender.map_or_else(String::new, |sender| format!(" of {sender}"));
    let from = match source {
        None => String::new(),
        Some(SelectedSource::Wheel) => " (from wheel)".to_owned(),
        Some(SelectedSource::Ground) => " (from ground)".to_owned(),
        Some(SelectedSource::Navigation) => " (from satellite)".to_owned(),
        Some(SelectedSource::Blended) => " (blended)".to_owned(),
        Some(SelectedSource::Simulated) => " (SIMULATED)".to_owned(),
        Some(SelectedSource::Reserved(number)) => format!(" (unknown source {number})"),
    };
    format!("{kind}{of}{from}")
}

/// How long a pass has been open.
pub fn open_for(for_s: f64) -> String {
    let seconds = for_s.max(0.0) as u64;
    format!("open {}:{:02}", seconds / 60, seconds % 60)
}

/// Where on the course.
pub fn place(place: &CoursePosition, narrow: bool, unit: LengthUnit) -> String {
    let start = if narrow { "" } else { " from the start" };
    let from = format!("{}{start}", far(place.from_start_m, unit));
    let to = match place.to_far_peg_m {
        Some(to_m) if to_m >= 0.0 => format!(", about {} to go", far(to_m, unit)),
        Some(to_m) => format!(", about {} too far", far(-to_m, unit)),
        None => String::new(),
    };
    let stale = if place.stale { " (STALE)" } else { "" };
    format!("{from}{to}{stale}")
}

/// A value so far.
pub fn figure(row: &FigureRow, narrow: bool) -> String {
    let Some((number, percent)) = row.enter.zip(row.percent) else {
        return "no value to enter yet; press r for the reason".to_owned();
    };
    if narrow {
        return format!("{number} per 100 m, ±{percent:.2} %");
    }
    let by = match (row.by_tape, row.by_satellite) {
        (true, true) => "tape and satellite",
        (true, false) => "tape",
        _ => "satellite",
    };
    format!("{number} impulses per 100 m so far, ±{percent:.2} % ({by})")
}

/// Head of a column of values.
pub fn per_100_m(name: &str) -> String {
    format!("{name}/100m")
}

/// Head of a column of impulses.
pub fn count_of(name: &str) -> String {
    format!("{name} count")
}

/// How a pass stands.
pub(crate) const fn pass_state(state: PassState) -> &'static str {
    match state {
        PassState::Open => "open",
        PassState::Settling => "checking",
        PassState::Valid => "valid",
        PassState::Flagged => "flagged",
        PassState::Refused => "not used",
    }
}

/// Something wrong, with what to do.
pub fn trouble(trouble: &Trouble) -> String {
    let since = trouble.since.as_ref().map_or_else(String::new, |at| format!(" {at}"));
    format!("!{since} {}", trouble.words)
}

/// While a note is typed.
pub fn ask_note(text: &str) -> String {
    format!("Note: {text}_  (Enter saves, Esc goes back)")
}

/// While a condition is typed.
pub fn ask_condition(at: usize, text: &str) -> String {
    let (label, about) = CONDITIONS.get(at).map_or(("", ""), |field| (field.label, field.about));
    let so_far = format!("Condition {} of {}", at + 1, CONDITIONS.len());
    format!("{so_far}, {about}.  {label}: {text}_  (Enter saves or skips, Esc goes back)")
}

/// While a reason is typed.
pub fn ask_reject(number: u32, text: &str) -> String {
    format!("Reason for rejecting pass {number}: {text}_  (Enter rejects, Esc goes back)")
}

/// The keys and what they do now.
pub fn keys(view: &View, passes: bool) -> Vec<(&'static str, String)> {
    let mut keys = Vec::new();
    if passes {
        keys.push(("space", format!("mark {}", due(view.due))));
    }
    if let Some(mark) = view.undo {
        keys.push(("u", format!("undo {}", due(mark))));
    }
    if let Some(number) = view.last_pass {
        keys.push(("x", format!("reject pass {number}")));
    }
    if passes && view.due.number == 1 && view.due.end == End::Start {
        keys.push(("c", "conditions".to_owned()));
    }
    keys.push(("n", "note".to_owned()));
    keys.push(("r", "result".to_owned()));
    keys.push(("q", "close job".to_owned()));
    keys
}
