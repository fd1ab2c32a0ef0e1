//! Where the receiver's antenna sits on the tractor, calculated from driving.
//!
//! Signs: to the right of the tractor's middle, looking ahead, is positive; ahead of the rear axle
//! is positive. The offset to the side has two independent witnesses, [`passes`] and [`turns`]; the
//! distance ahead comes from steady [`circles`], or with more uncertainty from turns as they are.

pub mod circles;
pub mod passes;
mod refusal;
mod runs;
mod solve;
mod taped;
pub mod turns;
mod way;

pub use circles::{CircleRefusal, CircleWitness};
pub use passes::{PassRefusal, PassWitness};
pub use refusal::MountRefusal;
pub use runs::Run;
pub use taped::{Beside, Coupling, TAPED_U_M, Taped};
pub use turns::{TurnRefusal, TurnWitness};

use crate::figure::COVERAGE;
use crate::session::trail::Trail;
use crate::stats::budget::{Quantity, Source, Sources, cover};
use crate::stats::fit::agreement::{Agreement, compare};
use crate::stats::fit::line::Estimate;
use crate::survey::ride::noise::learn;
use crate::survey::ride::rides;

/// Standard uncertainty with which a driver holds a line by eye along his own marks, metres; common
/// practice, no source.
pub const LINE_HELD_M: f64 = 0.05;
/// Standard uncertainty of the wheel's slip in turns over that on the straights, as a share: on
/// firm ground without a load; common practice, no source.
pub const TURN_SLIP: f64 = 0.001;
/// Standard uncertainty of a value per 100 m that is given, as a share, when nothing else is said:
/// what a taped course usually reaches.
pub const FIGURE_U: f64 = 0.0005;
/// A tractor that is never faster than this stands: what is printed is noise, m/s.
const STANDING_M_S: f64 = 0.5;
/// Normalised error from which the two witnesses contradict each other and no offset is given.
/// Chance alone goes beyond 1 in 5 jobs of 100, beyond this in 3 of 1000.
const CONTRADICTS: f64 = 1.5;
/// Scatter this many times the expected variance makes a witness suspect.
const SCATTERED: f64 = 4.0;

/// What a mounting search is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MountOptions {
    /// Standard uncertainty with which the driver held the line, metres.
    pub line_held_m: f64,
    /// Standard uncertainty of the slip in turns over that on the straights, as a share.
    pub turn_slip: f64,
    /// Wheel impulses per 100 m, where known; else the straights show.
    pub value_per_100m: Option<f64>,
    /// Distances that were taped.
    pub taped: Taped,
}

impl Default for MountOptions {
    fn default() -> Self {
        Self {
            line_held_m: LINE_HELD_M,
            turn_slip: TURN_SLIP,
            value_per_100m: None,
            taped: Taped::default(),
        }
    }
}

crate::units::words! {
    /// Which witness to look into when the two contradict each other.
    pub enum Suspect {
        /// The passes scatter more than line and receiver explain.
        Passes = "passes",
        /// The turns scatter more than the receiver explains.
        Turns = "turns",
        /// Neither scatters: a fault that stays the same.
        Either = "either",
    }
}

impl Suspect {
    /// What may be behind it.
    #[must_use]
    pub const fn why(self) -> &'static str {
        match self {
            Self::Passes => {
                "the passes scatter more than they should: the line was not held, or the passes \
                 are not of one line"
            }
            Self::Turns => {
                "the turns scatter more than they should: slip in the turns, or a sensor that \
                 loses impulses"
            }
            Self::Either => {
                "neither scatters, so it is something that stays the same: a driver who keeps to \
                 one side of the line, a sensor on one wheel and not behind the differential, or \
                 more slip turning one way"
            }
        }
    }
}

crate::units::words! {
    /// From where the distance ahead comes.
    pub enum AheadFrom {
        /// Steady circles both ways.
        Circles = "circles",
        /// Turns as they were driven.
        Turns = "turns",
    }
}

/// The antenna position that was found.
#[derive(Clone, Debug)]
pub struct Mount {
    /// What was asked for.
    pub options: MountOptions,
    /// Every source of uncertainty.
    pub sources: Sources,
    /// First witness for the offset.
    pub passes: Result<PassWitness, PassRefusal>,
    /// What the turns show, or why not.
    pub turns: Result<TurnWitness, TurnRefusal>,
    /// What steady circles show, or why not.
    pub circles: Result<CircleWitness, CircleRefusal>,
    /// First witness against the second.
    pub agreement: Option<Agreement>,
    /// Offset to the right, metres; none when the witnesses contradict each other.
    pub right: Option<Quantity>,
    /// Distance ahead of the rear axle, metres, and whence.
    pub ahead: Option<(Quantity, AheadFrom)>,
    /// Which witness to look into, when they contradict each other.
    pub suspect: Option<Suspect>,
    /// The trail ends before the capture does.
    pub cut: bool,
}

