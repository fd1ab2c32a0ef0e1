//! From what was read to one line: did the value take.

use super::candidates::{Candidate, Cause, USELESS, candidates};
use super::cost::Cost;
use super::distance::PassReading;
use super::typed::ShownKind;
use super::{Evidence, FITS, Known};
use crate::figure::{COVERAGE, Work};
use crate::stats::budget::{BudgetLine, Expanded, Quantity, cover};

/// What is shown is called wrong where the truth lies outside the interval that holds it so often.
const OFF: f64 = 0.998;
/// Length of a usual pass, metres.
const PASS_M: f64 = 100.0;
/// Last step of a usual display of distance, metres.
const STEP_M: f64 = 0.1;

/// The answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// The value keyed in is in force, and what is shown is right.
    Took,
    /// The value keyed in is in force, and what is shown is wrong all the same.
    TookButOff,
    /// Something else is in force.
    DidNotTake,
    /// The readings do not show it.
    CannotTell,
}

impl Taken {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Took => "took",
            Self::TookButOff => "took_but_off",
            Self::DidNotTake => "did_not_take",
            Self::CannotTell => "cannot_tell",
        }
    }
}

/// What to drive so that it can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct More {
    /// One pass of at least this length, metres; or
    pub metres: f64,
    /// so many passes of the usual length.
    pub passes: u32,
}

/// What is to be looked at beside the answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Alarm {
    /// Speed and distance do not show the same.
    SpeedDisagrees {
        /// Speed's shown over true, over the distance's, less one.
        apart: f64,
    },
    /// The passes, or the speeds, contradict each other.
    Contradict,
    /// What is shown goes with the other sensor, not with this one.
    OtherSensorFollowed,
    /// Neither tape nor satellite: whether it is right is not known.
    NoTruth,
    /// Nobody said what was keyed in.
    EnteredUnknown,
}

impl Alarm {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::SpeedDisagrees { .. } => "SPEED_DISAGREES",
            Self::Contradict => "READINGS_CONTRADICT",
            Self::OtherSensorFollowed => "OTHER_SENSOR_FOLLOWED",
            Self::NoTruth => "NO_TRUTH",
            Self::EnteredUnknown => "ENTERED_UNKNOWN",
        }
    }
}

/// What the readings say.
#[derive(Clone, Debug)]
pub struct Judged {
    /// By the distance or by the speed: the one that shows more.
    pub by: ShownKind,
    /// The answer.
    pub taken: Taken,
    /// Shown over true, and its uncertainty.
    pub ratio: Option<(f64, Expanded)>,
    /// Where that uncertainty comes from, the largest first, as shares.
    pub budget: Vec<BudgetLine>,
    /// All that was tried, the value keyed in first.
    pub candidates: Vec<Candidate>,
    /// The value in force if it goes by the sensor that it should, or by the other one where only
    /// that one fits, impulses per 100 m.
    pub in_force: Option<(f64, Expanded)>,
    /// What it does, where what is shown is wrong.
    pub cost: Option<Cost>,
    /// What to drive, where it cannot be told.
    pub more: Option<More>,
    /// What is to be looked at.
    pub alarms: Vec<Alarm>,
}

impl Judged {
    /// Mistakes that the readings bear out; where the value took, those that would show the same;
    /// where it took and is wrong, the tyres that explain it.
    pub fn mistakes(&self) -> impl Iterator<Item = &Candidate> {
        let off = self.taken == Taken::TookButOff;
        let of_tyres = |one: &Candidate| matches!(one.cause, Cause::OnTyres(_));
        let mistakes = self.candidates.iter().filter(|one| one.fits && one.cause != Cause::Entered);
        mistakes.filter(move |one| of_tyres(one) == off)
    }
}

/// Judge by the evidence that shows more. One of the two must be there.
pub(super) fn judge(
    distance: &Option<Evidence>,
    speed: &Option<Evidence>,
    known: &Known,
    work: &Work,
    passes: &[PassReading],
) -> Judged {
    let width = |evidence: &Option<Evidence>| {
        evidence.as_ref().map_or(f64::INFINITY, |one| relative(one, FITS))
    };
    let by_distance = width(distance) <= width(speed);
    let by = if by_distance { ShownKind::Distance } else { ShownKind::Speed };
    let mut evidence =
        if by_distance { distance.clone() } else { speed.clone() }.unwrap_or_default();
    let candidates = candidates(&mut evidence, known, work);
    let ratio = evidence.ratio.clone();
    let covered = |quantity: &Quantity, p: f64| cover(quantity, &evidence.sources, p);
    let off = ratio.as_ref().is_some_and(|ratio| {
        (ratio.value() - 1.0).abs() > covered(ratio, OFF).expanded_uncertainty
    });
    let taken = answer(&candidates, &evidence, off);
    let step_m = passes.iter().filter_map(|pass| pass.shown.ok()).map(|pass| pass.step_m);
    let step_m = step_m.fold(0.0, f64::max);
    Judged {
        by,
        taken,
        ratio: ratio.as_ref().map(|ratio| (ratio.value(), covered(ratio, COVERAGE))),
        budget: ratio.as_ref().map_or_else(Vec::new, |ratio| ratio.budget(&evidence.sources)),
        in_force: in_force(&evidence, known),
        cost: ratio.as_ref().filter(|_| off).map(|ratio| Cost::of(ratio, &evidence.sources)),
        more: (taken == Taken::CannotTell && !evidence.contradict)
            .then(|| more(&candidates, if step_m > 0.0 { step_m } else { STEP_M })),
        alarms: alarms(distance, speed, &evidence, known),
        candidates,
    }
}

