//! The running distance of one stream of the bus at the ends of a pass.
//!
//! At standstill it is what the last settled message says, however late messages are. On the move
//! it lies between two messages, at the instant of the peg and the delay of the distance later.

use super::bus_refusal::BusPassRefusal;
use crate::passes::prepare::Prepared;
use crate::passes::rest::Stance;
use crate::session::samples::Samples;
use crate::survey::bus::{BOARD_S, BusDelay, DelayAgainst};
use crate::wire::bus::reader::{BusDistance, BusSample};

/// So long after the last impulse messages may still be on their way, nanoseconds: control units
/// are up to half a second late (common practice, no source), and twice that is waited for.
const SETTLE_NS: u64 = 1_000_000_000;
/// The distance must have been still for this long, nanoseconds: ten messages.
const STILL_NS: u64 = 1_000_000_000;
/// It is still while it changes by no more than this, mm: two impulses of a usual sensor.
const STILL_MM: f64 = 20.0;
/// Messages so far before and behind an instant on the move show the distance then, nanoseconds:
/// five of them, over which no tractor changes its speed by much.
const BESIDE_NS: u64 = 250_000_000;

/// Where an end of a pass lies in the messages, host time in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum EndAt {
    /// From the last impulse to the next one.
    Standing { from_ns: u64, to_ns: u64 },
    /// The instant of the peg, before the delay.
    Rolling { at_ns: u64 },
}

/// The distance at an end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct EndValue {
    /// Run of the distance.
    pub run: u32,
    /// Since the run began, mm.
    pub mm: f64,
    /// By how much it changed at standstill, mm.
    pub spread_mm: f64,
    /// Speed shown on the move, mm/s; 0 at standstill.
    pub mm_s: f64,
}

/// Both ends of a pass in host time; `None` where the board's clock is not known.
pub(super) fn ends_at(pass: &Prepared<'_>) -> Option<[EndAt; 2]> {
    let clock = pass.window.board_clock.or(pass.window.clock.map(|clock| clock.board))?;
    let host_s = |at_s: f64| clock.host_s(at_s + pass.origin_us as f64 * 1e-6);
    let ns = |seconds: f64| (seconds.max(0.0) * 1e9) as u64;
    let end = |stance: Stance| match stance {
        Stance::Standing { from_s, to_s, .. } => {
            EndAt::Standing { from_ns: ns(host_s(from_s)), to_ns: ns(host_s(to_s)) }
        }
        // The board's clock is set by its frames, which are late themselves.
        Stance::Rolling { at_s } => EndAt::Rolling { at_ns: ns(host_s(at_s) - BOARD_S) },
    };
    Some([end(pass.start), end(pass.finish)])
}

/// The distance at the start and at the end of a pass; of the ends on the move with the delay of
/// the distance.
pub(super) fn values(
    samples: &Samples<BusSample>,
    ends: [EndAt; 2],
    delay: Option<BusDelay>,
) -> Result<[EndValue; 2], BusPassRefusal> {
    let [start, finish] = ends;
    Ok([value(samples, start, true, delay)?, value(samples, finish, false, delay)?])
}

fn value(
    samples: &Samples<BusSample>,
    end: EndAt,
    is_start: bool,
    delay: Option<BusDelay>,
) -> Result<EndValue, BusPassRefusal> {
    let missing = if is_start { BusPassRefusal::NoStart } else { BusPassRefusal::NoFinish };
    match end {
        EndAt::Standing { from_ns, to_ns } => {
            let settled_ns = from_ns + SETTLE_NS;
            if settled_ns >= to_ns {
                return Err(BusPassRefusal::ShortRest);
            }
            let value = standing(samples, settled_ns, to_ns, is_start).ok_or(missing)?;
            if value.spread_mm > STILL_MM { Err(BusPassRefusal::NotSettled) } else { Ok(value) }
        }
        EndAt::Rolling { at_ns } => {
            let delay = delay.filter(|delay| delay.against == DelayAgainst::Ground);
            let late_s = delay.ok_or(BusPassRefusal::DelayUnknown)?.seconds.value;
            let at_ns = at_ns.saturating_add_signed((late_s * 1e9) as i64);
            rolling(samples, at_ns).ok_or(missing)
        }
    }
}

/// The last settled value; where the distance began anew at standstill, that on the pass's side.
///
/// A tractor that drives off moves the distance before the board has its first impulse, by much
/// where a value is far too small: then what was still before that counts.
fn standing(
    samples: &Samples<BusSample>,
    settled_ns: u64,
    to_ns: u64,
    is_start: bool,
) -> Option<EndValue> {
    let begin = samples.partition_point(|one| one.host_ns < settled_ns);
    let inside = samples.from(begin).take_while(|one| one.host_ns <= to_ns);
    let known: Vec<(u64, BusDistance)> =
        inside.filter_map(|one| Some((one.host_ns, one.distance?))).collect();
    let run = if is_start { known.last()?.1.run } else { known.first()?.1.run };
    let mine: Vec<(u64, u64)> = known
        .iter()
        .filter(|(_, at)| at.run == run)
        .map(|(host_ns, at)| (*host_ns, at.distance_mm))
        .collect();
    let value = |end: usize| {
        let (end_ns, mm) = mine[end];
        let from = mine.partition_point(|one| one.0 < end_ns.saturating_sub(STILL_NS));
        let lowest_mm = mine[from..=end].iter().map(|one| one.1).min().unwrap_or(mm);
        let spread_mm = mm.saturating_sub(lowest_mm) as f64;
        EndValue { run, mm: mm as f64, spread_mm, mm_s: 0.0 }
    };
    let last = value(mine.len().checked_sub(1)?);
    let (first_ns, _) = mine[0];
    let whole = (0..mine.len()).rev().take_while(|end| mine[*end].0 >= first_ns + STILL_NS);
    whole.map(value).find(|one| one.spread_mm <= STILL_MM).or(Some(last))
}

/// On the line through the messages around an instant.
fn rolling(samples: &Samples<BusSample>, at_ns: u64) -> Option<EndValue> {
    let begin = samples.partition_point(|one| one.host_ns < at_ns.saturating_sub(BESIDE_NS));
    let inside = samples.from(begin).take_while(|one| one.host_ns <= at_ns + BESIDE_NS);
    let points: Vec<_> = inside.filter_map(|one| Some((one.host_ns, one.distance?))).collect();
    let (first, last) = (points.first()?, points.last()?);
    if first.0 >= at_ns || last.0 <= at_ns || points.iter().any(|one| one.1.run != last.1.run) {
        return None;
    }
    let place = |(host_ns, at): &(u64, BusDistance)| {
        ((*host_ns as f64 - at_ns as f64) * 1e-9, at.distance_mm as f64)
    };
    let places: Vec<(f64, f64)> = points.iter().map(place).collect();
    let n = places.len() as f64;
    let mean_s = places.iter().map(|place| place.0).sum::<f64>() / n;
    let mean_mm = places.iter().map(|place| place.1).sum::<f64>() / n;
    let square: f64 = places.iter().map(|place| (place.0 - mean_s).powi(2)).sum();
    let product: f64 = places.iter().map(|place| (place.0 - mean_s) * (place.1 - mean_mm)).sum();
    let mm_s = product / square;
    let mm = mean_mm - mm_s * mean_s;
    mm.is_finite().then_some(EndValue { run: last.1.run, mm, spread_mm: 0.0, mm_s })
}
