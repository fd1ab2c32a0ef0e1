//! The step that is due: a function of how the job stands.

use crate::model::{Next, NextStep, OpenPass, PassRow, PassState};
use crate::words as texts;
use trundle_core::figure::PASSES_GOOD;
use trundle_core::session::presses::{End, Marked};

/// This near the far peg the driver is shown to stop beside it, metres: five seconds at walking
/// pace; common practice, no source.
const NEAR_M: f64 = 10.0;
/// This far behind the far peg it was missed, metres: more than a standalone receiver's slow
/// error, so that nobody is shown wrongly; common practice, no source.
const BEHIND_M: f64 = 8.0;
/// The tractor is to stand this long after a finish, seconds: the rest beside the peg, from which
/// count and position are taken, has to be stated from a slow roll.
const REST_S: f64 = 3.0;

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
    /// Every channel has a value to enter.
    pub figures: bool,
}

/// The step that is due.
pub fn next(facts: &Facts<'_>) -> Next {
    let (step, words) = step(facts);
    Next { step, words }
}

fn step(facts: &Facts<'_>) -> (NextStep, String) {
    if facts.failed {
        return (NextStep::Stop, texts::STEP_STOP.to_owned());
    }
    if facts.waiting {
        return (NextStep::Wait, texts::STEP_WAIT.to_owned());
    }
    if let Some(open) = facts.open {
        return drive(open);
    }
    if let Some((marked, age_s)) = facts.last
        && marked.due.end == End::Finish
        && age_s < REST_S
    {
        return (NextStep::StandStill, texts::STEP_STAND.to_owned());
    }
    if let Some(reason) = facts.against_start.first() {
        return (NextStep::MakeReady, reason.clone());
    }
    between(facts)
}

fn drive(open: &OpenPass) -> (NextStep, String) {
    let place = open.place.filter(|place| !place.stale);
    let Some(to_m) = place.and_then(|place| place.to_far_peg_m) else {
        return (NextStep::Drive, texts::step_drive(open.number, None));
    };
    if to_m < -BEHIND_M {
        (NextStep::BehindPeg, texts::step_behind(open.number, -to_m))
    } else if to_m < NEAR_M {
        (NextStep::StopAtPeg, texts::step_stop(open.number))
    } else {
        (NextStep::Drive, texts::step_drive(open.number, Some(to_m)))
    }
}

fn between(facts: &Facts<'_>) -> (NextStep, String) {
    let Some(last) = facts.passes.last() else {
        return (NextStep::MarkStart, texts::STEP_FIRST.to_owned());
    };
    let number = last.number + 1;
    if last.state == PassState::Refused {
        return (NextStep::MarkStart, texts::step_again(last.number));
    }
    let used = |row: &&PassRow| row.state != PassState::Refused;
    let good = facts.passes.iter().filter(used).count();
    let settled = facts.passes.iter().all(|row| row.state != PassState::Settling);
    // One way more than the other leaves the slope of the course in the value.
    if good >= PASSES_GOOD && good.is_multiple_of(2) && settled && facts.figures {
        return (NextStep::Enough, texts::step_enough(good));
    }
    (NextStep::Turn, texts::step_turn(number))
}
