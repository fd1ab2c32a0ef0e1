//! From what was read to one line: did the value take.

use super::candidates::{Candidate, Cause, USELESS, candidates};
use super::cost::Cost;
use super::on_bus::{HandedOn, STEP_M as BUS_STEP_M};
use super::{Evidence, FITS, Known};
use crate::figure::{COVERAGE, Work};
use crate::stats::budget::{BudgetLine, Expanded, Quantity, cover};
use crate::wire::bus::message::SelectedSource;
use trundle_protocol::units::Channel;

/// What is shown is called wrong where the truth lies outside the interval that holds it so often.
const OFF: f64 = 0.998;
/// Length of a usual pass, metres.
const PASS_M: f64 = 100.0;
/// Last step of a usual display of distance, metres.
const STEP_M: f64 = 0.1;

/// What an answer rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The distance typed at the pegs.
    Distance,
    /// The speed typed.
    Speed,
    /// The distance on the bus at the pegs.
    Bus,
}

impl By {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Distance => "distance",
            Self::Speed => "speed",
            Self::Bus => "bus",
        }
    }
}

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
    /// What was typed and the bus do not show the same.
    BusDisagrees {
        /// The bus's shown over true, over that of what was typed, less one.
        apart: f64,
    },
    /// The passes on the bus contradict each other.
    BusContradicts,
    /// The tractor hands on another speed than that of the sensor which implements should go by.
    OtherHandedOn(SelectedSource),
    /// It handed on now this speed, now another one.
    HandedOnChanged,
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
            Self::BusDisagrees { .. } => "BUS_DISAGREES",
            Self::BusContradicts => "BUS_CONTRADICTS",
            Self::OtherHandedOn(_) => "OTHER_HANDED_ON",
            Self::HandedOnChanged => "HANDED_ON_CHANGED",
            Self::OtherSensorFollowed => "OTHER_SENSOR_FOLLOWED",
            Self::NoTruth => "NO_TRUTH",
            Self::EnteredUnknown => "ENTERED_UNKNOWN",
        }
    }
}

/// What readings say by themselves beside the answer: all but those that it rests on, and these too
/// where they were overruled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// Which readings.
    pub by: By,
    /// Their own answer.
    pub taken: Taken,
    /// Shown over true by them alone, and its uncertainty.
    pub ratio: Option<(f64, Expanded)>,
}

/// What the readings say.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The readings that show more than the others.
    pub by: By,
    /// What the others say by themselves; nothing is averaged.
    pub beside: Vec<Beside>,
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

/// What there is to judge by.
#[derive(Clone, Copy)]
pub(super) struct Given<'a> {
    /// By the distance typed.
    pub distance: Option<&'a Evidence>,
    /// By the speed typed.
    pub speed: Option<&'a Evidence>,
    /// By the bus.
    pub bus: Option<&'a Evidence>,
    /// What the tractor hands on, as the bus states.
    pub handed_on: HandedOn,
    /// Last step of the distance that was typed, metres.
    pub step_m: f64,
}

impl<'a> Given<'a> {
    /// What there is, that which shows most first.
    fn all(&self) -> Vec<(By, &'a Evidence)> {
        let each = [(By::Distance, self.distance), (By::Speed, self.speed), (By::Bus, self.bus)];
        let mut out: Vec<_> = each.into_iter().filter_map(|(by, one)| Some((by, one?))).collect();
        out.sort_by(|a, b| relative(a.1, FITS).total_cmp(&relative(b.1, FITS)));
        out
    }

    /// Only what is on the bus goes by what the bus states.
    const fn handed_on_to(&self, by: By) -> HandedOn {
        match by {
            By::Bus => self.handed_on,
            By::Distance | By::Speed => HandedOn::NotStated,
        }
    }

    /// What is handed on in the place of the sensor that implements should go by.
    fn other_handed_on(&self, known: &Known) -> Option<SelectedSource> {
        match self.handed_on {
            HandedOn::From(source) if !self.handed_on.may_be(known.source()) => Some(source),
            _ => None,
        }
    }
}

/// What one kind of reading says by itself.
struct Opinion {
    by: By,
    evidence: Evidence,
    candidates: Vec<Candidate>,
    off: bool,
    taken: Taken,
}

impl Opinion {
    fn of(by: By, evidence: &Evidence, given: &Given<'_>, known: &Known, work: &Work) -> Self {
        let mut evidence = evidence.clone();
        let handed_on = given.handed_on_to(by);
        let candidates = candidates(&mut evidence, known, work, handed_on);
        let off = evidence.ratio.as_ref().is_some_and(|ratio| {
            let allowed = cover(ratio, &evidence.sources, OFF).expanded_uncertainty;
            (ratio.value() - 1.0).abs() > allowed
        });
        let taken = match handed_on {
            HandedOn::Changed(_) => Taken::CannotTell,
            HandedOn::NotStated | HandedOn::From(_) => answer(&candidates, &evidence, off),
        };
        Self { by, evidence, candidates, off, taken }
    }

    fn ratio(&self) -> Option<(f64, Expanded)> {
        let ratio = self.evidence.ratio.as_ref()?;
        Some((ratio.value(), cover(ratio, &self.evidence.sources, COVERAGE)))
    }

    const fn beside(&self, ratio: Option<(f64, Expanded)>) -> Beside {
        Beside { by: self.by, taken: self.taken, ratio }
    }
}

