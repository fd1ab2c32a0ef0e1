//! What the bus shows against the satellites: delay and scale of each speed of each control unit.
//!
//! A stream of the bus is laid on the host's clock as if it were a counter that counts its
//! millimetres, and put through the same ride and the same sections of distance as the impulses
//! of a board: the lag between it and the fixes shows its delay, by the changes of speed and with
//! a filter in mind that it may come through; its millimetres over the axle's way show its scale.
//! A counter board beside it shows how late the receiver itself is; without one only the
//! difference of the two delays is known.

mod laid;
mod refusal;
mod standing;

pub use refusal::{NoDelay, NoScale};

use crate::capture::Arrival;
use crate::figure::{COVERAGE, PASSES_GOOD, unchecked_u};
use crate::session::bus::BusKey;
use crate::session::samples::Samples;
use crate::session::trail::Trail;
use crate::stats::budget::student::coverage_factor;
use crate::stats::fit::line::Estimate;
use crate::survey::ride::parts::PartKind;
use crate::survey::ride::rides;
use crate::survey::slip::{Section, SlipOptions, Total, ZeroSlip, slip, total};
use crate::wire::bus::message::{BusSpeed, SelectedSource};
use crate::wire::bus::reader::BusSample;
use crate::wire::fix::Quality;
use laid::{Laid, laid};

/// Fewer messages than this are no stream to be measured, ten seconds of them.
pub(super) const MESSAGES_MIN: usize = 100;
/// A board's frame takes 9 ms on a line of 115,200 baud and next to nothing over USB: half of it,
/// seconds.
pub(super) const BOARD_S: f64 = 0.0045;
/// Standard uncertainty of the arrivals that a delay rests on, seconds: that of a board's frame,
/// and the computer stamps bytes late, not always by the same.
pub(super) const STAMP_U_S: f64 = 0.004;
/// A section that turns by more than this is not straight, radians: an antenna half a metre beside
/// the middle then goes a centimetre further or less.
const STRAIGHT_RAD: f64 = 0.02;
/// Fewer passes show no scatter of their own.
const PARTS_MIN: usize = 3;

/// Against what a delay is stated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DelayAgainst {
    /// The movement itself.
    Ground,
    /// The receiver's sentences as they arrive, which are late themselves.
    Receiver,
}

/// How late a value arrives: the mean delay, dead time and time constants together. At a steady
/// speed a distance lags behind by it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BusDelay {
    /// Against what.
    pub against: DelayAgainst,
    /// Seconds; positive: later.
    pub seconds: Estimate,
    /// Half-width of the 95 % interval, seconds.
    pub half_width_s: f64,
}

/// What it shows over what is true.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BusScale {
    /// Shown over true distance; 1 is right.
    pub ratio: Estimate,
    /// Half-width of the 95 % interval of the ratio.
    pub half_width: f64,
    /// Distance it rests on, metres.
    pub distance_m: f64,
    /// Passes that it is made of.
    pub passes: usize,
    /// There was no distance in the messages: by the speed, added up.
    pub by_speed: bool,
}

/// One speed of one control unit.
#[derive(Clone, Debug, PartialEq)]
pub struct BusStream {
    /// Who, and which speed.
    pub key: BusKey,
    /// Messages received.
    pub messages: usize,
    /// Of those, with a speed.
    pub with_speed: usize,
    /// Of those, with a distance.
    pub with_distance: usize,
    /// From the first to the last, seconds.
    pub seconds: f64,
    /// How often the distance began anew.
    pub restarts: u32,
    /// Where a selected speed comes from, as stated, with the messages that state it, most first.
    pub sources: Vec<(SelectedSource, usize)>,
    /// Delay of the speed.
    pub speed_delay: Result<BusDelay, NoDelay>,
    /// Delay of the distance.
    pub distance_delay: Result<BusDelay, NoDelay>,
    /// Its scale.
    pub scale: Result<BusScale, NoScale>,
}

/// Everything that came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct BusSurvey {
    /// In the order of senders and speeds; those of fewer than a hundred messages are left out.
    pub streams: Vec<BusStream>,
    /// How late the receiver is, by the counter board, seconds.
    pub receiver_delay_s: Option<Estimate>,
    /// The trail ends before the capture does.
    pub cut: bool,
}

