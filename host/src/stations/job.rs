//! The job at hand: what was typed at each station and which captures were recorded. It lies in
//! the data folder, so that it is there again after the page, the program or the computer was
//! closed.

use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::store::place::DataFolder;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;
use trundle_show::words::station::Station;

/// Name of the file in the data folder.
const FILE: &str = "job.json";
/// Captures of one station that are remembered.
const CAPTURES: usize = 50;

/// The job at hand.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Job {
    /// What was typed last, by the word of the station and the name of the field.
    pub typed: BTreeMap<String, BTreeMap<String, String>>,
    /// Captures that were recorded, by the word of the station, the newest last.
    pub captures: BTreeMap<String, Vec<PathBuf>>,
    /// How the newest capture of a station came out: the exit code of its command.
    pub codes: BTreeMap<String, u8>,
    /// The simulated tractor that every recording of this job is of.
    pub practice: Option<Chosen>,
    /// What is being recorded; left behind by a program that was killed.
    pub recording: Option<Recording>,
}

/// A simulated tractor to practise with, as it was chosen.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Chosen {
    /// Scenario that is driven.
    pub scenario: String,
    /// Simulated seconds for each second.
    pub pace: String,
    /// Class of its receiver; empty for that of the scenario.
    pub receiver_class: String,
    /// Its driver presses no button.
    pub no_button: bool,
}

/// A recording that was begun.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recording {
    /// Word of its station.
    pub station: String,
    /// The command.
    pub argv: Vec<String>,
    /// The capture.
    pub capture: PathBuf,
}

impl Job {
    /// Read it; an empty one where there is none. One that cannot be read is left where it is, and
    /// a new one begun: it holds only what can be typed again.
    #[must_use]
    pub fn read(place: &DataFolder) -> Self {
        let path = place.folder().join(FILE);
        if !path.exists() {
            return Self::default();
        }
        let text = files::read_text(&path).unwrap_or_default();
        serde_json::from_str(&text).unwrap_or_default()
    }

    /// Save it.
    ///
    /// # Errors
    /// [`Trouble`] of code 6.
    pub fn save(&self, place: &DataFolder) -> Result<(), Trouble> {
        place.make()?;
        let text = serde_json::to_string_pretty(self).map_err(|error| {
            Trouble::new(
                exit::INTERNAL,
                format!("The job at hand cannot be written down ({error})."),
                "Nothing of the measurement is touched.",
                "Go on, and report this message.",
            )
        })?;
        files::replace_text(&place.folder().join(FILE), &text)
    }

    /// Nothing was typed and nothing recorded yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.typed.is_empty() && self.captures.is_empty()
    }

    /// What was typed last in a field of a station; empty where nothing was.
    #[must_use]
    pub fn typed(&self, station: Station, name: &str) -> String {
        let typed = self.typed.get(station.word()).and_then(|typed| typed.get(name));
        typed.cloned().unwrap_or_default()
    }

    /// Note what was typed at a station.
    pub fn note(&mut self, station: Station, typed: impl IntoIterator<Item = (String, String)>) {
        self.typed.entry(station.word().to_owned()).or_default().extend(typed);
    }

    /// The newest capture of a station.
    #[must_use]
    pub fn capture(&self, station: Station) -> Option<&PathBuf> {
        self.captures.get(station.word()).and_then(|captures| captures.last())
    }

    /// The newest capture of a station came out so.
    pub fn ended(&mut self, station: Station, code: u8) {
        self.codes.insert(station.word().to_owned(), code);
    }

    /// How the newest capture of a station came out; 1, something to be looked at, where that is
    /// not known.
    #[must_use]
    pub fn code(&self, station: Station) -> u8 {
        self.codes.get(station.word()).copied().unwrap_or(exit::FLAGGED)
    }

    /// A capture of a station is there; how it came out is not known yet.
    pub fn recorded(&mut self, station: Station, capture: PathBuf) {
        let captures = self.captures.entry(station.word().to_owned()).or_default();
        captures.retain(|other| *other != capture);
        captures.push(capture);
        captures.drain(..captures.len().saturating_sub(CAPTURES));
        self.codes.remove(station.word());
    }
}
