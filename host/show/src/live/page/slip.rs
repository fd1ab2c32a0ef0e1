//! What the page shows of a slip log: the slip of the last whole section large, totals, the newest
//! sections in words. The map comes beside it, as a drawing with a number that grows.

use super::{LabelledLine, Shown, Strip, Value, base, none, words};
use crate::model::{LinkState, NextStep, View};
use crate::phrases::slip::{FACTOR, section_line};
use serde::Serialize;
use trundle_core::survey::slip::{Section, Slip, SlipRefusal};

/// Newest sections stated in words.
const NEWEST: usize = 5;

/// What a slip log shows beside the rest.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct SlipPart {
    /// Distance and slip so far.
    pub totals: Vec<LabelledLine>,
    /// The newest sections, the newest first.
    pub sections: Vec<String>,
    /// Number of the map; 0: none yet.
    pub map: u64,
    /// The map in words.
    pub map_words: String,
}

/// What the page shows of a view and of the slip calculated last; `map` is the number of the newest
/// map, `mapped` the sections on it.
#[must_use]
pub fn shown_slip(
    view: &View,
    slip: Option<&Result<Slip, SlipRefusal>>,
    map: u64,
    mapped: usize,
) -> Shown {
    let worked = slip.and_then(|worked| worked.as_ref().ok());
    let next = match (view.next.step, slip) {
        (NextStep::Stop, _) => view.next.words.clone(),
        (_, Some(Err(refused))) => words::slip_waits(&refused.to_string(), refused.next()),
        (_, Some(Ok(_))) => words::SLIP_GOES_ON.to_owned(),
        (_, None) => words::SLIP_BEGINS.to_owned(),
    };
    Shown {
        next,
        main: main_value(view, worked),
        strip: Strip { at: None, words: String::new(), stale: false },
        passes: Vec::new(),
        figures: Vec::new(),
        onward: Vec::new(),
        stand_s: None,
        last_mark: String::new(),
        slip: worked.map(|slip| part(slip, map, mapped)).or_else(|| Some(SlipPart::default())),
        ending: words::END_SLIP.to_owned(),
        ..base(view)
    }
}

fn main_value(view: &View, slip: Option<&Slip>) -> Value {
    let dead = |state: LinkState| state != LinkState::Live;
    let receiver = view.receiver.as_ref();
    let since = if dead(view.board.state) {
        Some(view.board.since.clone())
    } else {
        receiver.filter(|link| dead(link.state)).map(|link| link.since.clone())
    };
    let unit = words::PERCENT;
    let Some(section) = slip.and_then(last_whole) else {
        return Value { label: words::SLIP_LAST.to_owned(), value: none(), unit, stale: None };
    };
    let half = 100.0 * FACTOR * section.standard_uncertainty;
    Value {
        label: words::slip_last(section.length_m, half),
        value: percent(section.slip),
        unit,
        stale: since.map(Option::unwrap_or_default),
    }
}

/// The last one still grows.
fn last_whole(slip: &Slip) -> Option<&Section> {
    let whole = slip.sections.len().checked_sub(2);
    whole.and_then(|at| slip.sections.get(at)).or_else(|| slip.sections.last())
}

fn part(slip: &Slip, map: u64, mapped: usize) -> SlipPart {
    let all = &slip.totals.all;
    let half = 100.0 * FACTOR * all.standard_uncertainty;
    let line =
        |label: &str, words: String| LabelledLine { label: label.to_owned(), words, beware: false };
    let mut totals = vec![
        line(words::DISTANCE, format!("{:.0} m", all.distance_m)),
        line(words::SLIP_ALL, format!("{} % \u{b1} {half:.1} %", percent(all.slip))),
    ];
    totals.extend(slip.share_above.iter().map(|above| {
        let share = 100.0 * above.share_of_distance;
        line(&words::above(100.0 * above.slip), format!("{share:.0} %"))
    }));
    let whole = slip.sections.len().saturating_sub(1);
    let newest = slip.sections.iter().take(whole).rev().take(NEWEST);
    SlipPart {
        totals,
        sections: newest.map(section_line).collect(),
        map,
        map_words: words::map_of(mapped, slip.sections.len()),
    }
}

/// Plus zero, so that no slip is not printed as "-0.0".
fn percent(slip: f64) -> String {
    format!("{:.1}", (1000.0 * slip).round() / 10.0 + 0.0)
}
