//! The distance on the implement bus over each pass: a reading that nobody types.
//!
//! Every control unit that sends a distance is read by itself. The one that matters is the
//! machine-selected one, which the tractor hands on to implements; where none is sent, that of the
//! sensor that implements should go by.

use super::Evidence;
use super::FITS;
use super::bus_ends::{EndAt, EndValue, ends_at, values};
use super::bus_refusal::{BusPassRefusal, BusRefusal};
use super::evidence::{Way, together};
use crate::figure::{COVERAGE, Work};
use crate::passes::pass::{MeasuredPass, PassImpulses};
use crate::passes::prepare::prepare;
use crate::session::bus::BusKey;
use crate::session::samples::Samples;
use crate::session::trail::Trail;
use crate::session::window::PassWindow;
use crate::stats::budget::student::coverage_factor;
use crate::stats::budget::{Expanded, Quantity, Source, cover};
use crate::survey::bus::{BusDelay, MESSAGES_MIN, STAMP_U_S, distance_delay, receiver_delay_s};
use crate::wire::bus::message::{BusSpeed, SelectedSource};
use crate::wire::bus::reader::BusSample;
use trundle_protocol::units::Channel;

/// Step of a distance on the bus, metres (ISO 11783-7).
pub(super) const STEP_M: f64 = 1e-3;
/// Less is no distance, metres: a value a hundred times too large shows a metre for a pass.
const COUNTS_M: f64 = 0.02;
/// A source that fewer messages than this state is a damaged digit, as a share.
const STATED_SHARE: f64 = 0.01;
/// What the tractor counts may be another sensor than the board's: so much the two differ from pass
/// to pass, wheel and radar, as a share; common practice, no source.
const SENSORS_U: [f64; 2] = [5e-5, 5e-4];
/// Two distances of one pass that differ by no more than two steps and this share are the same.
const SAME_SHARE: f64 = 1e-4;

/// What the bus showed of one pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShownOnBus {
    /// Metres shown from peg to peg.
    pub shown_m: f64,
    /// Its step, and what it changed by at standstill, metres.
    pub step_m: f64,
    /// Speed shown at the start and at the end where they were marked on the move, metres per
    /// second; 0 at standstill.
    pub speeds_m_s: [f64; 2],
    /// Impulses of wheel and radar.
    pub impulses: [Option<PassImpulses>; 2],
    /// Length of the pass by satellite, metres.
    pub satellite_m: Option<f64>,
}

/// A pass on the bus.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BusPass {
    /// From 1.
    pub number: u32,
    /// What came of it, or why it is not used.
    pub shown: Result<ShownOnBus, BusPassRefusal>,
}

/// Where the selected distance comes from, as the messages of the passes state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandedOn {
    /// They do not say.
    NotStated,
    /// All of them say this.
    From(SelectedSource),
    /// It changed in the passes: this most of the time.
    Changed(SelectedSource),
}

impl HandedOn {
    /// The sensor that it says it is may be this one.
    pub(super) const fn may_be(self, channel: Channel) -> bool {
        match self {
            Self::NotStated | Self::Changed(_) => true,
            Self::From(SelectedSource::Wheel) => matches!(channel, Channel::Wheel),
            Self::From(SelectedSource::Ground) => matches!(channel, Channel::Radar),
            Self::From(_) => false,
        }
    }

    /// It may be a satellite receiver.
    pub(super) const fn may_be_satellite(self) -> bool {
        matches!(self, Self::NotStated | Self::Changed(_) | Self::From(SelectedSource::Navigation))
    }
}

/// One distance of one control unit.
#[derive(Clone, Debug)]
pub struct BusReading {
    /// Who, and which one.
    pub key: BusKey,
    /// Where it comes from, of a selected one.
    pub handed_on: HandedOn,
    /// Delay of the distance, where a mark on the move asks for it and it could be measured.
    pub delay: Option<BusDelay>,
    /// The passes.
    pub passes: Vec<BusPass>,
    /// What the passes together say.
    pub evidence: Option<Evidence>,
}

impl BusReading {
    /// The sensor that it goes by, as far as that is stated: wheel or radar.
    #[must_use]
    pub fn sensor(&self) -> Option<Channel> {
        match (self.key.kind, self.handed_on) {
            (BusSpeed::Wheel, _) | (_, HandedOn::From(SelectedSource::Wheel)) => {
                Some(Channel::Wheel)
            }
            (BusSpeed::Ground, _) | (_, HandedOn::From(SelectedSource::Ground)) => {
                Some(Channel::Radar)
            }
            _ => None,
        }
    }

    /// Shown over true and its uncertainty, where the truth is known.
    #[must_use]
    pub fn ratio(&self) -> Option<(f64, Expanded)> {
        let evidence = self.evidence.as_ref()?;
        let ratio = evidence.ratio.as_ref()?;
        Some((ratio.value(), cover(ratio, &evidence.sources, COVERAGE)))
    }