/// Half-width of what is known best of an evidence, as a share.
fn relative(evidence: &Evidence, probability: f64) -> f64 {
    let all = evidence.per_impulse_m.iter().chain([&evidence.ratio]).flatten();
    let share = |one: &Quantity| {
        cover(one, &evidence.sources, probability).expanded_uncertainty / one.value()
    };
    all.map(share).fold(f64::INFINITY, f64::min)
}

fn answer(candidates: &[Candidate], evidence: &Evidence, off: bool) -> Taken {
    let Some(entered) = candidates.first().filter(|one| one.cause == Cause::Entered) else {
        return Taken::CannotTell;
    };
    let rival =
        |one: &&Candidate| one.fits && !one.alike && !matches!(one.cause, Cause::OnTyres(_));
    if evidence.contradict {
        Taken::CannotTell
    } else if !entered.fits {
        Taken::DidNotTake
    } else if candidates.iter().skip(1).any(|one| rival(&one)) || !entered.sharp {
        Taken::CannotTell
    } else if off {
        Taken::TookButOff
    } else {
        Taken::Took
    }
}

/// The value in force, by the sensor that it should go by; by the other one where what is shown
/// follows only that one.
fn in_force(evidence: &Evidence, known: &Known) -> Option<(f64, Expanded)> {
    let channels = [known.source(), known.other()].map(|channel| channel.index().min(1));
    let follows = |channel: &usize| evidence.follows[*channel];
    let channel = channels.into_iter().find(follows)?;
    let metres = evidence.per_impulse_m[channel].as_ref()?;
    let value = &Quantity::exact(100.0) / metres;
    Some((value.value(), cover(&value, &evidence.sources, COVERAGE)))
}

/// What tells the nearest mistake from the value keyed in: one whose distance from it is twice the
/// half-width that the display's step leaves.
fn more(candidates: &[Candidate], step_m: f64) -> More {
    let first = candidates.first().map_or(1.0, |one| one.shown_over_expected);
    let rivals = candidates.iter().skip(1).filter(|one| one.fits && !one.alike);
    let rivals = rivals.filter(|one| !matches!(one.cause, Cause::OnTyres(_)));
    let apart = rivals.map(|one| (one.shown_over_expected / first - 1.0).abs());
    let apart = apart.fold(2.0 * USELESS, f64::min);
    let k = crate::stats::budget::student::coverage_factor(FITS, f64::INFINITY);
    let metres = 2.0 * k * step_m / 6.0_f64.sqrt() / apart;
    let passes = (metres / PASS_M).powi(2).ceil().clamp(1.0, 100.0) as u32;
    More { metres: metres.max(PASS_M), passes }
}

fn alarms(
    distance: &Option<Evidence>,
    speed: &Option<Evidence>,
    evidence: &Evidence,
    known: &Known,
) -> Vec<Alarm> {
    let mut out = Vec::new();
    if let (Some(distance), Some(speed)) = (distance, speed)
        && let Some(apart) = apart(distance, speed)
    {
        out.push(Alarm::SpeedDisagrees { apart });
    }
    if [distance, speed].into_iter().flatten().any(|one| one.contradict) {
        out.push(Alarm::Contradict);
    }
    let [source, other] = [known.source(), known.other()].map(|channel| channel.index().min(1));
    let both = evidence.per_impulse_m.iter().all(Option::is_some);
    if both && !evidence.follows[source] && evidence.follows[other] {
        out.push(Alarm::OtherSensorFollowed);
    }
    if evidence.ratio.is_none() {
        out.push(Alarm::NoTruth);
    }
    if known.entered().is_none() {
        out.push(Alarm::EnteredUnknown);
    }
    out
}

/// By how much the speed shows more than the distance, where that is more than both allow.
fn apart(distance: &Evidence, speed: &Evidence) -> Option<f64> {
    let pairs = distance.per_impulse_m.iter().zip(&speed.per_impulse_m);
    let (a, b) = pairs.filter_map(|(a, b)| Some((a.as_ref()?, b.as_ref()?))).next()?;
    let half = |one: &Quantity, evidence: &Evidence| {
        cover(one, &evidence.sources, FITS).expanded_uncertainty / one.value()
    };
    let apart = b.value() / a.value() - 1.0;
    (apart.abs() > half(a, distance).hypot(half(b, speed))).then_some(apart)
}
