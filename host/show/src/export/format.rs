//! The formats, and why one cannot be had.

use super::{Export, csv, geojson, gpx, json};

/// A format of the files that go out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// RFC 4180.
    Csv,
    /// `trundle-export`, one object.
    Json,
    /// Apache Parquet.
    Parquet,
    /// RFC 7946.
    GeoJson,
    /// GPX 1.1.
    Gpx,
}

/// Why there is no such file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ExportRefusal {
    /// A format for places, and rows without any.
    #[error("{} holds places, and {table} have no coordinates", format.names().1)]
    NoPlaces {
        /// The format asked for.
        format: Format,
        /// Name of the refused table.
        table: &'static str,
    },
    /// The program was built without Parquet.
    #[error("this program was built without Parquet")]
    NoParquet,
    /// The end of a file's name tells no format.
    #[error("{name:?} does not show by its ending which format to write")]
    UnknownEnd {
        /// The name that was given.
        name: String,
    },
}

impl ExportRefusal {
    /// What it means for the result.
    #[must_use]
    pub const fn means(&self) -> &'static str {
        match self {
            Self::NoPlaces { .. } => "A map of them would be made up, so nothing was written.",
            Self::NoParquet | Self::UnknownEnd { .. } => "Nothing was written.",
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::NoPlaces { .. } => "Take .csv, .json or .parquet.",
            Self::NoParquet => "Take .csv or .json, or a program built with the feature `parquet`.",
            Self::UnknownEnd { .. } => {
                "End it in .csv, .json, .parquet, .geojson or .gpx, or say which with --format."
            }
        }
    }
}

impl Format {
    /// All.
    pub const ALL: [Format; 5] =
        [Format::Csv, Format::Json, Format::Parquet, Format::GeoJson, Format::Gpx];

    /// The end of its files' names, and its name in a sentence.
    const fn names(self) -> (&'static str, &'static str) {
        match self {
            Format::Csv => ("csv", "CSV"),
            Format::Json => ("json", "JSON"),
            Format::Parquet => ("parquet", "Parquet"),
            Format::GeoJson => ("geojson", "GeoJSON"),
            Format::Gpx => ("gpx", "GPX"),
        }
    }

    /// The end of its files' names, which is its word on the command line too.
    #[must_use]
    pub const fn word(self) -> &'static str {
        self.names().0
    }

    /// The format that a word names.
    #[must_use]
    pub fn named(word: &str) -> Option<Format> {
        Self::ALL.into_iter().find(|format| format.word() == word)
    }

    /// The format that the end of a file's name tells, whatever its case.
    ///
    /// # Errors
    /// [`ExportRefusal::UnknownEnd`].
    pub fn of_file(name: &str) -> Result<Format, ExportRefusal> {
        let end = name.rsplit_once('.').map(|(_, end)| end.to_lowercase());
        end.and_then(|end| Self::named(&end))
            .ok_or_else(|| ExportRefusal::UnknownEnd { name: name.to_owned() })
    }
}

impl Export {
    /// The bytes of the file. Same export, same bytes. `raw`: text in CSV is left as it is, even
    /// where a spreadsheet would take it for a formula.
    ///
    /// # Errors
    /// [`ExportRefusal`] when this cannot be had in that format.
    pub fn bytes(&self, format: Format, raw: bool) -> Result<Vec<u8>, ExportRefusal> {
        let no_places = ExportRefusal::NoPlaces { format, table: self.table.name };
        let ended = |mut text: String| {
            text.push('\n');
            text.into_bytes()
        };
        match format {
            Format::Csv => Ok(csv::write(&self.table, raw)),
            Format::Json => Ok(ended(json::write(&self.table))),
            // Its writer's own crates reach the world, so the program has it.
            Format::Parquet => Err(ExportRefusal::NoParquet),
            Format::GeoJson => {
                let tracks = self.tracks.as_deref().ok_or(no_places)?;
                Ok(ended(geojson::write(&self.table, tracks)))
            }
            Format::Gpx => {
                let tracks = self.tracks.as_deref().ok_or(no_places)?;
                Ok(gpx::write(tracks).into_bytes())
            }
        }
    }
}
