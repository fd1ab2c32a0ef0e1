//! Speeds read off the terminal, and the steady run that each belongs to.
//!
//! Nothing is touched on the move: a speed is typed at standstill after a steady run, or by a
//! passenger while it lasts.

use super::Evidence;
use super::board::{Board, Boards};
use super::refusal::SpeedRefusal;
use super::typed::{Shown, ShownKind};
use crate::session::trail::{Spell, Trail};
use crate::stats::budget::student::chi_squared_survival;
use crate::stats::budget::{Quantity, Source, Sources};
use crate::stats::fit::line::Estimate;
use crate::survey::ride::{Rides, rides};
use crate::survey::speeds::{SteadyRun, steady_runs};
use crate::timeline::counts::{CountCurve, WHOLE_COUNT_U};
use trundle_protocol::units::Channel;

/// A speed must be held for so long, seconds.
pub(super) const RUN_S: f64 = 8.0;
/// Of these the first are left out, seconds: the filter of the display has to settle.
const SETTLE_S: f64 = 2.0;
/// Longest part of a run that is used, seconds.
const RUN_MOST_S: f64 = 30.0;
/// Steadiness is looked at in pieces of this, seconds.
const PIECE_S: f64 = 1.0;
/// Fastest over slowest piece of a steady run, less one; common practice, no source.
const STEADY: f64 = 0.04;
/// Typed on the move, the run ends this long before the line came, seconds: it takes that long to
/// type.
const ENDS_BEFORE_S: f64 = 0.5;
/// One look at a display on a moving tractor is no nearer to the mean of the run than this, as a
/// share, however steady its seconds were; common practice, no source.
const MOMENT_LEAST: f64 = 0.001;
/// A display lags by up to this, seconds, half-width; common practice, no source.
const DELAY_S: f64 = 1.0;
/// Two runs whose speeds differ by more are two speeds.
const APART: f64 = 0.03;
/// Fewer impulses in a second than this are no drive.
const DRIVEN: f64 = 5.0;
/// A drive begins and ends with so many seconds without one.
const STOOD: usize = 2;
/// Uncertainty of one edge's place on its ring, impulses; common practice, no source.
const EDGE_U: f64 = 0.05;
/// Readings whose scatter has less than this chance contradict each other. The steadiness of a run
/// comes from a few seconds: chances beyond one in a hundred are more frequent than they look.
const CHANCE_MIN: f64 = 0.001;

/// The steady run of a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Seconds used of it.
    pub seconds: f64,
    /// Impulses per second of wheel and radar; `None` where a sensor gave none.
    pub rates_hz: [Option<Estimate>; 2],
    /// Speed by satellite, metres per second, where there is one.
    pub speed_m_s: Option<Estimate>,
    /// What the satellite speeds of all runs may be wrong by alike, as a share.
    pub shared_u: f64,
    /// Standard deviation of single seconds, as a share, at least `MOMENT_LEAST`: the display was
    /// read at one moment.
    pub moment_u: f64,
    /// Whole seconds looked at.
    pub pieces: u32,
    /// What a lag of the display makes of the change of speed within the run, as a share,
    /// half-width.
    pub delay: f64,
}

/// A speed that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedReading {
    /// Host time of the typed line, nanoseconds.
    pub host_ns: u64,
    /// Speed shown, metres per second.
    pub shown_m_s: f64,
    /// Last step of the display, metres per second.
    pub step_m_s: f64,
    /// Its steady run, or why it is not used.
    pub run: Result<Run, SpeedRefusal>,
}

/// All speeds that were typed.
pub(super) fn readings(trail: &Trail, boards: &Boards<'_>, typed: &[Shown]) -> Vec<SpeedReading> {
    let speeds: Vec<&Shown> = typed.iter().filter(|one| one.kind == ShownKind::Speed).collect();
    if speeds.is_empty() {
        return Vec::new();
    }
    let rides = rides(trail).ok();
    let steady = rides.as_ref().map_or_else(Vec::new, steady_runs);
    speeds
        .into_iter()
        .map(|shown| SpeedReading {
            host_ns: shown.host_ns,
            shown_m_s: shown.value,
            step_m_s: shown.step,
            run: run_of(boards, shown.host_ns).map(|(board, span_s)| {
                let mut run = measured(board, span_s);
                if let Some(rides) = &rides {
                    by_satellite(&mut run, rides, &steady, board.spell, span_s);
                }
                run
            }),
        })
        .collect()
}

