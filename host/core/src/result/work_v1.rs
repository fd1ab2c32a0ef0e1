//! `trundle-work`, version 1: the result of a job as one JSON object, written and read by one type.
//!
//! The schema stands in `host/schemas/trundle-work-1.schema.json`. Fields are only ever added.
//! A value that cannot be given is `null`, and a flag says why. Infinite degrees of freedom are
//! `null` too, since JSON has no word for them. Text, page, paper, tables and history are drawn
//! from this document alone, so that a stored result shows what a fresh one does.

use super::document::to_text;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The result of a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WorkV1 {
    /// Format word, always `trundle-work`.
    pub format: String,
    /// Format version, which is 1.
    pub version: u32,
    /// Version of the program that worked it.
    pub software: String,
    /// State, either `valid` or `flagged`.
    pub state: String,
    /// The course, where one was given.
    pub course: Option<CourseV1>,
    /// How the clocks were combined.
    pub clock: Option<ClockV1>,
    /// The sky, where the receiver stated anything of it.
    pub sky: Option<SkyV1>,
    /// Values, by `wheel` and `radar`.
    pub channels: BTreeMap<String, ChannelV1>,
    /// Every warning about the job.
    pub flags: Vec<FlagV1>,
    /// What was assumed about the tape.
    pub assumptions: Vec<String>,
    /// Cautions that were shown.
    pub cautions: Vec<String>,
    /// All passes as driven, without what a sensor counted.
    pub passes: Vec<PassV1>,
}

/// The course as worked.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CourseV1 {
    /// Along the ground, metres.
    pub length_m: f64,
    /// Its standard uncertainty, in metres.
    pub standard_uncertainty_m: f64,
}

/// How the clocks were combined.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockV1 {
    /// UTC minus board time, seconds.
    pub offset_s: f64,
    /// Its standard uncertainty, in seconds.
    pub standard_uncertainty_s: f64,
    /// Name of the method, in words.
    pub method: String,
    /// The delay of the receiver, seconds.
    pub receiver_lag_s: f64,
    /// Standard uncertainty of the lag, seconds.
    pub receiver_lag_standard_uncertainty_s: f64,
}

/// The sky over a whole capture, as the receiver stated it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SkyV1 {
    /// Satellites used, of every usable fix.
    pub satellites_used: Option<SeenV1>,
    /// Satellites in view.
    pub satellites_in_view: Option<SeenV1>,
    /// Median carrier-to-noise density of the satellites received, dB-Hz.
    pub signal_db_hz: Option<SeenV1>,
    /// Horizontal dilution of precision, of every usable fix.
    pub hdop: Option<SeenV1>,
}

/// Mean and extremes of a quantity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeenV1 {
    /// The mean value.
    pub mean: f64,
    /// The least value.
    pub least: f64,
    /// The largest value.
    pub most: f64,
}

/// All results of one sensor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChannelV1 {
    /// The value measured by tape.
    pub tape: Option<FigureV1>,
    /// The value measured by satellite.
    pub satellite: Option<FigureV1>,
    /// The value by both together.
    pub combined: Option<FigureV1>,
    /// Whether tape and satellite agree.
    pub agreement: Option<AgreementV1>,
    /// Value to enter, impulses per 100 m.
    pub value_to_enter: Option<i64>,
    /// The best value by Monte Carlo.
    pub monte_carlo: Option<MonteCarloV1>,
    /// What the value found in the terminal did.
    pub as_found: Option<AsFoundV1>,
    /// Rolling circumference that the value implies.
    pub rolling: Option<RollingV1>,
    /// The budget of the best value, largest contribution first.
    pub budget: Vec<BudgetLineV1>,
    /// All passes of the job.
    pub passes: Vec<PassV1>,
    /// Findings about the sensor.
    pub health: Vec<FlagV1>,
    /// What was asked about the value and could not be answered.
    pub unanswered: Vec<UnansweredV1>,
}

/// A value with its uncertainty, impulses per 100 m.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureV1 {
    /// The value, impulses per 100 m.
    pub impulses_per_100m: f64,
    /// Standard uncertainty, impulses per 100 m.
    pub standard_uncertainty: f64,
    /// Half-width of the interval.
    pub expanded_uncertainty: f64,
    /// Expanded over standard uncertainty.
    pub coverage_factor: f64,
    /// Probability covered, such as 0.95.
    pub coverage_probability: f64,
    /// Effective; `None` is unlimited.
    pub degrees_of_freedom: Option<f64>,
    /// Where its uncertainty comes from, largest contribution first.
    pub budget: Vec<BudgetLineV1>,
}

/// Agreement of tape and satellite.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AgreementV1 {
    /// Difference over its expanded uncertainty.
    pub normalised_error: f64,
    /// Whether it is at most 1.
    pub agrees: bool,
    /// Tape less satellite, impulses per 100 m.
    pub difference: f64,
    /// Expanded uncertainty of the difference, impulses per 100 m.
    pub expanded_uncertainty: f64,
}

/// The best value by Monte Carlo (JCGM 101:2008), impulses per 100 m.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MonteCarloV1 {
    /// Draws from all sources.
    pub trials: usize,
    /// The mean of the draws.
    pub mean: f64,
    /// The standard deviation of the draws.
    pub standard_uncertainty: f64,
    /// Ends of the interval.
    pub interval: [f64; 2],
}

