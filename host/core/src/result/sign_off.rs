//! From a worked capture to a record: what may be signed off, and what a signature needs.

use super::as_left::contradicted;
use super::part_v1::{PartMethodV1, PartV1};
use super::record_v1::{AmendsV1, CaptureV1, CourseOf, FORMAT, MethodV1, RecordV1, VERSION};
use super::sign_clock;
use super::work_v1::{WeightV1, WorkV1};
use crate::rig::conditions::{self, Conditions};
use crate::rig::{Snapshot, Thing};
use crate::survey::proof::SignedValue;
use crate::units::decimals;
use crate::wire::clock_offset::ClockOffset;
use trundle_protocol::units::Channel;

/// Name of the only method there is: impulses counted over a measured course, pass by pass.
const METHOD: &str = "measured-course";
/// Its version: raised when the same capture would give another value.
const METHOD_VERSION: u32 = 1;
/// Values further apart than this are not the same value entered, impulses per 100 m: terminals
/// round to whole numbers.
pub(super) const SAME_FIGURE: f64 = 0.5;

/// What a person says when signing off.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Said {
    /// When, RFC 3339, UTC.
    pub issued_utc: String,
    /// The rig and all that it names.
    pub rig: Snapshot,
    /// `wheel` or `radar`; what the implement's speed comes from if `None`.
    pub channel: Option<String>,
    /// Where it was, in words.
    pub place: Option<String>,
    /// The conditions it was measured under.
    pub conditions: Conditions,
    /// Keys stated by the customer.
    pub stated_by_customer: Vec<String>,
    /// Value found, impulses per 100 m.
    pub as_found: Option<f64>,
    /// Value left, impulses per 100 m.
    pub as_left: Option<f64>,
    /// Why it is signed off although it is flagged.
    pub accepted_because: Option<String>,
    /// How far the computer's clock and the receiver's time lay apart while it was recorded.
    pub clocks: Option<ClockOffset>,
    /// When the newest record of the register was signed off, RFC 3339, UTC.
    pub newest_utc: Option<String>,
    /// What is to be said because the rig goes with another counter board.
    pub other_board: Option<String>,
    /// A remark in free text.
    pub remark: Option<String>,
    /// The record that is amended.
    pub amends: Option<AmendsV1>,
    /// Course given, and what else the work was asked.
    pub course_toml: Option<String>,
    /// Wanted rate, litres per hectare.
    pub rate_l_per_ha: Option<f64>,
    /// Impulses of one turn.
    pub impulses_per_turn: Option<f64>,
    /// Rolling circumference, in metres.
    pub circumference_m: Option<f64>,
}

/// What was measured, as it is going to be signed off.
#[derive(Clone, Debug)]
pub struct Visit<'a> {
    /// The worked course and its log, where one was driven.
    pub course: Option<(&'a WorkV1, CaptureV1)>,
    /// Everything else that was measured, each kind once.
    pub parts: Vec<PartV1>,
    /// One of the captures came from the simulator.
    pub practice: bool,
}

/// Why nothing is signed off.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SignRefusal {
    /// The rig goes by satellite: there are no impulses to enter.
    #[error("the implement's speed comes from satellite, which has no impulses per 100 m")]
    Satellite,
    /// The capture has no such sensor.
    #[error("the capture holds nothing of the {0} sensor")]
    NoSensor(String),
    /// There is no value.
    #[error("there is no {channel} value to enter: {why}")]
    NoFigure {
        /// The sensor that was chosen.
        channel: String,
        /// What stands in the way.
        why: String,
    },
    /// It is flagged, and nobody said why that is accepted.
    #[error("the result is flagged: {0}")]
    Flagged(String),
    /// A part is flagged, and nobody said why that is accepted.
    #[error("the {part} ({capture}) is flagged: {why}")]
    PartFlagged {
        /// The part by name.
        part: &'static str,
        /// Name of its capture.
        capture: String,
        /// What speaks against it.
        why: String,
    },
    /// There is nothing to sign off.
    #[error("there is nothing to sign off")]
    Nothing,
    /// Something was said of a course, and there is none.
    #[error("{0} belongs to a measured course, and no capture of one was given")]
    NoCourse(&'static str),
    /// A key that is nothing of the record.
    #[error("{0:?} is nothing that a customer can state")]
    UnknownKey(String),
}