    /// The value that it works with, impulses per 100 m of its sensor, where that is stated and
    /// wired to the board.
    #[must_use]
    pub fn in_force(&self) -> Option<(f64, Expanded)> {
        let evidence = self.evidence.as_ref()?;
        let metres = evidence.per_impulse_m[self.sensor()?.index().min(1)].as_ref()?;
        let value = &Quantity::exact(100.0) / metres;
        Some((value.value(), cover(&value, &evidence.sources, COVERAGE)))
    }

    /// The passes that are used.
    fn used(&self) -> impl Iterator<Item = (u32, ShownOnBus)> + '_ {
        self.passes.iter().filter_map(|pass| Some((pass.number, pass.shown.ok()?)))
    }
}

/// Everything that the bus showed.
#[derive(Clone, Debug)]
pub struct OnBus {
    /// In the order of senders and speeds; those of fewer than a hundred messages are left out.
    pub readings: Vec<BusReading>,
    /// Which of them the answer rests on, or why none.
    pub chosen: Result<usize, BusRefusal>,
    /// What the tractor of that one hands on.
    pub handed_on: HandedOn,
}

impl OnBus {
    /// The one that the answer rests on.
    #[must_use]
    pub fn reading(&self) -> Option<&BusReading> {
        self.readings.get(*self.chosen.as_ref().ok()?)
    }
}

/// A pass and where its ends lie in the messages.
struct Ends<'a> {
    number: u32,
    measured: Option<&'a MeasuredPass>,
    at: Option<[EndAt; 2]>,
}

/// Read the bus of a trail at the ends of the passes; `None` where nothing was received from one.
pub(super) fn on_bus(
    windows: &[PassWindow],
    trail: &Trail,
    work: &Work,
    source: Channel,
) -> Option<OnBus> {
    let streams: Vec<(&BusKey, &Samples<BusSample>)> =
        trail.bus.streams.iter().filter(|(_, samples)| samples.len() >= MESSAGES_MIN).collect();
    if streams.is_empty() {
        return None;
    }
    let passes: Vec<Ends<'_>> = windows.iter().map(|window| ends(window, work)).collect();
    let rolls = |pass: &Ends<'_>| pass.measured.is_some_and(|pass| !pass.standing);
    let rolling = passes.iter().any(rolls);
    let receiver = rolling.then(|| receiver_delay_s(trail)).flatten();
    let reading = |(key, samples): (&BusKey, &Samples<BusSample>)| {
        let delay = rolling.then(|| distance_delay(trail, samples, receiver).ok()).flatten();
        let passes = passes
            .iter()
            .map(|pass| BusPass { number: pass.number, shown: shown(pass, samples, delay) });
        let (passes, handed_on) = (passes.collect(), handed_on(samples, windows));
        let mut reading = BusReading { key: *key, handed_on, delay, passes, evidence: None };
        reading.evidence = evidence(&reading, work, reading.sensor().unwrap_or(source));
        reading
    };
    let readings: Vec<BusReading> = streams.into_iter().map(reading).collect();
    let chosen = choose(&readings, source);
    let sender = chosen.ok().map(|n| readings[n].key.sender);
    let selected =
        |one: &&BusReading| one.key.kind == BusSpeed::Selected && Some(one.key.sender) == sender;
    let handed_on = readings.iter().find(selected);
    let handed_on = handed_on.map_or(HandedOn::NotStated, |one| one.handed_on);
    Some(OnBus { readings, chosen, handed_on })
}

fn ends<'a>(window: &PassWindow, work: &'a Work) -> Ends<'a> {
    let number = window.number;
    let pass = work.passes.iter().find(|pass| pass.number == number);
    let measured = pass.and_then(|pass| pass.measured.as_ref()).filter(|pass| !pass.refused());
    let at = prepare(window).ok().and_then(|pass| ends_at(&pass));
    Ends { number, measured, at }
}

fn shown(
    pass: &Ends<'_>,
    samples: &Samples<BusSample>,
    delay: Option<BusDelay>,
) -> Result<ShownOnBus, BusPassRefusal> {
    let (measured, at) = pass.measured.zip(pass.at).ok_or(BusPassRefusal::Refused)?;
    let shown = between(values(samples, at, delay)?)?;
    let impulses = [measured.impulses[0], measured.impulses[1]];
    let satellite_m = measured.satellite.map(|length| length.joined.length_m);
    Ok(ShownOnBus { impulses, satellite_m, ..shown })
}

/// From one end to the other, as far as the messages alone say.
fn between([start, finish]: [EndValue; 2]) -> Result<ShownOnBus, BusPassRefusal> {
    if start.run != finish.run {
        return Err(BusPassRefusal::Restarted);
    }
    let shown_m = (finish.mm - start.mm) * 1e-3;
    if shown_m < COUNTS_M {
        return Err(BusPassRefusal::NotCounting);
    }
    let step_m = STEP_M + (start.spread_mm + finish.spread_mm) * 1e-3;
    let speeds_m_s = [start.mm_s * 1e-3, finish.mm_s * 1e-3];
    Ok(ShownOnBus { shown_m, step_m, speeds_m_s, impulses: [None; 2], satellite_m: None })
}

