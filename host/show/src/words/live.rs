//! What is next, what happened, and what a press got for an answer: the same words everywhere.

use crate::model::LinkState;
use crate::reading::LengthUnit;
use trundle_core::capture::PortRole;
use trundle_core::fitness::Loss;
use trundle_core::fitness::firmware;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::rig::conditions::in_note;
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::{Answer, Due, End, Marked, PressPlace};

/// Under a result that people read.
pub const PRACTICE_RESULT: &str =
    "PRACTICE, not a measurement: the tractor is a simulated one. Enter nothing of it.";
/// Nothing is recorded any more.
pub const STEP_STOP: &str =
    "Recording has stopped. Close the job, look at the reason, and start a new recording.";
/// A press waits for the disk.
pub const STEP_WAIT: &str = "Wait: the mark is being saved.";
/// After a finish.
pub const STEP_STAND: &str = "Stand still for a moment; the standstill beside the peg is measured \
                              too.";
/// After a finish, counted down.
pub fn step_stand(left_s: u32) -> String {
    format!("Stand still: {left_s} s more. The standstill beside the peg is measured too.")
}

/// Before a start, counted down.
pub fn step_stand_first(number: u32, left_s: u32) -> String {
    format!("Stand still: {left_s} s more beside the peg, then mark the start of pass {number}.")
}

/// Before the first start, where the tractor has not moved yet.
pub fn step_first(number: u32, left_s: u32) -> String {
    let left = match left_s {
        0 => "you have stood long enough".to_owned(),
        left_s => format!("stand still for {left_s} s more"),
    };
    format!(
        "Drive to the first peg, stand still beside it, then mark the start of pass {number}. \
         Already there: {left}."
    )
}

/// Before a start, stood long enough.
pub fn step_stood(number: u32) -> String {
    format!("Stood long enough. Beside the peg? Mark the start of pass {number}.")
}

/// The first pass.
pub const STEP_FIRST: &str =
    "Drive to the first peg, stand still beside it, then mark the start of pass 1.";
/// A page finished the job; for the terminal.
pub const ENDED_BY_PAGE: &str = "Job closed by the page.";
/// A line was typed on a page.
pub const TYPED: &str = "Typed. What became of it stands in the lines.";
/// The same, for the page.
pub const ENDING: &str = "Job closed. Opening the result.";
/// Counts come.
pub const BOARD_LIVE: &str = "counts received";
/// Speeds come.
pub const BUS_LIVE: &str = "speeds received";

/// A distance to a peg: no finer than a receiver knows it.
pub fn far(metres: f64, unit: LengthUnit) -> String {
    format!("{:.0} {}", metres * unit.per_m(), unit.word())
}

/// Under way.
pub fn step_drive(number: u32, to_m: Option<f64>, unit: LengthUnit) -> String {
    let to_go = to_m.map_or_else(String::new, |to_m| format!(" About {} to go.", far(to_m, unit)));
    format!("Pass {number}: drive straight to the far peg.{to_go}")
}

/// Near the far peg.
pub fn step_stop(number: u32) -> String {
    format!("Pass {number}: stop beside the far peg, stand still, then mark the end.")
}

/// Too far.
pub fn step_behind(number: u32, behind_m: f64, unit: LengthUnit) -> String {
    format!(
        "Pass {number}: the far peg should be {} behind you. If you passed it, \
         reject this pass and drive it again.",
        far(behind_m, unit)
    )
}

/// The last pass cannot be used.
pub fn step_again(number: u32) -> String {
    format!("Pass {number} is not used. Stand still beside a peg, then mark the next start.")
}

/// The next pass.
pub fn step_turn(number: u32) -> String {
    format!(
        "Turn round, stand still beside the peg, then mark the start of pass {number}, in the \
         other direction."
    )
}

/// Passes enough.
pub fn step_enough(passes: usize) -> String {
    format!("{passes} passes give a value. Close the job, or drive two more for less uncertainty.")
}

/// A mark: `start of pass 3`.
pub fn due(due: Due) -> String {
    let end = match due.end {
        End::Start => "start",
        End::Finish => "end",
    };
    format!("{end} of pass {}", due.number)
}