/// The steady run that a line typed at a host time belongs to: the board, and from when to when.
fn run_of<'b, 'a>(
    boards: &'b Boards<'a>,
    host_ns: u64,
) -> Result<(&'b Board<'a>, (f64, f64)), SpeedRefusal> {
    let (number, typed_s) = boards.at(host_ns).ok_or(SpeedRefusal::CountsMissing)?;
    let board = &boards.0[number];
    let motion = board.motion().ok_or(SpeedRefusal::NotDriven)?;
    let curve = &board.curves[motion.index()];
    let (first_s, last_s) = curve.span_s().ok_or(SpeedRefusal::CountsMissing)?;
    let end_s = (typed_s - ENDS_BEFORE_S).min(last_s);
    let pieces = ((end_s - first_s) / PIECE_S).floor();
    if pieces < 1.0 {
        return Err(SpeedRefusal::CountsMissing);
    }
    // Counted back from the typed line, the latest first.
    let rate = |n: usize| curve.rate(end_s - (n as f64 + 0.5) * PIECE_S, PIECE_S / 2.0);
    let rates: Vec<f64> = (0..pieces as usize).map_while(rate).collect();
    let at = |n: usize| end_s - n as f64 * PIECE_S;
    let need = RUN_S as usize;
    if rates.first().is_some_and(|rate| *rate >= DRIVEN) {
        let change = rates.get(..need).map(|run| change(run, curve));
        let change = change.ok_or(SpeedRefusal::CountsMissing)?;
        if change > STEADY {
            return Err(SpeedRefusal::NotSteady { change });
        }
        return Ok((board, (at(need) + SETTLE_S, at(0))));
    }
    let driven = |rate: &f64| *rate >= DRIVEN;
    let begin = rates.iter().position(driven).ok_or(SpeedRefusal::NotDriven)?;
    let stood = rates[begin..].windows(STOOD).position(|pair| !pair.iter().any(driven));
    let end = stood.map_or(rates.len(), |after| begin + after);
    let runs = steady_parts(&rates[begin..end], curve);
    let longest = runs.iter().max_by_key(|run| run.1 - run.0).ok_or(SpeedRefusal::NoSteadyRun)?;
    let speed = |run: &(usize, usize)| mean(&rates[begin..end][run.0..run.1]);
    let mine = speed(longest);
    if let Some(other) = runs.iter().map(speed).find(|one| (one / mine - 1.0).abs() > APART) {
        let times = mine.max(other) / mine.min(other);
        return Err(SpeedRefusal::TwoRuns { times });
    }
    let (to_s, from_s) = (at(begin + longest.0), at(begin + longest.1) + SETTLE_S);
    Ok((board, (from_s.max(to_s - RUN_MOST_S), to_s)))
}

/// Parts of a drive, as from and to in its pieces, in which the speed was held long enough.
fn steady_parts(rates: &[f64], curve: &CountCurve) -> Vec<(usize, usize)> {
    let need = RUN_S as usize;
    let mut out = Vec::new();
    let mut from = 0;
    while from + need <= rates.len() {
        let steady = |to: &usize| change(&rates[from..*to], curve) <= STEADY;
        match (from + need..=rates.len()).take_while(steady).last() {
            Some(to) => {
                out.push((from, to));
                from = to;
            }
            None => from += 1,
        }
    }
    out
}

fn mean(rates: &[f64]) -> f64 {
    rates.iter().sum::<f64>() / rates.len().max(1) as f64
}

/// Fastest over slowest piece, less one. Without edge times a piece holds a whole count more or
/// less at either end.
fn change(rates: &[f64], curve: &CountCurve) -> f64 {
    let lowest = rates.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = rates.iter().copied().fold(0.0, f64::max);
    let whole = if curve.is_exact() { 0.0 } else { 2.0 / PIECE_S };
    if lowest > 0.0 { ((highest - lowest - whole) / lowest).max(0.0) } else { f64::INFINITY }
}

