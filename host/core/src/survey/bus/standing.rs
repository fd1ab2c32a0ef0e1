//! The scale of a stream from standstill to standstill: as good as positions averaged at rest.
//!
//! Every straight drive between two stops is taken for a standing pass of a course whose pegs are
//! where the tractor stood, and measured like one. No mark is needed for that.

use super::BusScale;
use super::laid::Laid;
use crate::capture::Arrival;
use crate::figure::{COVERAGE, Job, WorkOptions, work};
use crate::geodesy::inverse;
use crate::session::marks::MarkTime;
use crate::session::samples::Samples;
use crate::session::trail::{Spell, Trail};
use crate::session::window::{MarkPoint, PassWindow};
use crate::session::{PASSES_MAX, Totals};
use crate::stats::budget::cover;
use crate::stats::fit::line::Estimate;
use crate::wire::board::CountSample;
use trundle_protocol::units::Channel;

/// The distance must stand still for this long, nanoseconds: positions are averaged over it.
const REST_NS: u64 = 4_000_000_000;
/// The marks are set this far into the rests, nanoseconds.
const INTO_REST_NS: u64 = 1_000_000_000;
/// Kept of the rests before and behind a drive, nanoseconds.
const AROUND_NS: u64 = 20_000_000_000;
/// Shorter drives say too little, metres.
const LENGTH_MIN_M: f64 = 30.0;
/// A drive is straight when its ends are so far apart, as a share of what was driven by the
/// receiver's speed.
const STRAIGHT_SHARE: f64 = 0.985;
/// A drive is no longer than this, nanoseconds, as a pass.
const LONGEST_NS: u64 = 900_000_000_000;

/// From one standstill to the next, host time.
type Between = (u64, u64);

/// The scale of a stream laid out as `laid`; `None` where no two straight drives between stops
/// were measured.
pub fn scale(laid: &Trail, unit: Laid) -> Option<BusScale> {
    let (mut passes, mut distance_m) = (Vec::new(), 0.0);
    for spell in &laid.spells {
        for between in drives(&spell.counts) {
            let Some(length_m) = straight_m(spell, between) else { continue };
            if passes.len() < PASSES_MAX {
                passes.push(window(spell, between, passes.len() as u32 + 1));
                distance_m += length_m;
            }
        }
    }
    let totals = Totals {
        derived_clock: laid.arrival == Arrival::Derived,
        capabilities: Some(1),
        ..Totals::default()
    };
    let worked =
        work(&Job { passes: &passes, totals: &totals, whole: true }, &WorkOptions::default());
    let channel = worked.channels.iter().find(|c| c.index == Channel::Wheel.index())?;
    // What no tape checks of a receiver is allowed for besides, so that the scatter of a few
    // drives need not carry it all alone.
    let quantity = channel.blended.as_ref()?;
    if channel.passes.len() < 2 {
        return None;
    }
    let shown = 100.0 * unit.per_m();
    let expanded = cover(quantity, &channel.sources, COVERAGE).expanded_uncertainty;
    let u = quantity.standard_uncertainty();
    Some(BusScale {
        ratio: Estimate::new(quantity.value() / shown, u / shown),
        half_width: expanded / shown,
        distance_m,
        passes: channel.passes.len(),
        by_speed: unit == Laid::Speed,
    })
}

/// The drives between rests: when the count last stood before, and first stood behind.
fn drives(counts: &Samples<CountSample>) -> Vec<Between> {
    let mut out = Vec::new();
    let count = |sample: &CountSample| sample.impulses[Channel::Wheel.index()];
    let mut still: Option<CountSample> = None;
    let mut last_ns = 0;
    let mut left_ns: Option<u64> = None;
    let mut arrived = false;
    for sample in counts {
        match still {
            Some(from) if count(&from) == count(&sample) => {
                let rests = sample.host_ns >= from.host_ns + REST_NS;
                if rests
                    && !std::mem::replace(&mut arrived, true)
                    && let Some(left_ns) = left_ns
                {
                    out.push((left_ns, from.host_ns));
                }
            }
            _ => {
                if std::mem::take(&mut arrived) {
                    left_ns = Some(last_ns);
                }
                still = Some(sample);
            }
        }
        last_ns = sample.host_ns;
    }
    out.retain(|(from_ns, to_ns)| to_ns - from_ns < LONGEST_NS);
    out
}

/// How far apart its ends are, where they are far enough and it went straight.
fn straight_m(spell: &Spell, (from_ns, to_ns): Between) -> Option<f64> {
    let from = spell.fixes.partition_point(|fix| fix.host_ns < from_ns);
    let to = spell.fixes.partition_point(|fix| fix.host_ns <= to_ns);
    let (mut driven_m, mut first, mut last) = (0.0, None, None);
    for fix in spell.fixes.from(from).take(to.saturating_sub(from)) {
        if let Some((before_ns, _)) = last {
            let passed_s = (fix.utc_ns - before_ns) as f64 * 1e-9;
            driven_m += fix.speed_m_s? * passed_s;
        }
        let place = (fix.lat_deg, fix.lon_deg);
        first.get_or_insert(place);
        last = Some((fix.utc_ns, place));
    }
    let apart_m = inverse(first?, last?.1).length_m;
    (apart_m >= LENGTH_MIN_M && apart_m >= STRAIGHT_SHARE * driven_m).then_some(apart_m)
}

fn window(spell: &Spell, (from_ns, to_ns): Between, number: u32) -> PassWindow {
    let (first_ns, last_ns) = (from_ns.saturating_sub(AROUND_NS), to_ns + AROUND_NS);
    let mark = |host_ns| MarkPoint { host_ns, time: MarkTime::Host };
    let counts = spell.counts.from(spell.counts.partition_point(|c| c.host_ns < first_ns));
    let fixes = spell.fixes.from(spell.fixes.partition_point(|f| f.host_ns < first_ns));
    let inside = |host_ns: u64| (first_ns..=last_ns).contains(&host_ns);
    PassWindow {
        number,
        start: mark(from_ns.saturating_sub(INTO_REST_NS)),
        finish: Some(mark(to_ns + INTO_REST_NS)),
        counts: counts.take_while(|c| c.host_ns <= last_ns).collect(),
        fixes: fixes.take_while(|f| f.host_ns <= last_ns).collect(),
        incidents: spell.incidents.iter().copied().filter(|i| inside(i.host_ns)).collect(),
        rejected: None,
        unsure: false,
        too_long: false,
        board_clock: spell.board_clock,
        clock: spell.clock,
    }
}