/// What the value found did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AsFoundV1 {
    /// Impulses per 100 m.
    pub found: f64,
    /// Share by which it is too high.
    pub value_error: f64,
    /// Share by which the rate applied was too high.
    pub applied_rate_error: f64,
    /// Standard uncertainty of that share.
    pub applied_rate_error_standard_uncertainty: f64,
    /// Whether the change is significant.
    pub significant: bool,
    /// Litres per hectare too much.
    pub difference_l_per_ha: Option<f64>,
    /// The same in plain words.
    pub sentence: String,
}

/// Rolling circumference that the value implies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RollingV1 {
    /// Rolling circumference, in metres.
    pub circumference_m: f64,
    /// Its standard uncertainty, in metres.
    pub standard_uncertainty_m: f64,
    /// Over the circumference known, less 1.
    pub difference: Option<f64>,
    /// Whether both fit together.
    pub plausible: Option<bool>,
    /// The same in plain words.
    pub sentence: String,
}

/// What was asked and could not be answered, in whole sentences.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnansweredV1 {
    /// Why it could not be answered.
    pub what: String,
    /// What that means for the value.
    pub means: String,
    /// What to do about it.
    pub next: String,
}

/// One line of the budget.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetLineV1 {
    /// What it comes from, in words.
    pub source: String,
    /// Evaluation type, `A` or `B`.
    pub r#type: String,
    /// Name of its distribution, in words.
    pub distribution: String,
    /// In the source's own unit.
    pub standard_uncertainty: f64,
    /// Degrees of freedom; `None` is unlimited.
    pub degrees_of_freedom: Option<f64>,
    /// To the value, impulses per 100 m.
    pub contribution: f64,
    /// Stable word for the source, such as `tape.class`.
    pub key: String,
}

/// One pass, as one sensor saw it or as driven.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PassV1 {
    /// Number of the pass, from 1.
    pub number: u32,
    /// Direction of travel, `out` or `back`.
    pub direction: Option<String>,
    /// Instant of the mark, RFC 3339.
    pub start_utc: Option<String>,
    /// Instant of the mark, RFC 3339.
    pub finish_utc: Option<String>,
    /// Time between the marks, seconds.
    pub duration_s: Option<f64>,
    /// Whether both marks were at standstill.
    pub standing: Option<bool>,
    /// Between the marks; `None` for the pass as driven.
    pub impulses: Option<f64>,
    /// Length by tape, in metres.
    pub tape_m: Option<f64>,
    /// Length by satellite, in metres.
    pub satellite_m: Option<f64>,
    /// Its standard uncertainty, in metres.
    pub satellite_standard_uncertainty_m: Option<f64>,
    /// Fix quality at both ends, in words.
    pub fix_quality: Option<[String; 2]>,
    /// `valid`, `flagged` or `refused`.
    pub state: String,
    /// Codes of its findings.
    pub flags: Vec<String>,
}

/// A warning about the data.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FlagV1 {
    /// Stable code of the flag.
    pub code: String,
    /// The pass, when it is about one.
    pub pass: Option<u32>,
    /// The sensor, when it is about one.
    pub channel: Option<String>,
    /// What was found, in words.
    pub what: String,
    /// What that means for the value.
    pub means: String,
    /// What to do about it.
    pub next: String,
    /// How much it weighs.
    pub weight: WeightV1,
}

/// How much a finding weighs for the reader.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WeightV1 {
    /// It leaves no value.
    NoValue,
    /// It takes a pass out of the value.
    PassNotUsed,
    /// It leaves the value as good as it was.
    Remark,
    /// It may touch the value; so may one of a weight that this version does not know.
    #[serde(other)]
    TakeCare,
}

impl WorkV1 {
    /// The object as one line of JSON, without a line end. Same work, same bytes.
    #[must_use]
    pub fn to_json(&self) -> String {
        to_text(self)
    }

    /// The sensors by name, the wheel before the radar.
    pub fn sensors(&self) -> impl DoubleEndedIterator<Item = (&str, &ChannelV1)> {
        self.channels.iter().rev().map(|(name, channel)| (name.as_str(), channel))
    }

    /// Findings about one pass as one sensor saw it.
    pub fn of_pass<'a>(&'a self, number: u32, sensor: &'a str) -> impl Iterator<Item = &'a FlagV1> {
        self.flags.iter().filter(move |flag| {
            flag.pass == Some(number) && flag.channel.as_deref().is_none_or(|name| name == sensor)
        })
    }
}

impl ChannelV1 {
    /// The value that the one to enter was rounded from: both together, else the only one there
    /// is. Tape and satellite that disagree give none.
    #[must_use]
    pub fn best(&self) -> Option<&FigureV1> {
        match (&self.combined, &self.tape, &self.satellite) {
            (Some(combined), _, _) => Some(combined),
            (None, Some(only), None) | (None, None, Some(only)) => Some(only),
            _ => None,
        }
    }

    /// Tape, satellite and combined, each with its name.
    #[must_use]
    pub fn sides(&self) -> [(&'static str, Option<&FigureV1>); 3] {
        [
            ("tape", self.tape.as_ref()),
            ("satellite", self.satellite.as_ref()),
            ("combined", self.combined.as_ref()),
        ]
    }
}

impl PassV1 {
    /// Is it in the value? The rule of the method: not refused, and counted.
    #[must_use]
    pub fn used(&self) -> bool {
        self.state != "refused" && self.impulses.is_some()
    }

    /// Impulses per 100 m of this pass by tape.
    #[must_use]
    pub fn by_tape(&self) -> Option<f64> {
        Some(self.impulses? / self.tape_m? * 100.0)
    }

    /// Impulses per 100 m of this pass by satellite.
    #[must_use]
    pub fn by_satellite(&self) -> Option<f64> {
        Some(self.impulses? / self.satellite_m? * 100.0)
    }
}
