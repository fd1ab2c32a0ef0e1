//! Why there is no history, in words for the technician.

use crate::stats::fit::FitRefusal;
use chrono::NaiveDate;

/// Why nothing can be compared.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HistoryRefusal {
    /// No record at all.
    #[error("there is no signed-off record of this rig and sensor")]
    NoRecord,
    /// There is only one record.
    #[error("there is only one signed-off record of this rig and sensor, of {day}")]
    OneRecord {
        /// Day of the record, UTC.
        day: NaiveDate,
    },
    /// A record without value or uncertainty.
    #[error("record {record} holds no value with an uncertainty of its own")]
    NoFigure {
        /// The identity of the record.
        record: String,
    },
}

impl HistoryRefusal {
    /// The stable word for files.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoRecord => "NO_RECORD",
            Self::OneRecord { .. } => "ONE_RECORD",
            Self::NoFigure { .. } => "NO_VALUE",
        }
    }

    /// What it means for the result.
    #[must_use]
    pub const fn means(&self) -> &'static str {
        match self {
            Self::NoRecord => "There is nothing to show.",
            Self::OneRecord { .. } => "A change takes two: nothing can be said of one yet.",
            Self::NoFigure { .. } => "It cannot be weighed against the others: there is no result.",
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::NoRecord => "Measure the rig and sign the result off.",
            Self::OneRecord { .. } => "Measure the rig again and sign that off too.",
            Self::NoFigure { .. } => "Amend that record from its capture, or leave it out.",
        }
    }
}

/// Why there is no line through the points.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoTrend {
    /// Too few points for a line that could also be wrong.
    #[error("{have} records give no trend; it takes {need}")]
    TooFew {
        /// How many there are.
        have: usize,
        /// How many it takes.
        need: usize,
    },
    /// All of one day.
    #[error("all records are of one day, so no trend can be determined")]
    OneDay,
    /// No line for another reason.
    #[error("no line can be laid through the records")]
    NoLine,
}

impl From<FitRefusal> for NoTrend {
    fn from(refusal: FitRefusal) -> Self {
        match refusal {
            FitRefusal::NoSpread => Self::OneDay,
            FitRefusal::TooFew { have, need } => Self::TooFew { have, need },
            _ => Self::NoLine,
        }
    }
}
