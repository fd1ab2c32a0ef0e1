//! The page for a phone or tablet: a [`View`] in, the words and states a browser shows out.
//!
//! All wording is made here and in `texts.rs`; the script in the page puts strings into their
//! places and nothing else. Nothing is loaded from anywhere but the program itself.

mod beginning;
pub mod course;
pub mod document;
pub(crate) mod filled;
pub mod listed;
pub mod press;
pub mod slip;
mod units;

pub use beginning::before;
pub use units::in_units;

use crate::model::{
    BusSpeedRow, Finding, FurtherRow, LinkState, NextStep, PassRow, PassState, Speed, Trouble, View,
};
use crate::reading::LengthUnit;
use crate::words as texts;
use crate::words::page as words;
use serde::Serialize;
use trundle_core::session::presses::{Due, End};
use trundle_protocol::units::Channel;

/// Style sheet of the page.
pub const STYLE: &str = include_str!("page.css");
/// Script of the page.
pub const SCRIPT: &str = include_str!("page.js");

/// Ends of the strip, in thousandths of the course: a tractor a little outside is still shown.
const STRIP: (f64, f64) = (-100.0, 1100.0);
/// Lines said that are shown.
const SAID: usize = 6;

/// What the page shows at one moment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// The person's time of day.
    pub at: String,
    /// Host time of the look, nanoseconds: how old a picture is.
    pub host_ns: u64,
    /// The tractor is a simulated one.
    pub practice: bool,
    /// The next thing to do.
    pub next: String,
    /// The step, as a word for programs.
    pub step: NextStep,
    /// The value that is shown large.
    pub main: Value,
    /// The three speeds, those that are there.
    pub speeds: Vec<Value>,
    /// The speeds on the implement bus, where it is listened to.
    pub bus: Vec<Value>,
    /// The ports of board and receiver, and of the bus adapter where there is one.
    pub links: Vec<LabelledLine>,
    /// Where on the course.
    pub strip: Strip,
    /// The button that marks the start.
    pub start: Button,
    /// The button that marks the end.
    pub finish: Button,
    /// Undo the last mark.
    pub undo: Button,
    /// Reject the last pass.
    pub reject: Button,
    /// Every pass begun, the last one first.
    pub passes: Vec<PassLine>,
    /// Values of the sensors so far.
    pub figures: Vec<LabelledLine>,
    /// How far each value is from the uncertainty wanted.
    pub onward: Vec<Onward>,
    /// Seconds for which the tractor is still to stand, where it stands beside a peg.
    pub stand_s: Option<u32>,
    /// The map of course and passes, once there is one.
    pub course: Option<course::CoursePart>,
    /// The last mark that stands.
    pub last_mark: String,
    /// What is wrong now.
    pub troubles: Vec<Finding>,
    /// What was said last, the newest first.
    pub said: Vec<String>,
    /// What was said in full, the oldest first, where the job shows that.
    pub lines: Vec<String>,
    /// What a slip log shows beside.
    pub slip: Option<slip::SlipPart>,
    /// What the job looks at, each with how it stands.
    pub checks: Vec<listed::CheckRow>,
    /// The newest drawing, where the job draws.
    pub picture: Option<listed::Picture>,
    /// What the page of this job is for: a page for another job begins again.
    pub kind: document::PageKind,
    /// What finishing would end, in words.
    pub ending: String,
    /// The job is over: what is to be known then.
    pub over: Option<String>,
}

/// A value with its name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Value {
    /// What it is, as a label.
    pub label: String,
    /// The value itself, without unit.
    pub value: String,
    /// Its unit, empty for none.
    pub unit: &'static str,
    /// It is old: since when.
    pub stale: Option<String>,
}

/// A line with its name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LabelledLine {
    /// What it is, as a label.
    pub label: String,
    /// The same in words for people.
    pub words: String,
    /// It needs a look.
    pub beware: bool,
}

/// How far a value is from the uncertainty wanted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Onward {
    /// Which sensor, as a label.
    pub label: String,
    /// The same in words for people.
    pub words: String,
    /// The numbers.
    pub further: FurtherRow,
}

/// Where on the course.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Strip {
    /// Thousandths of the course behind the tractor; `None` where it is not known.
    pub at: Option<i32>,
    /// The same in words for people.
    pub words: String,
    /// The place is old.
    pub stale: bool,
}