/// The values that are keyed in for the tractor's own sensors, impulses per 100 m, as typed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct KeyedIn {
    /// For the wheel-based speed.
    pub wheel: Option<f64>,
    /// For the ground-based speed.
    pub ground: Option<f64>,
}

impl KeyedIn {
    /// The value with which a stream would show what is true: what is shown is impulses over the
    /// value in force.
    #[must_use]
    pub fn right_value(&self, stream: &BusStream) -> Option<Estimate> {
        let keyed = match stream.key.kind {
            BusSpeed::Wheel => self.wheel?,
            BusSpeed::Ground => self.ground?,
            BusSpeed::Selected => return None,
        };
        let ratio = stream.scale.as_ref().ok()?.ratio;
        Some(Estimate::new(keyed * ratio.value, keyed * ratio.standard_uncertainty))
    }
}

/// Survey the bus of a trail; `None` where nothing was received from one.
#[must_use]
pub fn survey(trail: &Trail) -> Option<BusSurvey> {
    let all = trail.bus.streams.iter().filter(|(_, samples)| samples.len() >= MESSAGES_MIN);
    let receiver = receiver_delay_s(trail);
    let streams: Vec<BusStream> =
        all.map(|(key, samples)| stream(trail, *key, samples, receiver)).collect();
    let receiver_delay_s = receiver.filter(|_| trail.arrival == Arrival::Measured);
    let cut = trail.bus.cut || trail.cut;
    (!streams.is_empty()).then_some(BusSurvey { streams, receiver_delay_s, cut })
}

fn stream(
    trail: &Trail,
    key: BusKey,
    samples: &Samples<BusSample>,
    receiver: Option<Estimate>,
) -> BusStream {
    let (mut with_speed, mut with_distance) = (0, 0);
    let mut sources: Vec<(SelectedSource, usize)> = Vec::new();
    for sample in samples {
        with_speed += usize::from(sample.speed_mm_s.is_some());
        with_distance += usize::from(sample.distance.is_some());
        let Some(source) = sample.source else { continue };
        match sources.iter_mut().find(|known| known.0 == source) {
            Some(known) => known.1 += 1,
            None => sources.push((source, 1)),
        }
    }
    sources.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let ends = samples.first().zip(samples.last());
    let by_speed = with_distance < MESSAGES_MIN;
    // One after the other: each takes as much as the counts of a board.
    let speeds = laid(trail, samples, Laid::Speed);
    let speed_delay = delay(&speeds, receiver);
    let scale = if by_speed {
        scale(&speeds, true)
    } else {
        drop(speeds);
        scale(&laid(trail, samples, Laid::Distance), false)
    };
    BusStream {
        key,
        messages: samples.len(),
        with_speed,
        with_distance,
        seconds: ends.map_or(0.0, |(a, b)| (b.host_ns - a.host_ns) as f64 * 1e-9),
        restarts: samples.last().and_then(|last| last.distance).map_or(0, |at| at.run),
        sources,
        speed_delay,
        distance_delay: distance_delay(trail, samples, receiver),
        scale,
    }
}

/// How late the receiver is by the counter board, seconds.
pub fn receiver_delay_s(trail: &Trail) -> Option<Estimate> {
    rides(trail).ok().map(|rides| rides.lag.estimate_s())
}

/// Delay of the distance of one stream, beside a receiver that is so late itself.
///
/// # Errors
/// [`NoDelay`], where it cannot be seen.
pub fn distance_delay(
    trail: &Trail,
    samples: &Samples<BusSample>,
    receiver: Option<Estimate>,
) -> Result<BusDelay, NoDelay> {
    delay(&laid(trail, samples, Laid::Averaged), receiver)
}

/// The lag of the fixes against the stream is the receiver's delay less the stream's.
fn delay(laid: &Trail, receiver: Option<Estimate>) -> Result<BusDelay, NoDelay> {
    if laid.arrival == Arrival::Derived {
        return Err(NoDelay::Derived);
    }
    let rides = rides(laid).map_err(NoDelay::Ride)?;
    let lag = rides.mean_lag(laid.arrival).map_err(NoDelay::Ride)?.estimate_s();
    let (against, late_s, u_s) = match receiver {
        Some(own) => (DelayAgainst::Ground, own.value, own.standard_uncertainty),
        None => (DelayAgainst::Receiver, 0.0, 0.0),
    };
    let u_s = lag.standard_uncertainty.hypot(u_s).hypot(STAMP_U_S);
    // A board's own delay is in the receiver's by the board, not in that by the stream.
    let board_s = if receiver.is_some() { BOARD_S } else { 0.0 };
    let seconds = Estimate::new(late_s + board_s - lag.value, u_s);
    let half_width_s = coverage_factor(COVERAGE, f64::INFINITY) * u_s;
    Ok(BusDelay { against, seconds, half_width_s })
}

