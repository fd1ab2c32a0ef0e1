//! Shaft speeds read off the tractor's display, and what became of each.

use super::super::words::PER_S;
use super::{CheckRow, How, Shown, Value, View, answer, listed, measured};
use crate::model::LinkState;
use crate::text::pto as text;
use trundle_core::survey::pto::{Pto, Reading};

/// One reading and what became of it.
#[must_use]
pub fn pto_row(number: usize, reading: &Reading) -> CheckRow {
    let label = measured::reading(number, reading.shown_rpm);
    match reading.rate {
        Ok(rate) => {
            let per_rev = rate.rate_hz / (reading.shown_rpm / 60.0);
            let seen = measured::shaft_rate(rate.rate_hz, per_rev);
            CheckRow::new(How::Good, measured::USED, &label, seen, "")
        }
        Err(why) => {
            let next = measured::READ_AGAIN;
            CheckRow::new(How::Bad, measured::NOT_USED, &label, format!("{why}."), next)
        }
    }
}

/// What the readings show; `rate_hz`: impulses of the shaft a second now.
#[must_use]
pub fn shown_pto(view: &View, pto: Option<&Pto>, rate_hz: Option<f64>) -> Shown {
    let readings = pto.map_or(&[] as &[Reading], |pto| &pto.readings);
    let rows = readings.iter().enumerate().map(|(n, reading)| pto_row(n + 1, reading));
    let used = readings.iter().filter(|reading| reading.rate.is_ok()).count();
    let next = match used {
        0 => measured::PTO_FIRST,
        1 => measured::PTO_SECOND,
        _ => measured::PTO_MORE,
    };
    let stale = (view.board.state != LinkState::Live && rate_hz.is_some())
        .then(|| view.board.since.clone().unwrap_or_default());
    let main = Value {
        label: measured::SHAFT.to_owned(),
        value: rate_hz.map_or_else(|| "-".to_owned(), |rate_hz| format!("{rate_hz:.1}")),
        unit: PER_S,
        stale,
    };
    let figures = pto.into_iter().flat_map(|pto| {
        let beware = pto.found.as_ref().is_ok_and(|found| found.to_enter().is_none());
        text::answers(pto).into_iter().map(move |words| answer(measured::PTO, words, beware))
    });
    let rows = rows.rev().collect();
    // No ground is driven.
    Shown { figures: figures.collect(), speeds: Vec::new(), ..listed(view, next, main, rows) }
}