/// What the counts show of a run.
fn measured(board: &Board<'_>, (from_s, to_s): (f64, f64)) -> Run {
    let seconds = to_s - from_s;
    let rate = |channel: Channel| {
        let curve = &board.curves[channel.index()];
        let rise = curve.at(to_s)? - curve.at(from_s)?;
        let u = if curve.is_exact() { EDGE_U * 2.0_f64.sqrt() } else { WHOLE_COUNT_U };
        (rise >= DRIVEN).then(|| Estimate::new(rise / seconds, u / seconds))
    };
    let motion = board.motion().unwrap_or(Channel::Wheel);
    let curve = &board.curves[motion.index()];
    let pieces = (seconds / PIECE_S).floor();
    let middle = |n: u32| from_s + (f64::from(n) + 0.5) * PIECE_S;
    let rates: Vec<f64> =
        (0..pieces as u32).filter_map(|n| curve.rate(middle(n), PIECE_S / 2.0)).collect();
    let mean = mean(&rates);
    let squares: f64 = rates.iter().map(|rate| (rate / mean - 1.0).powi(2)).sum();
    let count = rates.len().max(2) as f64;
    let half = rates.len() / 2;
    let halves = rates.split_at(half);
    let trend = (self::mean(halves.1) - self::mean(halves.0)).abs() / mean / (count / 2.0);
    Run {
        seconds,
        rates_hz: [rate(Channel::Wheel), rate(Channel::Radar)],
        speed_m_s: None,
        shared_u: 0.0,
        moment_u: (squares / (count - 1.0)).sqrt().max(MOMENT_LEAST),
        pieces: rates.len() as u32,
        delay: trend * DELAY_S,
    }
}

/// The mean satellite speed over a run, from the steady runs that were cut within it.
fn by_satellite(
    run: &mut Run,
    rides: &Rides<'_>,
    steady: &[SteadyRun],
    spell: &Spell,
    (from_s, to_s): (f64, f64),
) {
    let Some(ride) = rides.rides.iter().position(|ride| std::ptr::eq(ride.spell, spell)) else {
        return;
    };
    let inside = |one: &&SteadyRun| {
        one.ride == ride && one.clear && one.from_s >= from_s - 0.5 && one.to_s <= to_s + 0.5
    };
    let parts: Vec<&SteadyRun> = steady.iter().filter(inside).collect();
    let seconds: f64 = parts.iter().map(|one| one.to_s - one.from_s).sum();
    // Half of the run at the least: else it is not the run's speed.
    if seconds < 0.5 * (to_s - from_s) {
        return;
    }
    let n = parts.len() as f64;
    let value = parts.iter().map(|one| one.speed_m_s.value).sum::<f64>() / n;
    let squares: f64 = parts.iter().map(|one| one.speed_m_s.standard_uncertainty.powi(2)).sum();
    run.speed_m_s = Some(Estimate::new(value, squares.sqrt() / n));
    run.shared_u = parts.iter().map(|one| one.shared_u).fold(0.0, f64::max);
}

