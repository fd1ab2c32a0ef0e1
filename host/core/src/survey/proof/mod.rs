//! The proof drive: after a value was keyed in, what the terminal shows against the truth.
//!
//! Its distance is read at both pegs at standstill, its speed at steady speeds; both are typed.
//! The distance that the tractor hands on over the implement bus is read too, where an adapter
//! listens there, and nobody types that.
//! What it shows for each impulse of a sensor says which value is in force, and needs no other
//! truth than the counts. Tape and satellite say whether that value is right.

mod board;
mod bus_ends;
mod bus_refusal;
mod candidates;
mod cost;
mod distance;
mod evidence;
mod judge;
mod known;
mod on_bus;
mod refusal;
mod speed;
mod stated;
mod typed;
mod words;

pub use bus_refusal::{BusPassRefusal, BusRefusal};
pub use candidates::{Candidate, Cause};
pub use cost::Cost;
pub use distance::{Display, PassReading, ShownPass};
pub use judge::{Alarm, Beside, By, Judged, More, Taken};
pub use known::{Known, KnownValue, Origin, SignedValue};
pub use on_bus::{BusPass, BusReading, HandedOn, OnBus, ShownOnBus};
pub use refusal::{PassRefusal, ProofRefusal, SpeedRefusal};
pub use speed::{Run, SpeedReading};
pub use stated::{DISTANCE_STEPS_M, RATES_L_PER_HA, SPEED_STEPS_KM_H, Stated, WRAPS_M};
pub use typed::{Shown, ShownKind, note_of, note_out};
pub use words::source_words;

use crate::course::file;
use crate::course::tape::CourseSpec;
use crate::figure::{Job, Work, WorkOptions, work};
use crate::session::Session;
use crate::stats::budget::{Quantity, Sources};
use board::Boards;
use judge::Given;

/// Candidates are judged by the interval that holds a true one in all but one of 10 000 drives:
/// that of 95 % would miss the right one in every twentieth. It costs little, since a display is
/// never off by more than its step.
pub const FITS: f64 = 0.9999;

/// How to judge a drive.
#[derive(Clone, Debug, Default)]
pub struct ProofOptions {
    /// The course; the capture's own where none is given.
    pub course: Option<CourseSpec>,
    /// What is known of the values; it wins over what the capture's notes say.
    pub known: Known,
    /// What was stated of display and implement; it wins over the capture's notes too.
    pub stated: Stated,
}

/// What was read, made comparable.
#[derive(Clone, Debug, Default)]
pub struct Evidence {
    /// Every source of uncertainty of the quantities.
    pub sources: Sources,
    /// Shown over true, where tape or satellite give the truth.
    pub ratio: Option<Quantity>,
    /// Metres shown for each impulse, wheel and radar.
    pub per_impulse_m: [Option<Quantity>; 2],
    /// What is shown follows the impulses of wheel and radar, as far as more than one reading
    /// shows that.
    pub follows: [bool; 2],
    /// Readings contradict each other.
    pub contradict: bool,
}

/// Everything that came of it.
#[derive(Clone, Debug)]
pub struct Proof {
    /// What is known of the values.
    pub known: Known,
    /// What was stated of display and implement.
    pub stated: Stated,
    /// Lines typed that are readings, those that were rejected left out.
    pub typed: usize,
    /// Readings that belong to no standstill beside a peg, as typed.
    pub astray: Vec<String>,
    /// The passes, with the distances read at their ends.
    pub passes: Vec<PassReading>,
    /// The speeds read.
    pub speeds: Vec<SpeedReading>,
    /// By the distance.
    pub distance: Option<Evidence>,
    /// By the speed.
    pub speed: Option<Evidence>,
    /// What the implement bus showed; `None` where nothing was received from one.
    pub bus: Option<OnBus>,
    /// What it says, or why nothing.
    pub judged: Result<Judged, ProofRefusal>,
    /// The passes as they were measured.
    pub work: Work,
}

/// Judge what a session holds. It must keep its trail and the samples of its
/// passes. `growing`: its capture is still open.
#[must_use]
pub fn proof(session: &Session, growing: bool, options: &ProofOptions) -> Proof {
    let known = options.known.clone().or(Known::noted(session.notes()));
    let stated = options.stated.or(Stated::noted(session.notes()));
    let own = || Some(file::parse(session.course_text()?).ok()?.spec);
    let course = options.course.clone().or_else(own);
    let totals = session.totals();
    let job = Job { passes: session.passes(), totals: &totals, whole: growing || session.ended() };
    let work = work(&job, &WorkOptions { course, ..WorkOptions::default() });
    let trail = session.trail().unwrap_or_default();
    let boards = Boards::of(&trail);
    let typed = typed::readings(session.notes(), &stated);
    let (passes, astray) =
        distance::passes(session.passes(), &work, &boards, &typed, stated.wrap_m);
    let speeds = speed::readings(&trail, &boards, &typed);
    let speed = speed::evidence(&speeds, known.source());
    let (passes, distance) = by_distance(passes, &known, &work);
    let bus = on_bus::on_bus(session.passes(), &trail, &work, known.source());
    let steps = passes.iter().filter_map(|pass| pass.shown.ok()).map(|pass| pass.step_m);
    let given = Given {
        distance: distance.as_ref(),
        speed: speed.as_ref(),
        bus: bus.as_ref().and_then(OnBus::reading).and_then(|one| one.evidence.as_ref()),
        handed_on: bus.as_ref().map_or(HandedOn::NotStated, |bus| bus.handed_on),
        step_m: steps.fold(0.0, f64::max),
    };
    let counted = trail.spells.iter().any(|spell| !spell.counts.is_empty());
    let judged = if counted {
        judge::judge(&given, &known, &work).ok_or_else(|| nothing(typed.len(), bus.as_ref()))
    } else {
        Err(ProofRefusal::NoCounts)
    };
    Proof {
        known,
        stated,
        typed: typed.len(),
        astray,
        passes,
        speeds,
        distance,
        speed,
        bus,
        judged,
        work,
    }
}

/// Why there is nothing to judge by.
fn nothing(typed: usize, bus: Option<&OnBus>) -> ProofRefusal {
    match bus.and_then(|bus| bus.chosen.err()) {
        _ if typed > 0 => ProofRefusal::NoneUsable { typed },
        Some(why) => ProofRefusal::Bus(why),
        None => ProofRefusal::NoReadings,
    }
}

/// What the distances say. Where nothing that is known fits them, the display may have gone through
/// 0 on the way: a value a hundred times too small shows ten kilometres for a hundred metres.
fn by_distance(
    passes: Vec<PassReading>,
    known: &Known,
    work: &Work,
) -> (Vec<PassReading>, Option<Evidence>) {
    let plain = distance::evidence(&passes, work, known.source());
    let fits = |evidence: &Evidence| {
        let all = candidates::candidates(&mut evidence.clone(), known, work, HandedOn::NotStated);
        all.iter().any(|one| one.fits)
    };
    if plain.as_ref().is_some_and(fits) {
        return (passes, plain);
    }
    for value in candidates::small_values(known) {
        let Some(turned) = distance::turned(&passes, work, known.source().index().min(1), value)
        else {
            continue;
        };
        let evidence = distance::evidence(&turned, work, known.source());
        if evidence.as_ref().is_some_and(fits) {
            return (turned, evidence);
        }
    }
    (passes, plain)
}
