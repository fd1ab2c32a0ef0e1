//! The screen in the terminal: a [`View`] and what is open on it, drawn into a buffer of any
//! size. Meaning is in words, bold and reversed writing; colour only repeats it.

mod lines;
mod rows;

use super::keys::Open;
use crate::model::{NextStep, View};
use crate::tongue::Tongue;
use crate::words as texts;
use lines::{Ink, TextRow, put, wrapped};
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;

/// Fewer lines than this leave no room for blank ones.
const ROOMY: usize = 30;
/// Most lines of troubles where room is short; they stand before everything but the next step.
const TROUBLE_LINES: usize = 4;
/// Lines of what was said that are kept free for it.
const SAID_LINES: usize = 2;

/// Everything that is drawn at once.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The job that is shown.
    pub view: &'a View,
    /// What is open on it.
    pub open: &'a Open,
    /// Heading: the command.
    pub title: &'a str,
    /// Lines of a job without passes, the newest at the end; `None` for one with passes.
    pub sections: Option<&'a [String]>,
    /// Colours of the terminal's own sixteen may be used.
    pub colour: bool,
    /// The language of its words; texts to be read and lines of a job are in it already.
    pub tongue: Tongue,
}

/// Draw the scene over the whole of `buffer`.
pub fn draw(scene: &Scene<'_>, buffer: &mut Buffer) {
    let area = buffer.area;
    buffer.reset();
    let (width, height) = (usize::from(area.width), usize::from(area.height));
    let ink = Ink { colour: scene.colour, tongue: scene.tongue };
    let rows = match scene.open {
        Open::Before(text, top) => reading(text, *top, texts::KEYS_BEFORE, (width, height), ink),
        Open::Reading(text, top) => reading(text, *top, texts::KEYS_READING, (width, height), ink),
        _ => job(scene, (width, height), ink),
    };
    put(&rows, area, buffer);
}

/// A text to read, with its first line and the keys at the bottom.
fn reading(
    text: &str,
    top: usize,
    keys: &str,
    (width, height): (usize, usize),
    ink: Ink,
) -> Vec<TextRow> {
    let room = height.saturating_sub(1);
    let all: Vec<TextRow> =
        text.lines().flat_map(|line| wrapped("", line, width, ink.plain())).collect();
    let top = top.min(all.len().saturating_sub(room));
    let mut rows: Vec<TextRow> = all.into_iter().skip(top).take(room).collect();
    rows.resize_with(room, TextRow::default);
    rows.push(TextRow::bar(&ink.say(keys), "", width, ink));
    rows
}

/// The last line of a text that can be the first one shown, counted from 0 as broken for `area`.
#[must_use]
pub fn last_top(text: &str, area: Rect) -> usize {
    let ink = Ink { colour: false, tongue: Tongue::English };
    let width = usize::from(area.width);
    let all: usize = text.lines().map(|line| wrapped("", line, width, ink.plain()).len()).sum();
    all.saturating_sub(usize::from(area.height).saturating_sub(1))
}

fn job(scene: &Scene<'_>, (width, height): (usize, usize), ink: Ink) -> Vec<TextRow> {
    let view = scene.view;
    let practice = if view.practice { texts::PRACTICE } else { "" };
    let head = format!("{} {}", scene.title, ink.say(practice));
    let mut top = vec![TextRow::bar(&head, &view.at, width, ink)];
    let ready = !matches!(view.next.step, NextStep::MakeReady | NextStep::Stop);
    let without_passes = scene.sections.is_some() && ready;
    let next = if without_passes { texts::NEXT_SLIP } else { &view.next.words };
    top.extend(ink.wrapped(texts::LABEL_NEXT, next, width, ink.bold()));
    let keys = rows::keys(scene, width, ink);
    let mut fixed = rows::links(view, width, ink);
    fixed.extend(rows::speeds(view, width, ink));
    fixed.extend(rows::bus(view, width, ink));
    let (mut head_rows, mut list) = (Vec::new(), Vec::new());
    match scene.sections {
        None => {
            fixed.extend(rows::open_pass(view, width, ink));
            fixed.extend(rows::figures(view, width, ink));
            (head_rows, list) = rows::passes(view, width, ink);
        }
        Some(sections) => {
            list.extend(sections.iter().flat_map(|line| wrapped("", line, width, ink.plain())));
        }
    }
    let room = height.saturating_sub(top.len() + keys.len());
    let blank = height >= ROOMY;
    let most = if blank { room / 2 } else { TROUBLE_LINES };
    let troubles = cut(rows::troubles(view, width, ink), most, width, ink);
    let said = rows::said(view, width, ink);
    let gaps = if blank { 4 } else { 0 };
    let left = room.saturating_sub(troubles.len() + fixed.len() + head_rows.len() + gaps);
    let said_room = left.saturating_sub(list.len()).max(SAID_LINES.min(left / 2));
    let list_room = left - said_room;
    let mut rows = top;
    for block in [troubles, fixed, head_rows] {
        if blank && !block.is_empty() {
            rows.push(TextRow::default());
        }
        rows.extend(block);
    }
    let skip = list.len().saturating_sub(list_room);
    rows.extend(list.into_iter().skip(skip));
    if blank {
        rows.push(TextRow::default());
    }
    let skip = said.len().saturating_sub(said_room);
    rows.extend(said.into_iter().skip(skip));
    rows.truncate(height.saturating_sub(keys.len()));
    rows.resize_with(height.saturating_sub(keys.len()), TextRow::default);
    rows.extend(keys);
    rows
}

/// At most so many rows; what is cut is shown.
fn cut(mut rows: Vec<TextRow>, most: usize, width: usize, ink: Ink) -> Vec<TextRow> {
    if rows.len() > most {
        rows.truncate(most.saturating_sub(1));
        rows.extend(ink.wrapped("", texts::MORE, width, ink.plain()).into_iter().take(most.min(1)));
    }
    rows
}
