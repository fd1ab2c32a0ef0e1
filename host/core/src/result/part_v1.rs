//! A part of a record beside the course: what else was measured on the visit, how, from which
//! capture, and what came of it.
//!
//! The result stands inside as the very bytes that the part's own command gives with `--json`, so
//! that calculating its capture again can be compared byte by byte. One more kind is one more
//! variant of [`PartMethodV1`], with its arms here, in `part_of` and in [`super::part_read`].

use super::part_read::{PartRead, read};
use super::record_v1::{CaptureV1, RecordFault};
use crate::course::file;
use crate::session::Keeps;
use crate::session::trail::THINNED_US;
use crate::survey::mount::{MountOptions, Taped};
use crate::survey::proof::{Known, KnownValue, Origin, ProofOptions, Stated};
use crate::survey::pto::PtoOptions;
use crate::survey::speeds::SpeedsOptions;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::fmt;
use trundle_protocol::units::Channel;

/// Version of every part's method so far: raised when the same capture would give another value.
const METHOD_VERSION: u32 = 1;

/// One part of a visit.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PartV1 {
    /// What was measured and how; enough to do it again.
    pub method: PartMethodV1,
    /// The log behind it.
    pub capture: CaptureV1,
    /// What speaks against the result, in words; left out when nothing does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flag: Option<String>,
    /// The result, byte for byte as its command gave it.
    pub result: Box<RawValue>,
}

/// What was measured, with all that its command was told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "name", rename_all = "snake_case")]
pub enum PartMethodV1 {
    /// Impulses per revolution of the PTO shaft.
    Pto(PtoMethodV1),
    /// The antenna position on the tractor.
    Mount(MountMethodV1),
    /// Wheel, radar and satellite speed against each other.
    Speeds(SpeedsMethodV1),
    /// The proof drive: what the terminal shows after the value was keyed in.
    Proof(ProofMethodV1),
}

/// How the PTO was calculated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PtoMethodV1 {
    /// Version of the method.
    pub version: u32,
    /// Last step of the tractor's display, revolutions per minute.
    pub display_step_rpm: f64,
    /// That step was assumed, not stated.
    pub display_step_assumed: bool,
    /// Set in the implement's terminal, impulses per revolution.
    pub set_now: Option<f64>,
}

/// How the antenna position was calculated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MountMethodV1 {
    /// Version of the method.
    pub version: u32,
    /// Standard uncertainty of the driven line, metres.
    pub line_held_m: f64,
    /// Standard uncertainty of the slip in turns, as a share.
    pub turn_slip: f64,
    /// Wheel impulses per 100 m, where they were stated.
    pub value_per_100m: Option<f64>,
    /// Taped: antenna right of the middle, metres.
    pub taped_right_m: Option<f64>,
    /// Taped: antenna ahead of the rear axle, metres.
    pub taped_ahead_m: Option<f64>,
    /// Taped: rear axle to coupling point, metres.
    pub axle_to_hitch_m: Option<f64>,
}

/// How the speeds were compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpeedsMethodV1 {
    /// Version of the method.
    pub version: u32,
    /// Impulses per metre that the radar should give.
    pub radar_nominal_per_m: Option<f64>,
    /// Angle of the radar's beam, degrees below the horizontal.
    pub radar_angle_deg: f64,
}

/// How a proof drive was judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProofMethodV1 {
    /// Version of the method.
    pub version: u32,
    /// The course given at sign-off, as TOML; without one the capture's own is used.
    pub course_toml: Option<String>,
    /// The sensor that the terminal should go by, `wheel` or `radar`, where that was stated.
    pub source: Option<String>,
    /// Values that may be in force: stated, noted in the capture, or from the register as it stood.
    pub known: Vec<KnownV1>,
    /// Last step of the distance shown, metres, where it was stated at sign-off; this and what
    /// follows else as the capture's notes have it.
    pub distance_step_m: Option<f64>,
    /// Last step of the speed shown, km/h.
    pub speed_step_km_h: Option<f64>,
    /// Where the distance shown begins again at 0, metres.
    pub wrap_m: Option<f64>,
    /// Rate the implement is set to, litres per hectare.
    pub rate_l_per_ha: Option<f64>,
}

/// A value that may be in force in the terminal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownV1 {
    /// Where it comes from.
    pub origin: OriginV1,
    /// The tyres that it is for, by name; left out for all other origins.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tyres: Option<String>,
    /// Impulses per 100 m.
    pub impulses_per_100m: f64,
}

/// Where a value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OriginV1 {
    /// Keyed in now.
    Entered,
    /// In force before.
    Old,
    /// That of the other sensor.
    OtherSensor,
    /// That of the wheel on other tyres.
    Tyres,
}

impl PartV1 {
    /// What its result says, for papers, lists and comparisons.
    ///
    /// # Errors
    /// [`RecordFault::Unreadable`] when the result is not of this part.
    pub fn read(&self) -> Result<PartRead, RecordFault> {
        read(&self.method, self.result.get())
    }
}

impl PartMethodV1 {
    /// The part in one word: its name in the record, and its command.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Pto(_) => "pto",
            Self::Mount(_) => "mount",
            Self::Speeds(_) => "speeds",
            Self::Proof(_) => "proof",
        }
    }

    /// The part by name, for people.
    #[must_use]
    pub fn title(&self) -> &'static str {
        title(self.word())
    }
}

/// Name for people of the part with this word; of another kind, `part`.
#[must_use]
pub fn title(word: &str) -> &'static str {
    match word {
        "pto" => "PTO",
        "mount" => "antenna position",
        "speeds" => "speeds",
        "proof" => "proof drive",
        _ => "part",
    }
}

