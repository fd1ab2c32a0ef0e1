//! The check on the tractor and on the bench, line by line as it stands.

use super::{CheckRow, How, Shown, Value, View, listed, measured, satellite};
use crate::phrases::plain::sentence_case;
use trundle_core::survey::bench::Bench;
use trundle_core::survey::sensors::check::{Check, CheckLine, Mark};

/// A line of the check.
#[must_use]
pub fn check_row(line: &CheckLine) -> CheckRow {
    let (how, state) = match line.mark {
        Mark::Pass => (How::Good, measured::PASS),
        Mark::Fail => (How::Bad, measured::FAIL),
        Mark::NotSeen if line.optional => (How::Missing, measured::NOT_TESTED_OPTIONAL),
        Mark::NotSeen => (How::Missing, measured::NOT_TESTED),
    };
    CheckRow::new(how, state, &sentence_case(line.title), line.what.clone(), &line.next)
}

/// What a check shows.
#[must_use]
pub fn shown_check(view: &View, check: Option<&Check>) -> Shown {
    let lines = check.map_or(&[] as &[CheckLine], |check| &check.lines);
    let open = lines.iter().find(|line| line.mark == Mark::NotSeen && !line.optional);
    let next = match (check, open) {
        (None, _) => measured::CHECK_BEGINS.to_owned(),
        (Some(_), Some(line)) => measured::next_of(&sentence_case(line.title), &line.next),
        (Some(_), None) => measured::CHECK_ALL.to_owned(),
    };
    listed(view, &next, satellite(view), lines.iter().map(check_row).collect())
}

/// What a check on the bench shows; `asked` is what was asked of the person last.
#[must_use]
pub fn shown_bench(view: &View, bench: Option<&Bench>, asked: &str) -> Shown {
    let lines = bench.map_or(&[] as &[CheckLine], |bench| &bench.lines);
    let judged = lines.iter().filter(|line| line.mark != Mark::NotSeen).count();
    let next = if asked.is_empty() { measured::BENCH_BEGINS } else { asked };
    let main = Value {
        label: measured::BENCH_JUDGED.to_owned(),
        value: judged.to_string(),
        unit: measured::BENCH_UNIT,
        stale: None,
    };
    Shown {
        // Nothing moves on a bench.
        speeds: Vec::new(),
        ..listed(view, next, main, lines.iter().map(check_row).collect())
    }
}
