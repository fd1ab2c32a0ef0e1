//! What may be in force in the terminal, and what the readings say to each of it.

use super::on_bus::HandedOn;
use super::{Evidence, FITS, Known, Origin};
use crate::figure::{COVERAGE, Work};
use crate::stats::budget::{Quantity, Source, cover};
use trundle_protocol::units::Channel;

/// ISO 11786 has 130 impulses per metre for both speeds: what a terminal may hold when it is new.
const STANDARD_PER_100M: f64 = 13_000.0;
/// A value that differs from the one keyed in by less than this share costs nothing that anybody
/// would see in the field; common practice, no source.
const ALIKE: f64 = 0.0025;
/// Readings that are good only to this share, with the coverage of every interval, do not show that
/// a value took: the mistakes worth finding are a few per cent.
pub(super) const USELESS: f64 = 0.02;
/// Usual mistakes of a number, as what is shown over what would be right: doubled and halved, a
/// place of the decimal point, impulses per metre in the place of per 100 m.
const TIMES: [f64; 6] = [2.0, 0.5, 10.0, 0.1, 100.0, 0.01];

/// Why the terminal would show what it shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// The value keyed in is in force; where that is not known: the display is right.
    Entered,
    /// The value from before is still in force.
    Old,
    /// The value of the other sensor was keyed in.
    OtherSensorsValue,
    /// It goes by the other sensor, with the value that is right for that one.
    OtherSource,
    /// It goes by the other sensor, with the value keyed in.
    OtherSourceEntered,
    /// It goes by the other sensor, with the value from before.
    OtherSourceOld,
    /// It goes by the other sensor, with the standard's 130 impulses per metre.
    OtherSourceStandard,
    /// The value belongs to the wheel on these tyres.
    Tyres(String),
    /// It shows so many times what would be right: 2, 10, 100 or one over these.
    Times(f64),
    /// The standard's 130 impulses per metre: nothing was keyed in, or it was lost.
    Standard,
    /// It goes by the satellite receiver, which needs no value.
    Satellite,
    /// The value keyed in is in force, and the tractor stands on these tyres, which have another.
    OnTyres(String),
}

impl Cause {
    /// A word for programs; never changes.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Entered => "ENTERED",
            Self::Old => "OLD",
            Self::OtherSensorsValue => "OTHER_SENSORS_VALUE",
            Self::OtherSource => "OTHER_SOURCE",
            Self::OtherSourceEntered => "OTHER_SOURCE_ENTERED",
            Self::OtherSourceOld => "OTHER_SOURCE_OLD",
            Self::OtherSourceStandard => "OTHER_SOURCE_STANDARD",
            Self::Tyres(_) => "OTHER_TYRES",
            Self::Times(_) => "FACTOR",
            Self::Standard => "STANDARD",
            Self::Satellite => "SATELLITE",
            Self::OnTyres(_) => "ON_OTHER_TYRES",
        }
    }
}

/// One thing that may be in force.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Why it would be.
    pub cause: Cause,
    /// The sensor that the terminal would go by.
    pub channel: Channel,
    /// The value that would be in force, impulses per 100 m, where that is a known number.
    pub per_100m: Option<f64>,
    /// What it would show over the truth, where that is known.
    pub expected: Option<f64>,
    /// What is shown over what it would show.
    pub shown_over_expected: f64,
    /// Half-width of the interval of that, in which 1 has to lie.
    pub half_width: f64,
    /// The readings bear it out.
    pub fits: bool,
    /// The readings are good enough to show that.
    pub sharp: bool,
    /// It would show the same as the value keyed in, to a share that costs nothing.
    pub alike: bool,
}

impl Candidate {
    /// It would show something else than the value keyed in, and the readings bear it out.
    pub(super) const fn is_rival(&self) -> bool {
        self.fits && !self.alike && !matches!(self.cause, Cause::OnTyres(_))
    }

    const fn is_factor(&self) -> bool {
        matches!(self.cause, Cause::Times(_))
    }
}

/// A value to be tried.
struct Trial {
    cause: Cause,
    channel: Channel,
    /// Impulses per 100 m, and its standard uncertainty as a share where it was measured here.
    value: Option<(f64, f64)>,
}

