//! The parts of the screen, each as rows.

use super::Scene;
use super::lines::{Ink, LABEL, TextRow, beside, wrapped};
use crate::live::keys::Open;
use crate::model::{
    CoursePosition, FigureRow, Link, LinkState, OpenPass, PassRow, PassState, Speed, View,
};
use crate::reading::LengthUnit;
use crate::words as texts;
use crate::words::under_way;
use ratatui_core::style::Style;
use trundle_protocol::units::Channel;

/// Columns of a number in the table of passes.
const NUMBER: usize = 12;
/// Fewer columns than this call for shorter words.
const NARROW: usize = 60;
/// Columns of the picture of the course.
const PICTURE: usize = 21;

/// Board and receiver.
pub fn links(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    let mut rows = link(texts::LABEL_BOARD, &view.board, width, ink);
    match &view.receiver {
        Some(receiver) => rows.extend(link(texts::LABEL_RECEIVER, receiver, width, ink)),
        None => {
            rows.extend(ink.wrapped(texts::LABEL_RECEIVER, texts::NO_RECEIVER, width, ink.plain()));
        }
    }
    rows
}

fn link(label: &str, link: &Link, width: usize, ink: Ink) -> Vec<TextRow> {
    let (words, style) = link_words(link, ink);
    ink.wrapped(label, &words, width, style)
}

fn link_words(link: &Link, ink: Ink) -> (String, Style) {
    match link.state {
        LinkState::Live => (texts::link_live(link), ink.well()),
        LinkState::Nothing => (link.words.clone(), ink.unreliable()),
        LinkState::Stale | LinkState::Gone => (link.words.clone(), ink.wrong()),
    }
}

/// The three speeds; stale ones in reversed writing and called so.
pub fn speeds(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    let named = [
        (texts::WHEEL, view.speeds.wheel),
        (texts::RADAR, view.speeds.radar),
        (texts::SATELLITE, view.speeds.satellite),
    ];
    let parts = named.into_iter().filter(|(_, speed)| speed.present).map(|(name, speed)| {
        let style = if is_old(&speed) { ink.wrong() } else { ink.plain() };
        vec![(ink.say(&texts::speed(name, &speed)), style)]
    });
    flow(&ink.say(texts::LABEL_SPEED), labelled(width), parts, width)
}

/// The speeds on the bus beside them; none where no bus is listened to.
pub fn bus(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    let Some(bus) = &view.bus else { return Vec::new() };
    let dead = (bus.link.state != LinkState::Live).then(|| {
        let (words, style) = link_words(&bus.link, ink);
        vec![(ink.say(&words), style)]
    });
    let speeds = bus.speeds.iter().map(|row| {
        let style = if is_old(&row.speed) { ink.wrong() } else { ink.plain() };
        vec![(ink.say(&texts::speed(&row.name, &row.speed)), style)]
    });
    flow(&ink.say(texts::LABEL_BUS), labelled(width), dead.into_iter().chain(speeds), width)
}

const fn is_old(speed: &Speed) -> bool {
    speed.stale && (speed.km_h.is_some() || speed.impulses_per_s.is_some())
}

/// Parts one behind the other with this gap, in as many rows as it takes, behind a label as wide
/// as the indent.
fn flow(
    label: &str,
    (indent, gap): (usize, usize),
    parts: impl Iterator<Item = Vec<(String, Style)>>,
    width: usize,
) -> Vec<TextRow> {
    let mut rows: Vec<TextRow> = Vec::new();
    let mut column = width;
    for words in parts {
        let wide = words.iter().map(|(text, _)| text.chars().count()).sum::<usize>();
        if column + gap + wide > width {
            let label = if rows.is_empty() { label } else { "" };
            let label = beside(label, indent);
            column = label.chars().count();
            rows.push(TextRow::of(label, Style::new()));
        } else if let Some(row) = rows.last_mut() {
            row.words.push((" ".repeat(gap), Style::new()));
            column += gap;
        }
        if let Some(row) = rows.last_mut() {
            row.words.extend(words);
        }
        column += wide;
    }
    rows
}

/// Column and gap of parts behind a label.
const fn labelled(width: usize) -> (usize, usize) {
    (LABEL, if width < NARROW { 1 } else { 3 })
}

/// The open pass and where on the course it is.
pub fn open_pass(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    let Some(open) = &view.open else { return Vec::new() };
    let style = if open.stale { ink.wrong() } else { ink.bold() };
    let mut parts = vec![(ink.say(&texts::open_for(open.for_s)), ink.plain())];
    parts.extend(counts(open).into_iter().map(|text| (ink.say(&text), style)));
    if open.stale {
        parts.push((ink.say(texts::STALE), ink.wrong()));
    }
    let parts = parts.into_iter().map(|part| vec![part]);
    let mut rows = flow(&ink.say(&texts::label_pass(open.number)), labelled(width), parts, width);
    if let Some(place) = &open.place {
        let style = if place.stale { ink.wrong() } else { ink.plain() };
        let mut words = ink.say(&texts::place(place, width < NARROW, LengthUnit::Metres));
        if let Some(picture) = picture(place)
            && LABEL + PICTURE + 2 + words.chars().count() <= width
        {
            words = format!("{picture}  {words}");
        }
        rows.extend(wrapped(&ink.say(texts::LABEL_COURSE), &words, width, style));
    }
    rows
}

fn counts(open: &OpenPass) -> Vec<String> {
    let named = Channel::ALL.iter().zip(open.impulses);
    named.filter_map(|(channel, count)| Some(format!("{} {}", channel.name(), count?))).collect()
}