/// Where a press was made: `by the board`.
pub const fn by(place: PressPlace) -> &'static str {
    match place {
        PressPlace::Board => "by the board",
        PressPlace::Terminal => "by the keyboard",
        PressPlace::Page => "by the page",
    }
}

/// The job is over.
#[must_use]
pub fn over(capture: &str) -> String {
    format!(
        "The recording has ended and is saved in {capture}. This is its result; it stays here as \
         long as this page is open. Next, at the computer: trundle sign {capture}"
    )
}

/// A mark that stands.
pub fn marked(marked: Marked, at: &str) -> String {
    format!("{} marked at {at} {}", due(marked.due), by(marked.place))
}

/// A port from which nothing live comes.
pub fn link_not_live(state: LinkState, since: Option<&str>) -> String {
    let since = since.map_or_else(String::new, |at| format!(", no data since {at}"));
    match state {
        LinkState::Live => String::new(),
        LinkState::Stale => format!("STALE{since}"),
        LinkState::Nothing => "no usable data yet".to_owned(),
        LinkState::Gone => format!("DISCONNECTED{since}"),
    }
}

/// What a mark did, for people. `by` stands behind it: ` (by the board)` or nothing; `at` tells
/// the time of a host time.
pub fn ruling(ruling: Ruling, by: &str, host_ns: u64, at: impl Fn(u64) -> String) -> String {
    match ruling {
        Ruling::Start { number, abandons: None } => format!("Pass {number}: start saved{by}."),
        Ruling::Start { number, abandons: Some(given_up) } => {
            format!("Pass {number}: start saved{by}; pass {given_up} is rejected.")
        }
        Ruling::Finish { number } => format!("Pass {number}: end saved{by}."),
        Ruling::Note => "Note saved.".to_owned(),
        Ruling::StartUndone { number } => format!("Pass {number}: start undone."),
        Ruling::FinishUndone { number } => {
            format!("Pass {number}: end undone; the pass is open again.")
        }
        Ruling::Refused { number } => format!("Pass {number} is rejected."),
        Ruling::Repeat { of_host_ns } => {
            let (at, of) = (at(host_ns), at(of_host_ns));
            format!("Press at {at} not counted{by}: already marked at {of}.")
        }
        Ruling::GivenUp { number } => {
            format!(
                "Pass {number} ended with the restart of the board and is not used. A mark at its \
                 end is taken for that; the mark after it starts the next pass."
            )
        }
        Ruling::FinishOfCut => format!(
            "Mark taken{by} for the end of the pass in which the board restarted. The next mark is \
             a start: if this one was meant as a start, mark again now."
        ),
        Ruling::NothingOpen => "No pass is open, so there is no end to mark.".to_owned(),
        Ruling::NothingToUndo => "There is nothing to undo or reject.".to_owned(),
    }
}

/// What happened, where it is worth a line and nothing is wrong by it.
#[must_use]
pub fn happened(happened: &LiveEvent, at: impl Fn(u64) -> String) -> Option<String> {
    Some(match happened {
        LiveEvent::Acknowledged(SessionEvent::Mark { ruling: ruled, from_board, host_ns }) => {
            let by = if *from_board { " (by the board)" } else { "" };
            ruling(*ruled, by, *host_ns, at)
        }
        LiveEvent::Seen(SessionEvent::Hello(said)) => {
            let stands = firmware::stands(said.firmware);
            let remark = firmware::remark(said).map_or_else(String::new, |more| format!(" {more}"));
            format!("Counter board {:016x}, {stands}.{remark}", said.board_id.0)
        }
        LiveEvent::PortFound { role, place } => {
            let now = place.as_ref().map_or_else(String::new, |place| format!(", now at {place}"));
            format!("The {} is connected again{now}.", role.name())
        }
        LiveEvent::Tractor(doing) => format!("Simulated tractor: {doing}."),
        LiveEvent::AnsweringAgain { role } => format!("Data from the {} again.", role.name()),
        LiveEvent::CaptureMoved { in_place: true } => {
            "The capture is in its place again.".to_owned()
        }
        _ => return None,
    })
}