/// From standstill to standstill, where there are drives enough; else over sections on the move,
/// where those say more.
fn scale(laid: &Trail, by_speed: bool) -> Result<BusScale, NoScale> {
    let unit = if by_speed { Laid::Speed } else { Laid::Distance };
    let standing = standing::scale(laid, unit);
    if let Some(standing) = standing.filter(|standing| standing.passes >= PASSES_GOOD) {
        return Ok(standing);
    }
    match (standing, rolling_scale(laid, unit)) {
        (Some(standing), Ok(rolling)) if rolling.half_width < standing.half_width => Ok(rolling),
        (Some(standing), _) => Ok(standing),
        (None, rolling) => rolling,
    }
}

/// Shown millimetres over the axle's way, on straight sections.
fn rolling_scale(laid: &Trail, unit: Laid) -> Result<BusScale, NoScale> {
    let zero_slip = ZeroSlip { per_100m: 100.0 * unit.per_m(), standard_uncertainty: 0.0 };
    let options = SlipOptions { zero_slip: Some(zero_slip), ..SlipOptions::default() };
    let slip = slip(laid, &options).map_err(NoScale::Slip)?;
    let straight: Vec<Section> = slip.sections.into_iter().filter(is_straight).collect();
    let of = |sections: &[Section]| total(sections.iter(), &zero_slip);
    let all = of(&straight).ok_or(NoScale::NoPass)?;
    let ratio = 1.0 / (1.0 - all.slip);
    let model = all.standard_uncertainty * ratio * ratio;
    let passes: Vec<Total> = straight.chunk_by(|a, b| a.part == b.part).filter_map(of).collect();
    let (u, half_width) = widened(&passes, ratio, model);
    // As from standstill to standstill: no tape checks the receiver, and no scatter shows it.
    let unchecked = ratio * unchecked_u(usual_quality(laid));
    let half_unchecked = coverage_factor(COVERAGE, f64::INFINITY) * unchecked;
    Ok(BusScale {
        ratio: Estimate::new(ratio, u.hypot(unchecked)),
        half_width: half_width.hypot(half_unchecked),
        distance_m: all.distance_m,
        passes: passes.len(),
        by_speed: unit == Laid::Speed,
    })
}

/// Centimetre positions where most are.
fn usual_quality(laid: &Trail) -> Quality {
    let (mut fixed, mut all) = (0, 0);
    for fix in laid.spells.iter().flat_map(|spell| &spell.fixes) {
        all += 1;
        fixed += usize::from(fix.quality == Quality::RtkFixed);
    }
    if 2 * fixed > all { Quality::RtkFixed } else { Quality::Standalone }
}

/// Straight enough that the antenna goes as far as the axle, wherever it is, and not questioned.
fn is_straight(section: &Section) -> bool {
    section.kind == PartKind::Pass
        && section.turned_rad.abs() < STRAIGHT_RAD
        && section.flags.is_empty()
}

/// Passes may differ by more than their errors: then their scatter counts, with few degrees of
/// freedom. Shares no pass with the errors that all have in common, so the greater is taken.
fn widened(passes: &[Total], mean: f64, model: f64) -> (f64, f64) {
    let of_model = coverage_factor(COVERAGE, f64::INFINITY) * model;
    let parts: Vec<(f64, f64)> =
        passes.iter().map(|pass| (1.0 / (1.0 - pass.slip), pass.distance_m)).collect();
    if parts.len() < PARTS_MIN {
        return (model, of_model);
    }
    let n = parts.len() as f64;
    let whole_m: f64 = parts.iter().map(|part| part.1).sum();
    // Weighted by distance, as their sum is.
    let square: f64 =
        parts.iter().map(|(ratio, m)| (m / whole_m * (ratio - mean)).powi(2)).sum::<f64>();
    let scatter = (square * n / (n - 1.0)).sqrt();
    let by_scatter = coverage_factor(COVERAGE, n - 1.0) * scatter;
    if by_scatter > of_model { (scatter, by_scatter) } else { (model, of_model) }
}