/// The course from peg to peg, and the tractor on it.
fn picture(place: &CoursePosition) -> Option<String> {
    let whole_m = place.from_start_m + place.to_far_peg_m?;
    let inside = PICTURE - 2;
    let share = (place.from_start_m / whole_m).clamp(0.0, 1.0);
    let at = (share * (inside - 1) as f64).round() as usize;
    let bar: String = (0..inside)
        .map(|n| match n.cmp(&at) {
            std::cmp::Ordering::Less => '=',
            std::cmp::Ordering::Equal => '>',
            std::cmp::Ordering::Greater => '.',
        })
        .collect();
    Some(format!("|{bar}|"))
}

/// The values so far.
pub fn figures(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    if view.figures.is_empty() {
        return ink.wrapped(texts::LABEL_FIGURE, texts::NO_FIGURE_YET, width, ink.plain());
    }
    let row = |row: &FigureRow| {
        let style = if row.enter.is_some() { ink.bold() } else { ink.plain() };
        let mut rows = ink.wrapped(row.channel, &texts::figure(row, width < NARROW), width, style);
        if let Some(further) = &row.further {
            let words = under_way::further(further, width < NARROW);
            rows.extend(ink.wrapped("", &words, width, ink.plain()));
        }
        rows
    };
    view.figures.iter().flat_map(row).collect()
}

/// Columns before the state of a pass.
const BEFORE_STATE: usize = 12;

/// The table of passes: its head, and a row for each.
pub fn passes(view: &View, width: usize, ink: Ink) -> (Vec<TextRow>, Vec<TextRow>) {
    if view.passes.is_empty() {
        return (Vec::new(), Vec::new());
    }
    let mut head = ink.say(texts::PASS_HEAD);
    let states = view.passes.iter().map(|pass| ink.say(texts::pass_state(pass.state)));
    let longest = states.map(|state| state.chars().count()).max().unwrap_or(0);
    let before = head.chars().count().max(BEFORE_STATE + longest + 1);
    head = format!("{head:<before$}");
    let room = width.saturating_sub(before) / NUMBER;
    let present: Vec<usize> = view.figures.iter().map(|row| row.channel_index).collect();
    // What is nearest to the answer comes first where not all fits.
    let figures = present.iter().map(|n| (*n, true));
    let columns: Vec<(usize, bool)> =
        figures.chain(present.iter().map(|n| (*n, false))).take(room).collect();
    for (channel, figure) in &columns {
        let name = Channel::ALL[*channel].name();
        let name = if *figure { texts::per_100_m(name) } else { texts::count_of(name) };
        head.push_str(&format!("{:>NUMBER$}", ink.say(&name)));
    }
    let rows = view.passes.iter().map(|pass| pass_row(pass, &columns, before, ink));
    (vec![TextRow::of(head, ink.bold())], rows.collect())
}

/// A row of the table, whose numbers begin at this column.
fn pass_row(pass: &PassRow, columns: &[(usize, bool)], numbers_at: usize, ink: Ink) -> TextRow {
    let way = pass.way.unwrap_or("-");
    let before = format!("{:>4}  {:<5} ", pass.number, ink.say(way));
    let style = match pass.state {
        PassState::Valid => ink.well(),
        PassState::Flagged => ink.unreliable(),
        PassState::Refused => ink.wrong(),
        PassState::Open | PassState::Settling => ink.plain(),
    };
    let room = numbers_at.saturating_sub(before.chars().count());
    let mut row = TextRow::of(before, ink.plain());
    let state = ink.say(texts::pass_state(pass.state));
    let columns_of_state = state.chars().count();
    row.words.push((state, style));
    let gap = room.saturating_sub(columns_of_state);
    let mut numbers = " ".repeat(gap);
    for (channel, figure) in columns {
        let value = if *figure { pass.figure[*channel] } else { pass.impulses[*channel] };
        let text = value.map_or_else(|| "-".to_owned(), |value| ink.say(&format!("{value:.1}")));
        numbers.push_str(&format!("{text:>NUMBER$}"));
    }
    row.words.push((numbers, ink.plain()));
    row
}

/// What is wrong.
pub fn troubles(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    let one = |trouble: &crate::model::Trouble| {
        ink.wrapped("", &texts::trouble(trouble), width, ink.wrong())
    };
    view.troubles.iter().flat_map(one).collect()
}

/// What was said last.
pub fn said(view: &View, width: usize, ink: Ink) -> Vec<TextRow> {
    let one = |said: &crate::model::Message| {
        ink.wrapped("", &format!("{} {}", said.at, said.words), width, ink.plain())
    };
    view.said.iter().flat_map(one).collect()
}

/// The keys, or what is being asked.
pub fn keys(scene: &Scene<'_>, width: usize, ink: Ink) -> Vec<TextRow> {
    let asked = match scene.open {
        Open::Note(text) => texts::ask_note(text),
        Open::Condition(at, text) => texts::ask_condition(*at, text),
        Open::Reject(number, text) => texts::ask_reject(*number, text),
        Open::Finish => texts::ASK_FINISH.to_owned(),
        Open::Job | Open::Before(..) | Open::Reading(..) => return key_rows(scene, width, ink),
    };
    ink.wrapped("", &asked, width, ink.reversed())
}

fn key_rows(scene: &Scene<'_>, width: usize, ink: Ink) -> Vec<TextRow> {
    let keys = texts::keys(scene.view, scene.sections.is_none()).into_iter();
    let parts = keys.map(|(key, words)| {
        vec![
            (format!(" {} ", ink.say(key)), ink.reversed()),
            (format!(" {}", ink.say(&words)), ink.plain()),
        ]
    });
    flow("", (0, 2), parts, width)
}