/// Judge by the evidence that shows most; `None` where there is none.
pub(super) fn judge(given: &Given<'_>, known: &Known, work: &Work) -> Option<Judged> {
    let opinion = |(by, one)| Opinion::of(by, one, given, known, work);
    let mut opinions = given.all().into_iter().map(opinion);
    let best = opinions.next()?;
    let others: Vec<Opinion> = opinions.collect();
    let alarms = alarms(given, &best.evidence, known);
    let taken = together(&best, &others, given.other_handed_on(known), &alarms);
    let overruled = Some(&best).filter(|best| best.taken != taken).into_iter();
    let Opinion { by, ref evidence, off, .. } = best;
    let ratio = evidence.ratio.as_ref();
    let step_m = match by {
        By::Bus => BUS_STEP_M,
        _ if given.step_m > 0.0 => given.step_m,
        _ => STEP_M,
    };
    Some(Judged {
        by,
        beside: overruled.chain(&others).map(|one| one.beside(one.ratio())).collect(),
        taken,
        ratio: best.ratio(),
        budget: ratio.map_or_else(Vec::new, |ratio| ratio.budget(&evidence.sources)),
        in_force: in_force(evidence, known, given.handed_on_to(by)),
        cost: ratio.filter(|_| off).map(|ratio| Cost::of(ratio, &evidence.sources)),
        more: (taken == Taken::CannotTell && best.taken == taken && !evidence.contradict)
            .then(|| more(&best.candidates, step_m)),
        alarms,
        candidates: best.candidates,
    })
}

/// The answer of all. Where what was typed and the bus contradict each other, nothing took for
/// certain; another source in force is none that took, whatever it shows.
fn together(
    best: &Opinion,
    others: &[Opinion],
    other_handed_on: Option<SelectedSource>,
    alarms: &[Alarm],
) -> Taken {
    let took = |taken: Taken| matches!(taken, Taken::Took | Taken::TookButOff);
    let disagree = alarms.iter().any(|one| matches!(one, Alarm::BusDisagrees { .. }));
    let any_took = took(best.taken) || others.iter().any(|one| took(one.taken));
    if disagree && any_took {
        Taken::CannotTell
    } else if other_handed_on.is_some() && took(best.taken) {
        Taken::DidNotTake
    } else {
        best.taken
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
    if evidence.contradict {
        Taken::CannotTell
    } else if !entered.fits {
        Taken::DidNotTake
    } else if candidates.iter().skip(1).any(Candidate::is_rival) || !entered.sharp {
        Taken::CannotTell
    } else if off {
        Taken::TookButOff
    } else {
        Taken::Took
    }
}

/// The value in force, by the sensor that it should go by; by the other one where what is shown
/// follows only that one, or where that one is stated.
fn in_force(evidence: &Evidence, known: &Known, handed_on: HandedOn) -> Option<(f64, Expanded)> {
    let follows = |one: &Channel| handed_on.may_be(*one) && evidence.follows[one.index().min(1)];
    let channel = [known.source(), known.other()].into_iter().find(follows)?;
    let metres = evidence.per_impulse_m[channel.index().min(1)].as_ref()?;
    let value = &Quantity::exact(100.0) / metres;
    Some((value.value(), cover(&value, &evidence.sources, COVERAGE)))
}

/// What tells the nearest mistake from the value keyed in: one whose distance from it is twice the
/// half-width that the display's step leaves.
fn more(candidates: &[Candidate], step_m: f64) -> More {
    let first = candidates.first().map_or(1.0, |one| one.shown_over_expected);
    let rivals = candidates.iter().skip(1).filter(|one| one.is_rival());
    let apart = rivals.map(|one| (one.shown_over_expected / first - 1.0).abs());
    let apart = apart.fold(2.0 * USELESS, f64::min);
    let k = crate::stats::budget::student::coverage_factor(FITS, f64::INFINITY);
    let metres = 2.0 * k * step_m / 6.0_f64.sqrt() / apart;
    let passes = (metres / PASS_M).powi(2).ceil().clamp(1.0, 100.0) as u32;
    More { metres: metres.max(PASS_M), passes }
}

fn alarms(given: &Given<'_>, evidence: &Evidence, known: &Known) -> Vec<Alarm> {
    let mut out = Vec::new();
    if let Some(apart) = given.distance.zip(given.speed).and_then(|(a, b)| apart(a, b)) {
        out.push(Alarm::SpeedDisagrees { apart });
    }
    let typed = given.distance.or(given.speed);
    if let Some(apart) = typed.zip(given.bus).and_then(|(a, b)| apart(a, b)) {
        out.push(Alarm::BusDisagrees { apart });
    }
    if [given.distance, given.speed].into_iter().flatten().any(|one| one.contradict) {
        out.push(Alarm::Contradict);
    }
    if given.bus.is_some_and(|one| one.contradict) {
        out.push(Alarm::BusContradicts);
    }
    out.extend(given.other_handed_on(known).map(Alarm::OtherHandedOn));
    if matches!(given.handed_on, HandedOn::Changed(_)) {
        out.push(Alarm::HandedOnChanged);
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

/// By how much the second shows more than the first, where that is more than both allow.
fn apart(first: &Evidence, second: &Evidence) -> Option<f64> {
    let pairs = first.per_impulse_m.iter().zip(&second.per_impulse_m);
    let (a, b) = pairs.filter_map(|(a, b)| Some((a.as_ref()?, b.as_ref()?))).next()?;
    let half = |one: &Quantity, evidence: &Evidence| {
        cover(one, &evidence.sources, FITS).expanded_uncertainty / one.value()
    };
    let apart = b.value() / a.value() - 1.0;
    (apart.abs() > half(a, first).hypot(half(b, second))).then_some(apart)
}
