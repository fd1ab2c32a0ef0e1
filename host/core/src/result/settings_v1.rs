//! `trundle-settings`, version 1: the sheet of settings of one rig as one JSON object: all that is
//! keyed into a terminal for this tractor on these tyres, and where each number comes from.
//!
//! The schema stands in `host/schemas/trundle-settings-1.schema.json`. Fields are only ever added.
//! Lengths are in metres; half-widths hold at [`SettingsV1::coverage_probability`].

use super::document::to_text;
use crate::units::hex;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// The word in the `format` field.
pub const FORMAT: &str = "trundle-settings";
/// The version that is written.
pub const VERSION: u32 = 1;
/// Hexadecimal digits in the identity of a sheet: few enough to be typed off paper, and one chance
/// in 4,000 million that another sheet has the same.
const ID_DIGITS: usize = 8;

/// The sheet of one rig.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SettingsV1 {
    /// Format word, always [`FORMAT`].
    pub format: String,
    /// Format version, always [`VERSION`].
    pub version: u32,
    /// Version of the program that made it.
    pub software: String,
    /// Made of what is to be keyed in and where it comes from; see [`SettingsV1::identity`].
    pub id: String,
    /// When it was made, RFC 3339, UTC.
    pub made_utc: String,
    /// `out_of_date` when something speaks against it; else `incomplete` when the speed that the
    /// implement goes by is not stated or its sensor has no value; else `current`.
    pub state: String,
    /// The records come from the simulator: nothing was measured.
    pub practice: bool,
    /// Name of the rig.
    pub rig: String,
    /// Name of its tractor.
    pub tractor: Option<String>,
    /// Name of its tyres.
    pub tyres: Option<String>,
    /// Size of its tyres, as moulded on the side.
    pub tyre_size: Option<String>,
    /// Which speed the implement goes by, `wheel`, `radar` or `satellite`, where it is stated.
    pub source: Option<String>,
    /// Probability that the intervals cover.
    pub coverage_probability: f64,
    /// What is keyed in, in the order of the sheet.
    pub settings: Vec<SettingV1>,
    /// What is not known, and what to do about it.
    pub missing: Vec<RemarkV1>,
    /// Why it must not be used as it is.
    pub out_of_date: Vec<RemarkV1>,
    /// What else is to be known of it.
    pub remarks: Vec<RemarkV1>,
}

/// One number that is keyed in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SettingV1 {
    /// Stable word: `wheel`, `radar`, `pto`, `antenna_right`, `antenna_ahead`, `antenna_height`,
    /// `axle_to_hitch`.
    pub key: String,
    /// What it is, in words.
    pub what: String,
    /// Its unit.
    pub unit: String,
    /// Where it comes from.
    pub source: SourceV1,
    /// Whether the implement goes by this sensor; `None` for what is no sensor, and where it is
    /// not stated.
    pub in_force: Option<bool>,
    /// The number to key in.
    pub to_enter: Option<f64>,
    /// The value that it was rounded from.
    pub value: Option<f64>,
    /// Half-width of its interval.
    pub expanded_uncertainty: Option<f64>,
    /// The uncertainty is assumed, not measured or stated.
    pub uncertainty_assumed: bool,
    /// What a positive number means, and a negative one; `None` for a number of impulses.
    pub signs: Option<String>,
    /// The record that holds it.
    pub record: Option<String>,
    /// Day on which it was measured or taped, UTC.
    pub measured_on: Option<String>,
    /// What else is to be known of it, a sentence each.
    pub notes: Vec<String>,
}

/// Where a number comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceV1 {
    /// Driven, and in a record.
    Measured,
    /// By tape, and in a record.
    Taped,
    /// Typed with the rig, in no record.
    Typed,
    /// Not known.
    Missing,
}

/// Something to be known, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RemarkV1 {
    /// Stable word for programs.
    pub code: String,
    /// What is so, in words.
    pub what: String,
    /// What to do about it.
    pub next: String,
}

impl SettingsV1 {
    /// The object as one line of JSON, without a line end. Same sheet, same bytes.
    #[must_use]
    pub fn to_json(&self) -> String {
        to_text(self)
    }

    /// The identity that the content asks for: another one as soon as anything else is to be keyed
    /// in or comes from another record. The day it was made and what is said of it make no other.
    #[must_use]
    pub fn identity(&self) -> String {
        let what = |one: &SettingV1| {
            let numbers = (one.to_enter, one.value, one.expanded_uncertainty);
            to_text(&(&one.key, one.source, one.in_force, numbers, &one.record))
        };
        let settings: Vec<String> = self.settings.iter().map(what).collect();
        let of = (&self.rig, &self.tractor, &self.tyres, &self.tyre_size, &self.source);
        let content = to_text(&(of, self.practice, settings));
        hex(&Sha256::digest(content.as_bytes()))[..ID_DIGITS].to_owned()
    }

    /// The setting with this key.
    #[must_use]
    pub fn setting(&self, key: &str) -> Option<&SettingV1> {
        self.settings.iter().find(|one| one.key == key)
    }
}
