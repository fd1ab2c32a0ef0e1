//! What the implement bus has shown so far, against the satellites.

use super::{CheckRow, How, Shown, View, answer, listed, measured, satellite};
use crate::text::bus as text;
use trundle_core::survey::bus::{BusStream, BusSurvey, KeyedIn};

/// One speed of one control unit.
#[must_use]
pub fn bus_row(stream: &BusStream, keyed: &KeyedIn) -> CheckRow {
    let label = text::name(stream.key);
    match text::seen(stream, keyed) {
        (Ok(words), next) => CheckRow::new(How::Good, measured::SEEN, &label, words, next),
        (Err(why), next) => {
            CheckRow::new(How::Missing, measured::MISSING, &label, format!("{why}."), next)
        }
    }
}

/// What the bus has shown so far.
#[must_use]
pub fn shown_bus(view: &View, survey: Option<&BusSurvey>) -> Shown {
    let keyed = KeyedIn::default();
    let streams = survey.map_or(&[] as &[BusStream], |survey| &survey.streams);
    let rows: Vec<CheckRow> = streams.iter().map(|stream| bus_row(stream, &keyed)).collect();
    let open = rows.iter().any(|row| !row.done);
    let next = if open || rows.is_empty() { measured::BUS_DRIVE } else { measured::BUS_ALL };
    let figures = survey.map(|survey| answer(measured::BUS, text::handed_on(survey), false));
    Shown { figures: figures.into_iter().collect(), ..listed(view, next, satellite(view), rows) }
}