/// A button of the page.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Button {
    /// It can be pressed.
    pub on: bool,
    /// What stands on the button.
    pub words: String,
    /// Which pass it means.
    pub number: u32,
    /// Which end of it.
    pub end: Option<End>,
}

/// A pass, as it is shown.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PassLine {
    /// Number of the pass, from 1.
    pub number: u32,
    /// Direction: `out` or `back`, where known.
    pub way: &'static str,
    /// A sign for how it stands: a shape, never colour alone.
    pub sign: &'static str,
    /// How it stands, in words.
    pub state: &'static str,
    /// Impulses and value.
    pub values: String,
    /// Warnings about this pass.
    pub why: Vec<Finding>,
}

/// What the page shows of a view.
#[must_use]
pub fn shown(view: &View) -> Shown {
    let finish = view.due.end == End::Finish;
    let undo = view.undo.map_or_else(
        || Button { on: false, words: words::NO_UNDO.to_owned(), number: 0, end: None },
        |due| button(!view.waiting, words::undo(due), due),
    );
    let next_start = Due { number: view.last_pass.map_or(1, |n| n + 1), end: End::Start };
    let start = if finish { next_start } else { view.due };
    let end = Due { number: view.open.as_ref().map_or(start.number, |o| o.number), ..view.due };
    let end = Due { end: End::Finish, ..end };
    let failed = view.next.step == NextStep::Stop;
    Shown {
        start: button(!finish && !failed, words::mark(start), start),
        finish: button(finish && !failed, words::mark(end), end),
        undo,
        reject: Button {
            on: view.last_pass.is_some() && !failed,
            words: words::reject(view.last_pass),
            number: view.last_pass.unwrap_or(0),
            end: None,
        },
        ending: words::ending(view.open.as_ref().map(|open| open.number), view.passes.len()),
        ..base(view)
    }
}

/// What every job shows; no button can be pressed.
fn base(view: &View) -> Shown {
    let off = || Button { on: false, words: String::new(), number: 0, end: None };
    Shown {
        at: view.at.clone(),
        host_ns: view.host_ns,
        practice: view.practice,
        next: view.next.words.clone(),
        step: view.next.step,
        main: main_value(view),
        speeds: speeds(view),
        bus: bus(view),
        links: links(view),
        strip: strip(view),
        start: off(),
        finish: off(),
        undo: off(),
        reject: off(),
        passes: view.passes.iter().rev().map(|row| pass_line(row, channel(view))).collect(),
        figures: figures(view),
        onward: course::onward(view),
        stand_s: view.next.stand_s,
        course: None,
        last_mark: view.last_mark.as_ref().map_or_else(String::new, |mark| mark.words.clone()),
        troubles: view.troubles.iter().map(trouble).collect(),
        said: view
            .said
            .iter()
            .rev()
            .take(SAID)
            .map(|said| format!("{} {}", said.at, said.words))
            .collect(),
        lines: Vec::new(),
        slip: None,
        checks: Vec::new(),
        picture: None,
        kind: document::PageKind::Said,
        ending: String::new(),
        over: None,
    }
}

const fn button(on: bool, words: String, due: Due) -> Button {
    Button { on, words, number: due.number, end: Some(due.end) }
}

/// The channel whose count is shown large.
const fn channel(view: &View) -> Channel {
    if view.speeds.wheel.present { Channel::Wheel } else { Channel::Radar }
}

/// Impulses of the open pass, or of the last one.
fn main_value(view: &View) -> Value {
    let channel = channel(view);
    let name = channel.name();
    let since = view.board.since.clone();
    let old = |stale: bool| stale.then(|| since.unwrap_or_default());
    if let Some(open) = &view.open {
        let value = open.impulses[channel.index()].map_or_else(none, |count| count.to_string());
        let label = words::impulses_of(name, open.number);
        return Value { label, value, unit: words::IMPULSES, stale: old(open.stale) };
    }
    let last = view.passes.last();
    let value = last.and_then(|row| row.impulses[channel.index()]);
    Value {
        label: last
            .map_or_else(|| words::no_pass(name), |row| words::impulses_of(name, row.number)),
        value: value.map_or_else(none, |value| format!("{value:.1}")),
        unit: words::IMPULSES,
        stale: None,
    }
}