impl Mount {
    /// Both numbers are there and nothing contradicts them.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        let taped_agree = self.beside().iter().all(|beside| beside.agreement.agrees);
        self.right.is_some() && self.ahead.is_some() && !self.cut && taped_agree
    }

    /// What was assumed, in sentences.
    #[must_use]
    pub fn assumptions(&self) -> Vec<String> {
        let scale = match self.options.value_per_100m {
            Some(figure) => format!(
                "the wheel gives {figure} impulses per 100 m, to {} % (standard uncertainty)",
                100.0 * FIGURE_U
            ),
            None => "the wheel slips alike on all straights of the capture".to_owned(),
        };
        vec![
            format!(
                "the driver held the line to {} m (standard uncertainty), and no more to one side \
                 of it than to the other",
                self.options.line_held_m
            ),
            "the wheel sensor sees the middle of the axle, behind the differential".to_owned(),
            format!(
                "the slip in turns is that on the straights to {} % of the distance (standard \
                 uncertainty), alike to the left and to the right",
                100.0 * self.options.turn_slip
            ),
            scale,
            "the rear axle does not slide sideways, and the antenna is ahead of it: circles do \
             not distinguish ahead from behind"
                .to_owned(),
            "the ground is level across the line: a tractor that leans shifts its antenna \
             downhill"
                .to_owned(),
        ]
    }
}

/// Work the mounting position out.
///
/// # Errors
/// [`MountRefusal`] when the capture cannot be put on one clock, or neither passes nor turns are
/// fit to be used.
pub fn work(trail: &Trail, options: &MountOptions) -> Result<Mount, MountRefusal> {
    let rides = rides(trail)?;
    let all = runs::runs(&rides, runs::AHEAD_FIRST_M);
    let moves = |run: &Run<'_>| run.trace.steps.iter().any(|s| s.speed_m_s > STANDING_M_S);
    if !all.iter().any(moves) {
        return Err(MountRefusal::Standing);
    }
    let with_curves: Vec<_> =
        all.iter().map(|run| (&run.trace, run.wheel.into_iter().collect::<Vec<_>>())).collect();
    let noise = learn(&with_curves);
    let mut sources = Sources::new();
    let passes = passes::witness(&all, &noise, options.line_held_m, &mut sources);
    let per_m = options.value_per_100m.map(|n| Estimate::new(n / 100.0, FIGURE_U * n / 100.0));
    let turns = turns::witness(&rides, &noise, options.turn_slip, per_m, &mut sources);
    if let (Err(passes), Err(turns)) = (&passes, &turns) {
        return Err(MountRefusal::NothingToHear { passes: *passes, turns: *turns });
    }
    let circles = match &turns {
        Err(_) => Err(CircleRefusal::NoCircles),
        Ok(witness) => circles::witness(
            &all,
            &turns::pieces(&all),
            &noise,
            options.turn_slip,
            &witness.impulses_per_m,
            &mut sources,
        ),
    };
    let both = passes.as_ref().ok().zip(turns.as_ref().ok());
    let agreement = both.map(|(a, b)| compare(&a.right, &b.right, &sources, COVERAGE));
    let apart = agreement.map_or(0.0, |e| e.normalised_error);
    let suspect = both.filter(|_| apart > CONTRADICTS).map(|(a, b)| suspect(a, b));
    let right = match (&passes, &turns) {
        (Ok(a), Ok(b)) => suspect.is_none().then(|| join(&a.right, &b.right, apart, &mut sources)),
        (Ok(a), Err(_)) => Some(a.right.clone()),
        (Err(_), Ok(b)) => Some(b.right.clone()),
        (Err(_), Err(_)) => None,
    };
    let ahead = match (&circles, &turns) {
        (Ok(witness), _) => Some((witness.ahead.clone(), AheadFrom::Circles)),
        (Err(_), Ok(b)) if !b.ahead_at_edge => Some((b.ahead.clone(), AheadFrom::Turns)),
        _ => None,
    };
    let (options, cut) = (*options, trail.cut);
    Ok(Mount { options, sources, passes, turns, circles, agreement, right, ahead, suspect, cut })
}

/// Weighed by the half-widths, so that an uncertainty which few passes happen to show small does
/// not count for much; where they differ by more than they should, the uncertainty grows by as
/// much.
fn join(a: &Quantity, b: &Quantity, apart: f64, sources: &mut Sources) -> Quantity {
    let weight = |q: &Quantity| cover(q, sources, COVERAGE).expanded_uncertainty.max(1e-6).powi(-2);
    let share = weight(a) / (weight(a) + weight(b));
    let joined = Quantity::weighted_sum(&[(a, share), (b, 1.0 - share)]);
    if apart <= 1.0 {
        return joined;
    }
    let more_m = joined.standard_uncertainty() * (apart * apart - 1.0).sqrt();
    let name = "passes and turns differ by more than they should";
    &joined + &sources.quantity(0.0, Source::normal("witnesses.apart", name, more_m))
}

fn suspect(passes: &PassWitness, turns: &TurnWitness) -> Suspect {
    match (passes.variance_ratio > SCATTERED, turns.variance_ratio > SCATTERED) {
        (true, false) => Suspect::Passes,
        (false, true) => Suspect::Turns,
        _ => Suspect::Either,
    }
}
