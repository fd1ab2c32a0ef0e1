//! A table for maps: GeoJSON by RFC 7946, a line a row, its properties the columns of the table.
//!
//! Positions are [longitude, latitude] in degrees, WGS 84, as the standard has it.

use super::json::{RowV1, rows};
use super::table::Table;
use super::track::Track;
use serde::Serialize;
use trundle_core::stats::budget::rounding::round_to;

/// Decimals of degrees: a millimetre, which is below any receiver's noise.
const DEGREE_DECIMALS: i32 = 8;

#[derive(Serialize)]
struct Collection<'a> {
    r#type: &'static str,
    features: Vec<Feature<'a>>,
}

#[derive(Serialize)]
struct Feature<'a> {
    r#type: &'static str,
    geometry: Option<Geometry>,
    properties: RowV1<'a>,
}

#[derive(Serialize)]
struct Geometry {
    r#type: &'static str,
    coordinates: Vec<[f64; 2]>,
}

/// A collection with a feature for each row, in their order, as one line without a line end.
pub fn write(table: &Table, tracks: &[Track]) -> String {
    let features = rows(table)
        .zip(tracks)
        .map(|(properties, track)| Feature {
            r#type: "Feature",
            geometry: geometry(track),
            properties,
        })
        .collect();
    let collection = Collection { r#type: "FeatureCollection", features };
    serde_json::to_string(&collection).expect("plain cells and numbers always serialise")
}

/// A line needs two positions; a row without them keeps its feature, without a place, as the
/// standard allows.
fn geometry(track: &Track) -> Option<Geometry> {
    let coordinates: Vec<[f64; 2]> = track
        .line
        .iter()
        .map(|&(lat, lon)| [round_to(lon, DEGREE_DECIMALS), round_to(lat, DEGREE_DECIMALS)])
        .collect();
    (coordinates.len() >= 2).then_some(Geometry { r#type: "LineString", coordinates })
}
