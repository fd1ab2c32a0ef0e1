//! The units and the time that a person reads best. What is stored never changes by them.

use serde::{Deserialize, Serialize};

/// The choice of one person.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Reading {
    /// Unit of speeds.
    pub speeds: Speeds,
    /// Unit of tyre pressures.
    pub pressures: Pressures,
    /// Unit of lengths.
    pub lengths: Lengths,
    /// Which time of day.
    pub times: Times,
}

/// Unit of speeds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Speeds {
    /// Kilometres an hour.
    #[default]
    #[serde(rename = "km/h")]
    KmH,
    /// Miles an hour.
    #[serde(rename = "mph")]
    Mph,
}

/// Unit of tyre pressures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Pressures {
    /// Bar.
    #[default]
    #[serde(rename = "bar")]
    Bar,
    /// Pounds a square inch.
    #[serde(rename = "psi")]
    Psi,
}

/// Unit of lengths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Lengths {
    /// Metres.
    #[default]
    #[serde(rename = "m")]
    M,
    /// Feet.
    #[serde(rename = "ft")]
    Ft,
}

/// Which time of day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Times {
    /// Coordinated universal time, as records have it.
    #[default]
    #[serde(rename = "utc")]
    Utc,
    /// The local time of this computer beside it.
    #[serde(rename = "local")]
    Local,
}
