//! The step that is due: a function of how the job stands.

use super::standing::Stood;
use crate::model::{Next, NextStep, OpenPass, PassRow, PassState};
use crate::reading::LengthUnit;
use crate::words as texts;
use trundle_core::figure::PASSES_GOOD;
use trundle_core::passes::rest::{NEAR_S, REST_WANTED_S};
use trundle_core::session::presses::{End, Marked};

/// This near the far peg the driver is shown to stop beside it, metres: five seconds at walking
/// pace; common practice, no source.
const NEAR_M: f64 = 10.0;
/// This far behind the far peg it was missed, metres: more than a standalone receiver's slow
/// error, so that nobody is shown wrongly; common practice, no source.
const BEHIND_M: f64 = 8.0;
/// A tractor that has not moved for this long is called standing before a start, seconds: at a
/// crawl the impulses of a coarse wheel sensor come half a second apart.
const STANDS_S: f64 = 1.0;

/// How the job stands.
pub struct Facts<'a> {
    /// Nothing more is recorded.
    pub failed: bool,
    /// A press waits for the disk.
    pub waiting: bool,
    /// Reasons against a start.
    pub against_start: &'a [String],
    /// The pass that is open now.
    pub open: Option<&'a OpenPass>,
    /// Every pass begun.
    pub passes: &'a [PassRow],
    /// The last mark and its age in seconds.
    pub last: Option<(Marked, f64)>,
    /// How long the tractor has stood, as far as data show it.
    pub stood: Option<Stood>,
    /// Every channel has a value to enter.
    pub figures: bool,
}

/// The step that is due.
pub fn next(facts: &Facts<'_>) -> Next {
    let (step, words) = step(facts);
    // What is counted down is data too, for whoever draws it.
    let stand_s = counted(facts).map(|(_, left_s)| left_s).filter(|_| may_count(step));
    Next { step, words, stand_s }
}

fn step(facts: &Facts<'_>) -> (NextStep, String) {
    if facts.failed {
        return (NextStep::Stop, texts::STEP_STOP.to_owned());
    }
    if facts.waiting {
        return (NextStep::Wait, texts::STEP_WAIT.to_owned());
    }
    if let Some(open) = facts.open {
        return drive(open, LengthUnit::Metres);
    }
    if let Some(step) = behind_finish(facts) {
        return step;
    }
    if let Some(reason) = facts.against_start.first() {
        return (NextStep::MakeReady, reason.clone());
    }
    between(facts)
}

/// What to do on an open pass, with distances in this unit.
pub(super) fn drive(open: &OpenPass, unit: LengthUnit) -> (NextStep, String) {
    let place = open.place.filter(|place| !place.stale);
    let Some(to_m) = place.and_then(|place| place.to_far_peg_m) else {
        return (NextStep::Drive, texts::step_drive(open.number, None, unit));
    };
    if to_m < -BEHIND_M {
        (NextStep::BehindPeg, texts::step_behind(open.number, -to_m, unit))
    } else if to_m < NEAR_M {
        (NextStep::StopAtPeg, texts::step_stop(open.number))
    } else {
        (NextStep::Drive, texts::step_drive(open.number, Some(to_m), unit))
    }
}

/// What a standstill is for.
#[derive(Clone, Copy, PartialEq)]
enum Peg {
    /// The pass has just ended there.
    Finish,
    /// The next one may begin there.
    Start,
}

/// What is left of a standstill, seconds, and what it is for; `None` where nothing stands or none
/// is wanted.
fn counted(facts: &Facts<'_>) -> Option<(Peg, u32)> {
    if facts.open.is_some() {
        return None;
    }
    let stood = facts.stood?;
    let left_s = (REST_WANTED_S - stood.for_s).max(0.0).ceil() as u32;
    // A mark is given a moment before the stop as well: the rest that follows is that of the peg.
    let finish = facts.last.map(|last| last.0).filter(|marked| marked.due.end == End::Finish);
    let of_finish =
        |marked: Marked| stood.since_ns.saturating_sub(marked.host_ns) as f64 * 1e-9 <= NEAR_S;
    if finish.is_some_and(of_finish) {
        return Some((Peg::Finish, left_s));
    }
    (stood.for_s >= STANDS_S).then_some((Peg::Start, left_s))
}

/// The rest beside the far peg is measured too: stand until enough of it was seen.
fn behind_finish(facts: &Facts<'_>) -> Option<(NextStep, String)> {
    if let Some((Peg::Finish, left_s @ 1..)) = counted(facts) {
        return Some((NextStep::StandStill, texts::step_stand(left_s)));
    }
    // Nothing live shows whether it stands: the clock has to do.
    let (marked, age_s) = facts.last?;
    let blind = facts.stood.is_none() && age_s < REST_WANTED_S;
    (blind && marked.due.end == End::Finish)
        .then(|| (NextStep::StandStill, texts::STEP_STAND.to_owned()))
}

/// A start is due, wherever the tractor is: how long it is still to stand before it is marked.
fn before_start(number: u32, facts: &Facts<'_>) -> Option<(NextStep, String)> {
    match counted(facts) {
        // It may stand anywhere: nothing has moved since the job began.
        Some((Peg::Start, left_s)) if facts.stood.is_some_and(|stood| !stood.moved) => {
            Some((NextStep::MarkStart, texts::step_first(number, left_s)))
        }
        Some((Peg::Start, 0)) => Some((NextStep::MarkStart, texts::step_stood(number))),
        Some((Peg::Start, left_s)) => {
            Some((NextStep::StandStill, texts::step_stand_first(number, left_s)))
        }
        _ => None,
    }
}

/// Steps in which a countdown means anything.
const fn may_count(step: NextStep) -> bool {
    matches!(step, NextStep::StandStill | NextStep::MarkStart | NextStep::Turn | NextStep::Enough)
}

fn between(facts: &Facts<'_>) -> (NextStep, String) {
    let number = facts.passes.last().map_or(1, |last| last.number + 1);
    let used = |row: &&PassRow| row.state != PassState::Refused;
    let good = facts.passes.iter().filter(used).count();
    let settled = facts.passes.iter().all(|row| row.state != PassState::Settling);
    let refused = facts.passes.last().filter(|last| last.state == PassState::Refused);
    // One way more than the other leaves the slope of the course in the value.
    let paired = good >= PASSES_GOOD && good.is_multiple_of(2);
    if refused.is_none() && paired && settled && facts.figures {
        return (NextStep::Enough, texts::step_enough(good));
    }
    if let Some(step) = before_start(number, facts) {
        return step;
    }
    match (refused, number) {
        (Some(refused), _) => (NextStep::MarkStart, texts::step_again(refused.number)),
        (None, 1) => (NextStep::MarkStart, texts::STEP_FIRST.to_owned()),
        (None, _) => (NextStep::Turn, texts::step_turn(number)),
    }
}

#[cfg(test)]
mod tests;