fn none() -> String {
    "-".to_owned()
}

fn speeds(view: &View) -> Vec<Value> {
    let receiver_since = view.receiver.as_ref().and_then(|link| link.since.clone());
    let all = [
        (texts::WHEEL, view.speeds.wheel, view.board.since.clone()),
        (texts::RADAR, view.speeds.radar, view.board.since.clone()),
        (texts::SATELLITE, view.speeds.satellite, receiver_since),
    ];
    let there = all.into_iter().filter(|(_, speed, _)| speed.present);
    there.map(|(name, speed, since)| speed_value(words::speed_by(name), speed, since)).collect()
}

fn bus(view: &View) -> Vec<Value> {
    let rows = view.bus.iter().flat_map(|bus| &bus.speeds);
    let value = |row: &BusSpeedRow| {
        speed_value(words::bus_speed(&row.name), row.speed, Some(row.since.clone()))
    };
    rows.map(value).collect()
}

fn speed_value(label: String, speed: Speed, since: Option<String>) -> Value {
    let (value, unit) = match (speed.km_h, speed.impulses_per_s) {
        (Some(km_h), _) if speed.provisional => (format!("{km_h:.1}"), words::KM_H_PROVISIONAL),
        (Some(km_h), _) => (format!("{km_h:.1}"), words::KM_H),
        (None, Some(rate)) => (format!("{rate:.0}"), words::PER_S),
        (None, None) => (none(), ""),
    };
    let shows = !unit.is_empty();
    let stale = (speed.stale && shows).then(|| since.unwrap_or_default());
    Value { label, value, unit, stale }
}

fn links(view: &View) -> Vec<LabelledLine> {
    let line = |label: &str, link: &crate::model::Link| LabelledLine {
        label: label.to_owned(),
        words: match link.state {
            LinkState::Live => texts::link_live(link),
            _ => link.words.clone(),
        },
        beware: link.state != LinkState::Live,
    };
    let without = || LabelledLine {
        label: texts::LABEL_RECEIVER.to_owned(),
        words: texts::NO_RECEIVER.to_owned(),
        beware: false,
    };
    let receiver = view.receiver.as_ref();
    let bus = view.bus.as_ref().map(|bus| line(texts::LABEL_BUS, &bus.link));
    let receiver = receiver.map_or_else(without, |link| line(texts::LABEL_RECEIVER, link));
    [line(texts::LABEL_BOARD, &view.board), receiver].into_iter().chain(bus).collect()
}

fn strip(view: &View) -> Strip {
    let Some(open) = &view.open else {
        return Strip { at: None, words: words::STRIP_CLOSED.to_owned(), stale: false };
    };
    let Some(place) = open.place else {
        return Strip { at: None, words: words::STRIP_UNKNOWN.to_owned(), stale: false };
    };
    let at = place.to_far_peg_m.and_then(|to_m| {
        let course_m = place.from_start_m + to_m;
        let share = 1000.0 * place.from_start_m / course_m;
        share.is_finite().then(|| share.clamp(STRIP.0, STRIP.1).round() as i32)
    });
    Strip { at, words: texts::place(&place, false, LengthUnit::Metres), stale: place.stale }
}

fn trouble(trouble: &Trouble) -> Finding {
    Finding { words: texts::trouble(trouble), entry: trouble.entry.clone() }
}

fn pass_line(row: &PassRow, channel: Channel) -> PassLine {
    let n = channel.index();
    PassLine {
        number: row.number,
        way: row.way.unwrap_or("-"),
        sign: words::sign(row.state),
        state: texts::pass_state(row.state),
        values: words::pass_values(channel.name(), row.impulses[n], row.figure[n]),
        // A reason is of use where something is to be done about it.
        why: if row.state == PassState::Valid { Vec::new() } else { row.why.clone() },
    }
}

fn figures(view: &View) -> Vec<LabelledLine> {
    let line = |row: &crate::model::FigureRow| LabelledLine {
        label: words::figure_of(row.channel),
        words: row.enter.map_or_else(|| words::NO_FIGURE.to_owned(), |_| texts::figure(row, false)),
        beware: row.enter.is_none() && !view.passes.is_empty(),
    };
    view.figures.iter().map(line).collect()
}
