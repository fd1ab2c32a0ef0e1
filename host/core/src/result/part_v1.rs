//! A part of a record beside the course: what else was measured on the visit, how, from which
//! capture, and what came of it.
//!
//! The result stands inside as the very bytes that the part's own command gives with `--json`, so
//! that calculating its capture again can be compared byte by byte. One more kind is one more
//! variant of [`PartMethodV1`], with its arms here, in `part_of` and in [`super::part_read`].

use super::part_read::{PartRead, read};
use super::record_v1::{CaptureV1, RecordFault};
use crate::survey::mount::{MountOptions, Taped};
use crate::survey::pto::PtoOptions;
use crate::survey::speeds::SpeedsOptions;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

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
        _ => "part",
    }
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
