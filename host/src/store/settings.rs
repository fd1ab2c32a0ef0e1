//! The settings file, in the platform's folder for such files: what need not be typed each time.
//!
//! ```toml
//! captures = "/home/me/captures"   # where new captures go
//! board = "/dev/serial/by-id/..."  # port of the counter board
//! receiver = "COM4"                # port of the receiver
//! receiver_speed = 38400           # baud
//! data = "/home/me/records"        # rigs and records
//! ```
//!
//! An option on the command line wins over the file.

use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use etcetera::BaseStrategy as _;
use serde::Deserialize;
use std::path::PathBuf;

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
                "Correct the file. It can say captures, board, receiver, receiver_speed and data.",
            )
        })
    }
}
