//! `trundle-work` read back, for paper and history made from stored records.
//!
//! Every field that is written ([`super::work_v1`]) and shown again stands here with its name and
//! unit. Fields that later versions add are passed over.

use serde::Deserialize;
use std::collections::BTreeMap;

/// A stored result.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct WorkRead {
    /// Version of the program that worked it.
    pub software: String,
    /// `valid` or `flagged`.
    pub state: String,
    /// The course, where one was given.
    pub course: Option<CourseRead>,
    /// How the clocks were joined.
    pub clock: Option<ClockRead>,
    /// Figures, by `wheel` and `radar`.
    pub channels: BTreeMap<String, ChannelRead>,
    /// Every finding.
    pub flags: Vec<FlagRead>,
    /// What was taken for granted about the tape.
    pub assumptions: Vec<String>,
    /// Cautions that were shown.
    pub cautions: Vec<String>,
}

/// The course as worked.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct CourseRead {
    /// Along the ground, metres.
    pub length_m: f64,
    /// Standard uncertainty, metres.
    pub standard_uncertainty_m: f64,
}

/// How the clocks were joined.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct ClockRead {
    /// UTC minus board time, seconds.
    pub offset_s: f64,
    /// Standard uncertainty, seconds.
    pub standard_uncertainty_s: f64,
    /// In words.
    pub method: String,
    /// Receiver's lag, seconds.
    pub receiver_lag_s: f64,
}

/// One sensor.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct ChannelRead {
    /// By tape.
    pub tape: Option<FigureRead>,
    /// By satellite.
    pub satellite: Option<FigureRead>,
    /// Both together.
    pub combined: Option<FigureRead>,
    /// Whether tape and satellite agree.
    pub agreement: Option<AgreementRead>,
    /// Figure to enter, impulses per 100 m.
    pub figure_to_enter: Option<i64>,
    /// What the figure found in the terminal did.
    pub as_found: Option<AsFoundRead>,
    /// Rolling circumference.
    pub rolling: Option<RollingRead>,
    /// The budget, largest contribution first as worked.
    pub budget: Vec<BudgetLineRead>,
    /// All passes.
    pub passes: Vec<PassRead>,
    /// Findings about the sensor.
    pub health: Vec<FlagRead>,
}

impl ChannelRead {
    /// The figure that the one to enter was rounded from: both together, else the only one there
    /// is. Tape and satellite that disagree give none.
    #[must_use]
    pub fn best(&self) -> Option<&FigureRead> {
        match (&self.combined, &self.tape, &self.satellite) {
            (Some(combined), _, _) => Some(combined),
            (None, Some(only), None) | (None, None, Some(only)) => Some(only),
            _ => None,
        }
    }
}

/// A figure with its doubt, impulses per 100 m.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct FigureRead {
    /// The value.
    pub impulses_per_100m: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// Half-width of the interval.
    pub expanded_uncertainty: f64,
    /// Expanded over standard uncertainty.
    pub coverage_factor: f64,
    /// Such as 0.95.
    pub coverage_probability: f64,
    /// Effective; `None` is unlimited.
    pub degrees_of_freedom: Option<f64>,
}

/// Tape against satellite.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct AgreementRead {
    /// Difference over its expanded uncertainty.
    pub normalised_error: f64,
    /// At most 1.
    pub agrees: bool,
}

/// What the figure found did.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct AsFoundRead {
    /// Impulses per 100 m.
    pub found: f64,
    /// Share by which it is too high.
    pub figure_error: f64,
    /// Share by which the rate applied was too high.
    pub applied_rate_error: f64,
    /// More than chance.
    pub significant: bool,
    /// Litres per hectare too much.
    pub difference_l_per_ha: Option<f64>,
    /// In words.
    pub sentence: String,
}

/// Rolling circumference.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct RollingRead {
    /// Metres.
    pub circumference_m: f64,
    /// Standard uncertainty, metres.
    pub standard_uncertainty_m: f64,
    /// In words.
    pub sentence: String,
}

/// One line of the budget.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct BudgetLineRead {
    /// What it comes from.
    pub source: String,
    /// `A` or `B`.
    pub r#type: String,
    /// In words.
    pub distribution: String,
    /// In the source's own unit.
    pub standard_uncertainty: f64,
    /// `None` is unlimited.
    pub degrees_of_freedom: Option<f64>,
    /// To the figure, impulses per 100 m.
    pub contribution: f64,
}

/// One pass, as one sensor saw it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct PassRead {
    /// From 1.
    pub number: u32,
    /// `out` or `back`.
    pub direction: Option<String>,
    /// RFC 3339.
    pub start_utc: Option<String>,
    /// RFC 3339.
    pub finish_utc: Option<String>,
    /// Seconds.
    pub duration_s: Option<f64>,
    /// Marked at rest.
    pub standing: Option<bool>,
    /// Between the marks.
    pub impulses: Option<f64>,
    /// Metres by tape.
    pub tape_m: Option<f64>,
    /// Metres by satellite.
    pub satellite_m: Option<f64>,
    /// Standard uncertainty, metres.
    pub satellite_standard_uncertainty_m: Option<f64>,
    /// Fix quality at both ends, in words.
    pub fix_quality: Option<[String; 2]>,
    /// `valid`, `flagged` or `refused`.
    pub state: String,
    /// Codes of its findings.
    pub flags: Vec<String>,
}

impl PassRead {
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

/// A finding.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct FlagRead {
    /// Stable code.
    pub code: String,
    /// The pass, when it is about one.
    pub pass: Option<u32>,
    /// The sensor, when it is about one.
    pub channel: Option<String>,
    /// What was found.
    pub what: String,
    /// What that means for the figure.
    pub means: String,
    /// What to do.
    pub next: String,
}
