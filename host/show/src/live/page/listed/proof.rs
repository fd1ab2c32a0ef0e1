//! A proof drive: what is due at this peg, what became of the readings, and what they say so far.

use super::super::{LabelledLine, Shown, shown};
use super::{CheckRow, How, answer, measured};
use crate::model::{NextStep, View};
use crate::phrases::plain::sentence_case;
use crate::phrases::proof as phrases;
use trundle_core::survey::proof::{PassReading, Proof};

/// What a proof drive shows.
#[must_use]
pub fn shown_proof(view: &View, proof: Option<&Proof>) -> Shown {
    let mut shown = shown(view);
    if let Some(words) = due(view, proof) {
        shown.next = words;
    }
    if let Some(proof) = proof {
        shown.figures = so_far(proof);
        shown.checks = proof.passes.iter().rev().map(proof_row).collect();
    }
    shown
}

/// After a mark the reading of that peg is due, where nothing else is in the way.
fn due(view: &View, proof: Option<&Proof>) -> Option<String> {
    let in_way = matches!(view.next.step, NextStep::Stop | NextStep::Wait | NextStep::MakeReady);
    let on_bus = view.bus.as_ref().is_some_and(|bus| !bus.speeds.is_empty());
    let last = view.passes.last()?;
    if in_way || on_bus {
        return None;
    }
    let read = proof.and_then(|proof| proof.passes.iter().find(|one| one.number == last.number));
    let (start, end) = read.map_or((None, None), |one| (one.start_m, one.finish_m));
    match view.open {
        Some(_) if start.is_none() => Some(measured::proof_read(last.number, measured::AT_START)),
        None if end.is_none() && start.is_some() => {
            Some(measured::proof_read(last.number, measured::AT_END))
        }
        _ => None,
    }
}

fn so_far(proof: &Proof) -> Vec<LabelledLine> {
    let mut lines = vec![answer(measured::TYPED, measured::readings(proof.typed), false)];
    match &proof.judged {
        Ok(judged) => {
            let beware = judged.taken != trundle_core::survey::proof::Taken::Took;
            lines.push(answer(measured::SO_FAR, phrases::answer(judged, &proof.known), beware));
            lines.push(answer(measured::NEXT, next(&phrases::next(judged, &proof.known)), false));
        }
        Err(why) => {
            lines.push(answer(measured::SO_FAR, measured::sentence(&why.to_string()), true));
            lines.push(answer(measured::NEXT, next(why.next()), false));
        }
    }
    let unused = proof.speeds.iter().filter_map(|one| one.run.err());
    lines.extend(
        unused.map(|why| answer(measured::NOT_USED, measured::sentence(&why.to_string()), true)),
    );
    lines.extend(
        proof.astray.iter().map(|typed| answer(measured::NOT_USED, measured::astray(typed), true)),
    );
    lines
}

/// What to do, below a label that says so already.
fn next(words: &str) -> String {
    sentence_case(words.trim_start_matches("Next: "))
}

/// What was read of one pass, and what became of it.
#[must_use]
pub fn proof_row(pass: &PassReading) -> CheckRow {
    let label = measured::pass(pass.number);
    let read = measured::read_at(pass.start_m, pass.finish_m);
    match pass.shown {
        Ok(shown) => {
            let seen = measured::shown_distance(&read, shown.shown_m, shown.satellite_m);
            CheckRow::new(How::Good, measured::USED, &label, seen, "")
        }
        Err(why) => {
            CheckRow::new(How::Missing, measured::MISSING, &label, format!("{read} {why}."), "")
        }
    }
}
