//! The settings file, in the platform's folder for such files: what need not be typed each time.
//!
//! ```toml
//! captures = "/home/me/captures"   # where new captures go
//! board = "/dev/serial/by-id/..."  # port of the counter board
//! receiver = "COM4"                # port of the receiver
//! receiver_speed = 38400           # baud
//! data = "/home/me/records"        # rigs and records
//! speed_unit = "km/h"              # or "mph"
//! pressure_unit = "bar"            # or "psi"
//! length_unit = "m"                # or "ft"
//! time = "local"                   # own time beside UTC; or "utc"
//! language = "en"                  # or "de"
//! ```
//!
//! Units and time are those of pages and papers; they never change what is stored.
//!
//! An option on the command line wins over the file.

use crate::shell::clock::local_offset_s;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use etcetera::BaseStrategy as _;
use serde::Deserialize;
use std::path::PathBuf;
use trundle_show::reading::{LengthUnit, PressureUnit, Reading, SpeedUnit, Zone};
use trundle_show::tongue::Tongue;

/// Names another settings file.
pub const VARIABLE: &str = "TRUNDLE_SETTINGS";

/// What the file can say.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Folder for new captures.
    pub captures: Option<PathBuf>,
    /// Port of the counter board.
    pub board: Option<String>,
    /// Port of the satellite receiver.
    pub receiver: Option<String>,
    /// Speed of the receiver's line, baud.
    pub receiver_speed: Option<u32>,
    /// Folder for rigs and records.
    pub data: Option<PathBuf>,
    /// Unit in which speeds are read.
    #[serde(default)]
    pub speed_unit: SpeedUnit,
    /// Unit in which the pressures of tyres are read.
    #[serde(default)]
    pub pressure_unit: PressureUnit,
    /// Unit in which lengths are read.
    #[serde(default)]
    pub length_unit: LengthUnit,
    /// Whose time is read.
    #[serde(default)]
    pub time: Time,
    /// Language of pages, papers and the terminal; a page without it speaks its browser's.
    pub language: Option<Tongue>,
}

/// Whose time is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Time {
    /// The computer's own, beside UTC.
    #[default]
    Local,
    /// UTC alone.
    Utc,
}

/// Where the file is, or would be.
#[must_use]
pub fn path() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os(VARIABLE).filter(|value| !value.is_empty()) {
        return Some(named.into());
    }
    let folders = etcetera::choose_base_strategy().ok()?;
    Some(folders.config_dir().join("trundle").join("settings.toml"))
}

impl Settings {
    /// How numbers and times are read; as where nothing is set when the file cannot be read: units
    /// are no reason to stop.
    #[must_use]
    pub fn reading_in_force() -> Reading {
        Self::read().unwrap_or_default().reading()
    }

    /// How numbers and times are read.
    #[must_use]
    pub fn reading(&self) -> Reading {
        let zone = match self.time {
            Time::Local => Zone::Local(local_offset_s),
            Time::Utc => Zone::Utc,
        };
        let (speed, pressure, length) = (self.speed_unit, self.pressure_unit, self.length_unit);
        Reading { speed, pressure, length, zone }
    }

    /// Read the file; nothing is set where there is none.
    ///
    /// # Errors
    /// Exit code 2 for a file that does not say what it may, 4 or 5 when it cannot be read.
    pub fn read() -> Result<Self, Trouble> {
        let Some(path) = path().filter(|path| path.exists()) else { return Ok(Self::default()) };
        let text = files::read_text(&path)?;
        toml::from_str(&text).map_err(|fault| {
            Trouble::new(
                exit::USAGE,
                format!("{}: {}.", path.display(), fault.message().trim_end_matches('.')),
                "Nothing was begun: a setting that is misread would go unnoticed.",
                "Correct the file. It can say captures, board, receiver, receiver_speed, data, \
                 speed_unit, pressure_unit, length_unit, time and language.",
            )
        })
    }
}
