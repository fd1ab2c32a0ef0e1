//! Wheel slip along the way: how much further the wheels turned than the tractor went.
//!
//! Slip is 1 - actual/theoretical travel = 1 - K0/K, K0 being the impulses per 100 m of the same
//! tyres without slip and K those counted over a stretch of ground (ANSI/ASAE S296.5 and OECD
//! Code 2, from memory): the loaded quantity stands in the denominator. The other denominator is
//! in use too and gives larger numbers: 15 % here are 17.6 % there.
//!
//! The way is cut into sections of distance. Each shows how far the axle went by satellite, how far
//! the wheels turned by their impulses, the slip, and how sure that is.

pub mod compare;
mod counted;
mod cut;
mod measure;
mod options;
mod places;
mod refusal;
mod result;
mod section;
mod totals;

pub use options::{SlipOptions, ZeroSlip, by_figures};
pub use places::SlipPlace;
pub use refusal::SlipRefusal;
pub use result::{Slip, Totals};
pub use section::{Section, SectionFlag};
pub(in crate::survey) use totals::total;
pub use totals::{PartTotal, ShareAbove, Total};

use crate::session::trail::Trail;
use crate::survey::ride::axle::{Mounting, Trace, traces};
use crate::survey::ride::noise::Noises;
use crate::survey::ride::parts::PartKind;
use crate::survey::ride::scale::Scales;
use crate::survey::ride::{Ride, Rides, rides};
use crate::timeline::counts::CountCurve;
use trundle_protocol::units::Channel;

/// Standard uncertainty taken for an antenna of which nothing is known, right and ahead, metres:
/// on a cab roof, somewhere near the middle; common practice, no source.
const UNKNOWN_MOUNTING: Mounting =
    Mounting { right_m: 0.0, u_right_m: 0.4, ahead_m: 0.0, u_ahead_m: 1.5 };

/// Work slip out.
///
/// # Errors
/// A [`SlipRefusal`] when there is no zero-slip value, when counts and positions cannot be
/// laid on one clock, or when nowhere was driven fast enough for a whole section.
pub fn slip(trail: &Trail, options: &SlipOptions) -> Result<Slip, SlipRefusal> {
    let zero_slip = options.zero_slip.ok_or(SlipRefusal::NoZeroSlip)?;
    let Rides { rides, lag } = rides(trail)?;
    let mounting = options.mounting.unwrap_or(UNKNOWN_MOUNTING);
    let wheel = Channel::Wheel.index();
    let mut driven: Vec<(&Ride<'_>, Trace)> = rides
        .iter()
        .filter(|ride| ride.curves[wheel].knots().len() > 1)
        .flat_map(|ride| traces(ride, &mounting).into_iter().map(move |trace| (ride, trace)))
        .collect();
    if driven.is_empty() {
        return Err(SlipRefusal::NoWheel);
    }
    let scales = Scales::of(&driven.iter().map(|(_, trace)| trace).collect::<Vec<_>>());
    driven.iter_mut().for_each(|(_, trace)| scales.take_off(trace));
    let witnesses: Vec<(&Trace, Vec<&CountCurve>)> =
        driven.iter().map(|(ride, trace)| (trace, ride.witnesses())).collect();
    let noises = Noises::learn(&witnesses);
    let noise = noises.usual();
    let lag_s = lag.estimate_s();
    let known = options.mounting.is_some();
    let means = measure::Means { zero_slip, mounting, known, noises, scales, lag_s };
    let mut sections = Vec::new();
    let mut withheld_m = 0.0;
    let mut parts = 0;
    for (at, (ride, trace)) in driven.iter().enumerate() {
        let cut = cut::cut(ride, trace, options, &mut parts);
        withheld_m += cut.withheld_m;
        let last = at.checked_sub(1).map(|last| &driven[last]);
        let before = last.filter(|last| std::ptr::eq(last.0, *ride)).map(|last| &last.1);
        let driven = measure::Driven::new(before, trace, &means.noises);
        let measured = |span| measure::section(ride, &driven, span, &means);
        sections.extend(cut.spans.iter().filter_map(measured));
    }
    if sections.is_empty() {
        return Err(SlipRefusal::TooSlow { least_speed_m_s: options.least_speed_m_s });
    }
    let totals =
        |keep: &dyn Fn(&Section) -> bool| total(sections.iter().filter(|w| keep(w)), &zero_slip);
    let all = totals(&|_| true).ok_or(SlipRefusal::NoWheel)?;
    let totals = Totals {
        all,
        passes: totals(&|w| w.kind == PartKind::Pass),
        turns: totals(&|w| w.kind == PartKind::Turn),
        in_work: totals(&|w| w.in_work),
    };
    Ok(Slip {
        zero_slip,
        mounting: options.mounting,
        section_m: options.section_m,
        least_speed_m_s: options.least_speed_m_s,
        parts: totals::by_part(&sections, &zero_slip),
        places: places::by_place(&sections, &zero_slip),
        share_above: totals::share_above(&sections, &options.thresholds),
        totals,
        sections,
        withheld_m,
        noise,
        lag_s,
    })
}