/// What is wrong by what happened; screens show it for as long as it lasts.
#[must_use]
pub fn wrong(happened: &LiveEvent) -> Option<String> {
    Some(match happened {
        LiveEvent::Failed(what) => what.clone(),
        LiveEvent::PortLost { role, loss: Loss::Gone, .. } => format!(
            "The {} is disconnected. Stop, then plug it in again: the program is searching for it, \
             and records on when it is back.",
            role.name()
        ),
        LiveEvent::PortLost { role: role @ PortRole::Receiver, loss: Loss::Unreadable, .. } => {
            format!(
                "The data of the {} cannot be read any more and are not measured. Its baud rate \
                 may have changed: other rates are being tried. If that does not help, set it to \
                 NMEA 0183.",
                role.name()
            )
        }
        LiveEvent::PortLost { role, loss: Loss::Unreadable, .. } => format!(
            "The data of the {0} cannot be read any more and are not measured. The program is \
             searching for the {0}. Check its plug and cable; if that does not help, stop, unplug \
             it and plug it in again.",
            role.name()
        ),
        LiveEvent::PortLost { role, loss: Loss::Foreign, .. } => format!(
            "Another device is at the port of the {0}. The program is searching the other ports \
             for the {0}; check its plug.",
            role.name()
        ),
        LiveEvent::CaptureMoved { in_place: false } => {
            "The capture was deleted or renamed, or its folder or disk was replaced. \
             Recording goes on into the open file: nothing is lost so far. When the job is closed \
             a whole copy is saved: under its name, else in the folder in which the program was \
             started. Put back what was moved, or check the disk."
                .to_owned()
        }
        LiveEvent::NotAnswering { role } => format!(
            "No data from the {}: its port is open, but silent. Check its supply and cable.",
            role.name()
        ),
        LiveEvent::Seen(SessionEvent::BoardReset) => {
            "The counter board restarted: an open pass cannot be used. Check its supply, then \
             drive the pass again."
                .to_owned()
        }
        LiveEvent::Seen(SessionEvent::Slept { seconds }) => format!(
            "The computer was asleep for {seconds:.0} s and received nothing: an open pass cannot \
             be used. Keep it awake (lid open, no sleep when idle), then drive the pass again."
        ),
        LiveEvent::Acknowledged(SessionEvent::MarkLost { presses }) => {
            let lost = match presses {
                1 => "1 press of the board's button was lost".to_owned(),
                n => format!("{n} presses of the board's button were lost"),
            };
            format!("{lost}: the marks may be wrong. Reject the open pass and drive it again.")
        }
        _ => return None,
    })
}

/// What a press got for an answer, where the mark itself does not tell it.
#[must_use]
pub fn answer(answer: &Answer, at: impl Fn(u64) -> String) -> Vec<String> {
    match answer {
        Answer::Waiting | Answer::Done { .. } => Vec::new(),
        Answer::Already(first) => {
            let (due, at, by) = (due(first.due), at(first.host_ns), by(first.place));
            vec![format!("Mark not counted: {due} already marked at {at} {by}.")]
        }
        Answer::NotDue => vec![
            "Mark not counted: it was no longer due. Look at the next step and press again."
                .to_owned(),
        ],
        Answer::NotFit { reasons } => {
            let mut lines = vec!["Not started, and nothing was marked:".to_owned()];
            lines.extend(reasons.iter().map(|reason| format!("- {reason}")));
            lines
        }
        Answer::Unfit { words } => vec![words.clone()],
        Answer::NotSaved => {
            vec!["Mark not saved: the capture can no longer be written.".to_owned()]
        }
    }
}

/// What is wrong with a note that begins as a condition does and cannot be one; `None` for any
/// other note.
#[must_use]
pub fn unfit_note(note: &str) -> Option<String> {
    let (field, value) = in_note(note)?;
    let fault = value.err()?;
    Some(format!(
        "Not saved. {fault}. Such a note is a condition and stands on the record. Type it again, \
         or write it without \"{}:\" at its beginning.",
        field.label
    ))
}

/// The picture broke down.
pub const SCREEN_BROKE: &str = "The screen failed. The measurement goes on, line by line. This is \
                                a fault of the program; please report it.";