/// What the readings together say. Those of one speed shown share the display's rounding.
pub(super) fn evidence(readings: &[SpeedReading], source: Channel) -> Option<Evidence> {
    let used: Vec<(&SpeedReading, Run)> =
        readings.iter().filter_map(|one| Some((one, one.run.ok()?))).collect();
    let mut sources = Sources::new();
    let shown: Vec<Quantity> =
        used.iter().enumerate().map(|(n, one)| momentary(n, one, &mut sources)).collect();
    let pooled = |parts: Vec<Option<Quantity>>, satellite: bool| -> Option<Quantity> {
        let parts: Option<Vec<Quantity>> = parts.into_iter().collect();
        let parts = parts.filter(|parts| !parts.is_empty())?;
        let of: Vec<(&Quantity, f64)> =
            parts.iter().zip(weights(&used, &shown, satellite)).collect();
        Some(Quantity::weighted_sum(&of))
    };
    let per_impulse_m = [0, 1].map(|channel| {
        let part = |(n, (one, shown)): (usize, (&(&SpeedReading, Run), &Quantity))| {
            let rate = one.1.rates_hz[channel]?;
            let key = format!("rate.{channel}.{n}");
            let source = Source::normal(&key, "counts of the run", rate.standard_uncertainty);
            Some(shown / &sources.quantity(rate.value, source))
        };
        pooled(used.iter().zip(&shown).enumerate().map(part).collect(), false)
    });
    let shared_u = used.iter().map(|one| one.1.shared_u).fold(0.0, f64::max);
    let parts = used.iter().zip(&shown).enumerate().map(|(n, (one, shown))| {
        let speed = one.1.speed_m_s?;
        let name = "speed by satellite";
        let source = Source::normal(&format!("speed.{n}"), name, speed.standard_uncertainty);
        Some(shown / &sources.quantity(speed.value, source))
    });
    let ratio = pooled(parts.collect(), true);
    let name = "scale of the satellite speed, and slope";
    let scale = sources.quantity(1.0, Source::normal("speed_scale", name, shared_u));
    let ratio = ratio.map(|ratio| &ratio * &scale);
    if per_impulse_m.iter().all(Option::is_none) {
        return None;
    }
    let contradict = contradict(&used, &shown, source, &per_impulse_m);
    let follows = per_impulse_m.each_ref().map(|one| one.is_some() && !contradict);
    Some(Evidence { sources, ratio, per_impulse_m, follows, contradict })
}

/// The speed shown, with the display's step, the moment of reading and the lag.
fn momentary(number: usize, (one, run): &(&SpeedReading, Run), sources: &mut Sources) -> Quantity {
    let key = format!("display.{}", one.shown_m_s);
    let step = Source::rectangular(&key, "step of the speed shown", one.step_m_s / 2.0);
    let shown = sources.quantity(one.shown_m_s, step);
    let (key, name) = (format!("moment.{number}"), "steadiness of the run");
    let moment = Source::type_a(&key, name, run.moment_u, f64::from(run.pieces.max(2) - 1));
    let key = format!("delay.{number}");
    let delay = Source::rectangular(&key, "delay of the display", run.delay);
    &(&shown * &sources.quantity(1.0, moment)) * &sources.quantity(1.0, delay)
}

/// By what each is worth, against the satellite or against the counts, beside which nothing but the
/// display matters; readings of one speed shown are worth one.
fn weights(used: &[(&SpeedReading, Run)], shown: &[Quantity], by_satellite: bool) -> Vec<f64> {
    let same = |a: f64| used.iter().filter(|one| (one.0.shown_m_s - a).abs() < 1e-9).count();
    let weight = |(one, shown): (&(&SpeedReading, Run), &Quantity)| {
        let speed = one.1.speed_m_s.filter(|_| by_satellite);
        let satellite = speed.map_or(0.0, |v| v.standard_uncertainty / v.value);
        let u = (shown.standard_uncertainty() / shown.value()).hypot(satellite);
        u.max(1e-9).powi(-2) / same(one.0.shown_m_s) as f64
    };
    let weights: Vec<f64> = used.iter().zip(shown).map(weight).collect();
    let total: f64 = weights.iter().sum();
    weights.iter().map(|weight| weight / total).collect()
}

/// The readings scatter about the sensor's impulses by more than display and driver allow.
fn contradict(
    used: &[(&SpeedReading, Run)],
    shown: &[Quantity],
    source: Channel,
    per_impulse_m: &[Option<Quantity>; 2],
) -> bool {
    let channels = [source.index().min(1), 1 - source.index().min(1)];
    let found = channels.into_iter().find_map(|c| Some((c, per_impulse_m[c].as_ref()?.value())));
    let Some((channel, metres)) = found else { return false };
    let parts = used.iter().zip(shown).filter_map(|(one, shown)| {
        let rate = one.1.rates_hz[channel]?.value;
        Some(
            ((shown.value() / rate / metres - 1.0)
                / (shown.standard_uncertainty() / shown.value()))
            .powi(2),
        )
    });
    let freedom = used.len() as f64 - 1.0;
    freedom > 0.0 && chi_squared_survival(parts.sum(), freedom) < CHANCE_MIN
}
