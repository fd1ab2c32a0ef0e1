//! The way of one row over the ground, for maps.

/// One row on the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// What it belongs to, such as the capture; a new one begins a new track.
    pub of: String,
    /// Number of its part, from 1.
    pub part: u32,
    /// `pass` or `turn`.
    pub kind: &'static str,
    /// Degrees, WGS 84: latitude, longitude.
    pub line: Vec<(f64, f64)>,
    /// UTC of its middle, nanoseconds since 1970.
    pub utc_ns: i64,
    /// How long it took, seconds.
    pub lasted_s: f64,
    /// What is to be said of it, for people.
    pub words: String,
    /// The same for programs: names and values of attributes in our own namespace.
    pub facts: Vec<(&'static str, String)>,
}