/// What the messages of the passes state.
fn handed_on(samples: &Samples<BusSample>, windows: &[PassWindow]) -> HandedOn {
    let mut stated: Vec<(SelectedSource, usize)> = Vec::new();
    for window in windows.iter().filter(|window| window.rejected.is_none()) {
        let Some(finish) = window.finish else { continue };
        let begin = samples.partition_point(|one| one.host_ns < window.start.host_ns);
        let inside = samples.from(begin).take_while(|one| one.host_ns <= finish.host_ns);
        for source in inside.filter_map(|one| one.source) {
            match stated.iter_mut().find(|known| known.0 == source) {
                Some(known) => known.1 += 1,
                None => stated.push((source, 1)),
            }
        }
    }
    stated.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let all: usize = stated.iter().map(|(_, count)| count).sum();
    match stated[..] {
        [] => HandedOn::NotStated,
        [(first, _), (_, count), ..] if count as f64 > STATED_SHARE * all as f64 => {
            HandedOn::Changed(first)
        }
        [(first, _), ..] => HandedOn::From(first),
    }
}

fn evidence(reading: &BusReading, work: &Work, source: Channel) -> Option<Evidence> {
    let k = coverage_factor(FITS, f64::INFINITY);
    let way = |(number, shown): (u32, ShownOnBus)| {
        let (key, name) = (format!("bus.{number}"), "step of the distance on the bus, both ends");
        let mut parts = vec![(Source::triangular(&key, name, shown.step_m), 1.0)];
        let [start_m_s, finish_m_s] = shown.speeds_m_s;
        let (both_m_s, more_m_s) = (start_m_s.hypot(finish_m_s), finish_m_s - start_m_s);
        let delay_u_s = reading.delay.map_or(0.0, |delay| delay.seconds.standard_uncertainty);
        if both_m_s > 0.0 {
            let (key, name) = (format!("bus_stamp.{number}"), "arrival of messages on the move");
            parts.push((Source::normal(&key, name, STAMP_U_S), both_m_s));
            let source = Source::normal("bus_delay", "delay of the distance on the bus", delay_u_s);
            parts.push((source, more_m_s));
        }
        Way {
            number,
            shown_m: shown.shown_m,
            impulses: shown.impulses,
            parts,
            allowed_m: shown.step_m + k * (STAMP_U_S * both_m_s + delay_u_s * more_m_s.abs()),
        }
    };
    let ways: Vec<Way> = reading.used().map(way).collect();
    together(&ways, work, [Channel::Wheel, Channel::Radar], source, SENSORS_U)
}

/// The one that matters: the selected distance, or where that has none, that of the sensor which
/// its sender says it is; without one, that of the sensor that implements should go by.
fn choose(readings: &[BusReading], source: Channel) -> Result<usize, BusRefusal> {
    let kind_of = |channel: Channel| match channel {
        Channel::Radar => BusSpeed::Ground,
        Channel::Wheel | Channel::Pto => BusSpeed::Wheel,
    };
    let usable = |n: &usize| readings[*n].evidence.is_some();
    let all = || 0..readings.len();
    let of_kind = |kind: BusSpeed| all().filter(move |n| readings[*n].key.kind == kind);
    let stand_in = |n: usize| {
        let kind = kind_of(readings[n].sensor()?);
        of_kind(kind).find(|other| readings[*other].key.sender == readings[n].key.sender)
    };
    let selected = of_kind(BusSpeed::Selected);
    let mut able: Vec<usize> = selected
        .filter_map(|n| if usable(&n) { Some(n) } else { stand_in(n) })
        .filter(usable)
        .collect();
    if able.is_empty() {
        able = of_kind(kind_of(source)).filter(usable).collect();
    }
    let first = *able.first().ok_or(BusRefusal::NoPass)?;
    match able.iter().find(|n| !same(&readings[first], &readings[**n])) {
        None => Ok(first),
        Some(other) => Err(BusRefusal::SendersDiffer {
            one: readings[first].key.sender,
            other: readings[*other].key.sender,
        }),
    }
}

/// They show the same of every pass that both show, and state the same source.
fn same(a: &BusReading, b: &BusReading) -> bool {
    let near = |(number, a): (u32, ShownOnBus)| {
        let other = b.used().find(|one| one.0 == number);
        other.is_none_or(|(_, b)| {
            let allowed_m = a.step_m + b.step_m + SAME_SHARE * a.shown_m;
            (a.shown_m - b.shown_m).abs() <= allowed_m
        })
    };
    a.handed_on == b.handed_on && a.used().all(near)
}