impl SignRefusal {
    /// What it means for the result.
    #[must_use]
    pub const fn means(&self) -> &'static str {
        "Nothing was signed off. The capture is untouched and can be signed off later."
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::Satellite => "Choose the sensor with --channel wheel or --channel radar.",
            Self::NoSensor(_) => "Choose the other sensor with --channel, or see `trundle work`.",
            Self::NoFigure { .. } => "See `trundle work` for what to drive or mend.",
            Self::PartFlagged { .. } => {
                "See what its own command says; measure it again, or accept it in writing with \
                 --because \"...\"."
            }
            Self::Nothing => "Name the capture of something that was measured.",
            Self::NoCourse(_) => "Name the capture of the course, or leave that out.",
            Self::Flagged(_) => {
                "See `trundle work`; drive again, or accept it in writing with --because \"...\"."
            }
            Self::UnknownKey(_) => {
                "Use as_found, rate, place, a condition such as load or implement, or such as \
                 tyres.inflation."
            }
        }
    }
}

/// What is signed off of a course.
struct Chosen {
    channel: String,
    to_enter: i64,
}

/// Make the record of a visit.
///
/// # Errors
/// [`SignRefusal`].
pub fn sign_off(mut visit: Visit<'_>, said: Said) -> Result<RecordV1, SignRefusal> {
    for part in visit.parts.iter_mut().filter(|part| part.flag.is_none()) {
        part.flag = contradicted(part, said.as_left);
    }
    let chosen = match &visit.course {
        Some((work, _)) => Some(of_course(work, &said)?),
        None => without_course(&visit, &said).map(|()| None)?,
    };
    let flagged = visit.parts.iter().find_map(|part| Some((part, part.flag.clone()?)));
    if let (Some((part, why)), None) = (flagged, &said.accepted_because) {
        let (part, capture) = (part.method.title(), part.capture.name.clone());
        return Err(SignRefusal::PartFlagged { part, capture, why });
    }
    for key in &said.stated_by_customer {
        if !tellable(key) {
            return Err(SignRefusal::UnknownKey(key.clone()));
        }
    }
    Ok(record(visit, chosen, said).seal())
}

/// The value of a course that is going to be signed off, as a proof drive of the same visit is
/// held against it: as it was left in the terminal, else as it is to be entered. `None` where it
/// is for no sensor of the two or is going to be refused.
#[must_use]
pub fn signed_value(work: &WorkV1, said: &Said) -> Option<SignedValue> {
    let chosen = of_course(work, said).ok()?;
    let named = |channel: &Channel| channel.name() == chosen.channel;
    let source = [Channel::Wheel, Channel::Radar].into_iter().find(named)?;
    let other = if source == Channel::Wheel { Channel::Radar } else { Channel::Wheel };
    let other = work.channels.get(other.name()).and_then(|channel| channel.value_to_enter);
    Some(SignedValue {
        source,
        entered: said.as_left.unwrap_or(chosen.to_enter as f64),
        as_found: said.as_found,
        other: other.map(|value| value as f64),
    })
}

fn of_course(work: &WorkV1, said: &Said) -> Result<Chosen, SignRefusal> {
    let channel = match said.channel.as_deref().or(said.rig.source()).unwrap_or("wheel") {
        "satellite" => return Err(SignRefusal::Satellite),
        channel => channel.to_owned(),
    };
    let figures = work.channels.get(&channel);
    let figures = figures.ok_or_else(|| SignRefusal::NoSensor(channel.clone()))?;
    let first = work.flags.iter().find(|flag| flag.weight != WeightV1::Remark);
    let to_enter = figures.value_to_enter.ok_or_else(|| SignRefusal::NoFigure {
        channel: channel.clone(),
        why: first.map_or("no pass was measured".to_owned(), |flag| flag.what.clone()),
    })?;
    if let (Some(flag), None) = (first, &said.accepted_because) {
        return Err(SignRefusal::Flagged(flag.what.clone()));
    }
    Ok(Chosen { channel, to_enter })
}

/// Nothing may be said of a course that is not there: it would stand in the record for nothing.
fn without_course(visit: &Visit<'_>, said: &Said) -> Result<(), SignRefusal> {
    if visit.parts.is_empty() {
        return Err(SignRefusal::Nothing);
    }
    // A proof drive is told a course and a rate too.
    let (mut course_toml, mut rate) = (said.course_toml.as_ref(), said.rate_l_per_ha);
    for part in &visit.parts {
        if let PartMethodV1::Proof(how) = &part.method {
            course_toml = course_toml.filter(|given| how.course_toml.as_ref() != Some(given));
            rate = rate.filter(|given| how.rate_l_per_ha != Some(*given));
        }
    }
    let of_course = [
        ("the sensor", said.channel.is_some()),
        ("a course", course_toml.is_some()),
        ("the value found", said.as_found.is_some()),
        ("the value left", said.as_left.is_some()),
        ("the rate", rate.is_some()),
    ];
    let first = of_course.into_iter().find(|(_, said)| *said);
    first.map_or(Ok(()), |(what, _)| Err(SignRefusal::NoCourse(what)))
}