/// The samples of a capture that the part with this word is calculated from.
#[must_use]
pub fn keeps(word: &str) -> Keeps {
    // Distances shown belong to passes, speeds to the trail.
    if word == "proof" { Keeps::All(THINNED_US) } else { Keeps::Trail(THINNED_US) }
}

impl From<PtoOptions> for PartMethodV1 {
    fn from(options: PtoOptions) -> Self {
        Self::Pto(PtoMethodV1 {
            version: METHOD_VERSION,
            display_step_rpm: options.display_step_rpm,
            display_step_assumed: !options.step_given,
            set_now: options.set_now,
        })
    }
}

impl From<MountOptions> for PartMethodV1 {
    fn from(options: MountOptions) -> Self {
        Self::Mount(MountMethodV1 {
            version: METHOD_VERSION,
            line_held_m: options.line_held_m,
            turn_slip: options.turn_slip,
            value_per_100m: options.value_per_100m,
            taped_right_m: options.taped.right_m,
            taped_ahead_m: options.taped.ahead_m,
            axle_to_hitch_m: options.taped.axle_to_hitch_m,
        })
    }
}

impl From<SpeedsOptions> for PartMethodV1 {
    fn from(options: SpeedsOptions) -> Self {
        Self::Speeds(SpeedsMethodV1 {
            version: METHOD_VERSION,
            radar_nominal_per_m: options.radar_nominal_per_m,
            radar_angle_deg: options.radar_angle_deg,
        })
    }
}

impl PtoMethodV1 {
    /// For the calculation.
    pub(super) const fn options(&self) -> PtoOptions {
        PtoOptions {
            display_step_rpm: self.display_step_rpm,
            step_given: !self.display_step_assumed,
            set_now: self.set_now,
        }
    }
}

impl MountMethodV1 {
    /// For the calculation.
    pub(super) const fn options(&self) -> MountOptions {
        MountOptions {
            line_held_m: self.line_held_m,
            turn_slip: self.turn_slip,
            value_per_100m: self.value_per_100m,
            taped: Taped {
                right_m: self.taped_right_m,
                ahead_m: self.taped_ahead_m,
                axle_to_hitch_m: self.axle_to_hitch_m,
            },
        }
    }
}

impl SpeedsMethodV1 {
    /// For the calculation.
    pub(super) const fn options(&self) -> SpeedsOptions {
        SpeedsOptions {
            radar_nominal_per_m: self.radar_nominal_per_m,
            radar_angle_deg: self.radar_angle_deg,
        }
    }
}

impl fmt::Display for KnownV1 {
    /// Where it comes from, for which tyres, and the number of impulses per 100 m.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.origin, &self.tyres) {
            (OriginV1::Entered, _) => write!(f, "keyed in")?,
            (OriginV1::Old, _) => write!(f, "old")?,
            (OriginV1::OtherSensor, _) => write!(f, "of the other sensor")?,
            (OriginV1::Tyres, Some(tyres)) => write!(f, "on the tyres \"{tyres}\"")?,
            (OriginV1::Tyres, None) => write!(f, "on other tyres")?,
        }
        write!(f, " {}", self.impulses_per_100m)
    }
}

impl ProofMethodV1 {
    /// The values that may be in force, in words; `None` where none was known.
    #[must_use]
    pub fn known_words(&self) -> Option<String> {
        let known: Vec<String> = self.known.iter().map(KnownV1::to_string).collect();
        (!known.is_empty()).then(|| known.join("; "))
    }

    /// With all that a proof drive is told.
    #[must_use]
    pub fn of(course_toml: Option<String>, known: &Known, stated: Stated) -> Self {
        let value = |one: &KnownValue| KnownV1 {
            origin: match one.origin {
                Origin::Entered => OriginV1::Entered,
                Origin::Old => OriginV1::Old,
                Origin::OtherSensor => OriginV1::OtherSensor,
                Origin::Tyres(_) => OriginV1::Tyres,
            },
            tyres: one.origin.tyres().map(str::to_owned),
            impulses_per_100m: one.per_100m,
        };
        Self {
            version: METHOD_VERSION,
            course_toml,
            source: known.source.map(|channel| channel.name().to_owned()),
            known: known.values.iter().map(value).collect(),
            distance_step_m: stated.distance_step_m,
            speed_step_km_h: stated.speed_step_km_h,
            wrap_m: stated.wrap_m,
            rate_l_per_ha: stated.rate_l_per_ha,
        }
    }

    /// What was known of the terminal.
    #[must_use]
    pub fn known(&self) -> Known {
        let named = |channel: &Channel| Some(channel.name()) == self.source.as_deref();
        let source = [Channel::Wheel, Channel::Radar].into_iter().find(named);
        self.known.iter().fold(Known { source, values: Vec::new() }, |known, one| {
            let origin = match one.origin {
                OriginV1::Entered => Origin::Entered,
                OriginV1::Old => Origin::Old,
                OriginV1::OtherSensor => Origin::OtherSensor,
                OriginV1::Tyres => Origin::Tyres(one.tyres.clone().unwrap_or_default()),
            };
            known.with(origin, one.impulses_per_100m)
        })
    }

    /// For the calculation. A course that cannot be read was not signed off here: then the
    /// capture's own counts, and verification shows what differs.
    pub(super) fn options(&self) -> ProofOptions {
        let course = self.course_toml.as_deref().and_then(|text| file::parse(text).ok());
        ProofOptions {
            course: course.map(|file| file.spec),
            known: self.known(),
            stated: Stated {
                distance_step_m: self.distance_step_m,
                speed_step_km_h: self.speed_step_km_h,
                wrap_m: self.wrap_m,
                rate_l_per_ha: self.rate_l_per_ha,
            },
        }
    }
}