/// All that can be tried, the value keyed in first. What goes by another source than `handed_on`
/// states fits in no case.
pub(super) fn candidates(
    evidence: &mut Evidence,
    known: &Known,
    work: &Work,
    handed_on: HandedOn,
) -> Vec<Candidate> {
    let mut out: Vec<Candidate> = Vec::new();
    for trial in trials(known, work) {
        let Some(over) = shown_over_expected(evidence, &trial, known) else { continue };
        let half = |p: f64| cover(&over, &evidence.sources, p).expanded_uncertainty;
        let (half_width, sharp) = (half(FITS), half(COVERAGE) <= USELESS);
        let value = over.value();
        let satellite = trial.cause == Cause::Satellite;
        let follows = satellite
            || evidence.per_impulse_m[trial.channel.index().min(1)].is_none()
            || evidence.follows[trial.channel.index().min(1)];
        let stated =
            if satellite { handed_on.may_be_satellite() } else { handed_on.may_be(trial.channel) };
        let better = |one: &Candidate| (one.shown_over_expected - 1.0).abs() <= (value - 1.0).abs();
        if let Some(same) = out.iter().position(|one| one.cause == trial.cause && one.is_factor()) {
            if better(&out[same]) {
                continue;
            }
            out.remove(same);
        }
        let first = out.first().map_or(value, |first| first.shown_over_expected);
        let expected = match &evidence.ratio {
            Some(ratio) => Some(ratio.value() / value),
            None => known.entered().map(|_| first / value),
        };
        out.push(Candidate {
            // Another source with what is right for it shows the same, as far as it fits at all.
            alike: satellite
                || trial.cause == Cause::OtherSource
                || (value / first - 1.0).abs() <= ALIKE,
            cause: trial.cause,
            channel: trial.channel,
            per_100m: trial.value.map(|value| value.0),
            expected,
            shown_over_expected: value,
            half_width,
            sharp,
            fits: stated && follows && (value - 1.0).abs() <= half_width,
        });
    }
    out
}

/// What is keyed in is as a rule a whole number, rounded or cut off.
fn whole(value: f64) -> [f64; 3] {
    [value.floor().max(1.0), value, value.ceil()]
}

/// The value keyed in and its usual mistakes that show more than it.
pub(super) fn small_values(known: &Known) -> Vec<f64> {
    let entered = known.entered().into_iter();
    let times = TIMES.into_iter().filter(|times| *times > 1.0).chain([1.0]);
    let values = entered.flat_map(|value| times.clone().map(move |times| value / times));
    values.flat_map(whole).collect()
}

fn trials(known: &Known, work: &Work) -> Vec<Trial> {
    let (source, other) = (known.source(), known.other());
    let exact = |value: f64| Some((value, 0.0));
    let trial = |cause, channel, value| Trial { cause, channel, value };
    let entered = known.entered();
    let mut out = vec![trial(Cause::Entered, source, entered.and_then(exact))];
    out.extend(known.of(&Origin::Old).map(|value| trial(Cause::Old, source, exact(value))));
    let stated: Vec<f64> = known.of(&Origin::OtherSensor).collect();
    let measured = || {
        let found = work.channels.iter().find(|one| one.index == other.index())?;
        let value = found.best().or(found.blended.as_ref())?;
        Some((value.value(), value.standard_uncertainty() / value.value()))
    };
    let others: Vec<(f64, f64)> = if stated.is_empty() {
        measured().into_iter().collect()
    } else {
        stated.iter().map(|value| (*value, 0.0)).collect()
    };
    for value in &others {
        out.push(trial(Cause::OtherSensorsValue, source, Some(*value)));
    }
    let tyres = known.values.iter().filter(|_| source == Channel::Wheel);
    for (one, name) in tyres.filter_map(|one| Some((one, one.origin.tyres()?.to_owned()))) {
        out.push(trial(Cause::Tyres(name.clone()), source, exact(one.per_100m)));
        out.push(trial(Cause::OnTyres(name), source, exact(one.per_100m)));
    }
    for times in TIMES {
        match entered.map(|value| value / times) {
            None => out.push(trial(Cause::Times(times), source, None)),
            Some(value) => {
                out.extend(
                    whole(value).map(|value| trial(Cause::Times(times), source, exact(value))),
                );
            }
        }
    }
    out.push(trial(Cause::Standard, source, exact(STANDARD_PER_100M)));
    out.extend(others.iter().map(|value| trial(Cause::OtherSource, other, Some(*value))));
    if let Some(value) = entered {
        out.push(trial(Cause::OtherSourceEntered, other, exact(value)));
    }
    for value in known.of(&Origin::Old) {
        out.push(trial(Cause::OtherSourceOld, other, exact(value)));
    }
    out.push(trial(Cause::OtherSourceStandard, other, exact(STANDARD_PER_100M)));
    out.push(trial(Cause::Satellite, source, None));
    out
}

/// What is shown over what the trial would show. By the impulses of its sensor, where there are
/// any: then nothing but display and counts is uncertain.
fn shown_over_expected(evidence: &mut Evidence, trial: &Trial, known: &Known) -> Option<Quantity> {
    let Some((value, u)) = trial.value else {
        let times = if let Cause::Times(times) = trial.cause { times } else { 1.0 };
        return Some(evidence.ratio.as_ref()?.scaled(times.recip()));
    };
    if let Cause::OnTyres(_) = trial.cause {
        // By the impulses that these tyres give, and the value keyed in.
        return Some(evidence.ratio.as_ref()?.scaled(known.entered()? / value));
    }
    let over = match &evidence.per_impulse_m[trial.channel.index().min(1)] {
        Some(metres) => metres.scaled(value / 100.0),
        // The sensor is not wired to the board: by what the value keyed in should show.
        None if trial.channel == known.source() => {
            evidence.ratio.as_ref()?.scaled(value / known.entered()?)
        }
        None => return None,
    };
    let key = format!("other.{}", trial.channel.name());
    let source = Source::normal(&key, "value of the other sensor, as measured here", u);
    Some(if u > 0.0 { &over * &evidence.sources.quantity(1.0, source) } else { over })
}