fn record(visit: Visit<'_>, chosen: Option<Chosen>, said: Said) -> RecordV1 {
    let Visit { course, parts, practice } = visit;
    let (channel, to_enter) = chosen.map(|chosen| (chosen.channel, chosen.to_enter)).unzip();
    let (work, capture) = course.unzip();
    let begun = capture.iter().chain(parts.iter().map(|part| &part.capture));
    let clock = sign_clock::against(&said, begun.map(|capture| capture.started_utc.as_str()));
    // Only words: another board was confirmed, which accepts no flag.
    let accepted = [said.other_board, said.accepted_because];
    let accepted: Vec<String> = accepted.into_iter().flatten().collect();
    RecordV1 {
        format: FORMAT.to_owned(),
        version: VERSION,
        id: String::new(),
        issued_utc: said.issued_utc,
        software: env!("CARGO_PKG_VERSION").to_owned(),
        practice,
        amends: said.amends,
        rig: said.rig,
        place: said.place,
        conditions: said.conditions,
        stated_by_customer: said.stated_by_customer,
        method: work.map(|_| MethodV1 {
            name: METHOD.to_owned(),
            version: METHOD_VERSION,
            course_toml: said.course_toml,
            rate_l_per_ha: said.rate_l_per_ha,
            impulses_per_turn: said.impulses_per_turn,
            circumference_m: said.circumference_m,
        }),
        capture,
        channel,
        as_found: said.as_found,
        to_enter,
        as_left: said.as_left,
        accepted_because: (!accepted.is_empty()).then(|| accepted.join(" ")),
        clock,
        remark: said.remark,
        work: work.map(|work| {
            serde_json::value::RawValue::from_string(work.to_json())
                .expect("a worked result is JSON")
        }),
        parts,
    }
}

/// Keys that a customer can have stated: conditions and values of the record, fields of its things.
fn tellable(key: &str) -> bool {
    if ["as_found", "rate", "place"].contains(&key) || conditions::named(key).is_some() {
        return true;
    }
    let Some((thing, field)) = key.split_once('.') else { return false };
    let thing = match thing {
        "operator" | "customer" => Some(Thing::Person),
        word => Thing::named(word),
    };
    thing.is_some_and(|thing| thing.field(field).is_some())
}

/// What is to be said of the value left in the terminal: nothing when it is the one to enter. One
/// within the 95 % interval of the value measured will do; of any other, what it costs.
#[must_use]
pub fn left_in_terminal(record: &RecordV1, worked: &WorkV1) -> Option<String> {
    let to_enter = record.to_enter?;
    let left = record.as_left.filter(|left| (left - to_enter as f64).abs() >= SAME_FIGURE)?;
    let best = record.best_of(worked);
    let (measured, half) =
        best.map_or((to_enter as f64, 0.0), |b| (b.impulses_per_100m, b.expanded_uncertainty));
    let begin = format!("The value left in the terminal, {left}, is not {to_enter}, but");
    if (left - measured).abs() <= half {
        return Some(format!(
            "{begin} lies within the 95 % interval of the value measured: leave it."
        ));
    }
    // Too high a value: the implement believes itself slower, and applies less.
    let off = 100.0 * (measured / left - 1.0);
    let (pace, amount) = if off < 0.0 { ("slower", "little") } else { ("faster", "much") };
    let off = decimals(off.abs(), if off.abs() < 0.995 { 2 } else { 1 });
    Some(format!(
        "The value left in the terminal, {left}, is not {to_enter} and lies outside the 95 % \
         interval of the value measured: with it the implement believes it drives {off} % {pace} \
         than it does, and applies {off} % too {amount}."
    ))
}

/// How a record that was recalculated compares.
#[derive(Clone, Debug, PartialEq)]
pub enum Verified {
    /// The result has the same bytes.
    Same,
    /// The same value to enter, but not the same bytes.
    SameFigure {
        /// Version that signed it off.
        then: String,
        /// Version that worked it again.
        now: String,
    },
    /// The value to enter differs.
    Differs {
        /// Value signed off, impulses per 100 m.
        then: i64,
        /// Value now; `None` when there is none any more.
        now: Option<i64>,
    },
}

/// Compare the course that was signed off with the same capture recalculated.
#[must_use]
pub fn verify(record: &RecordV1, course: CourseOf<'_>, again: &WorkV1) -> Verified {
    if course.work.get() == again.to_json() {
        return Verified::Same;
    }
    let now = again.channels.get(course.channel).and_then(|channel| channel.value_to_enter);
    if now == Some(course.to_enter) {
        Verified::SameFigure { then: record.software.clone(), now: again.software.clone() }
    } else {
        Verified::Differs { then: course.to_enter, now }
    }
}
