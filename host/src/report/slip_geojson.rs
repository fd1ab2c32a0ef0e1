//! Slip for maps: GeoJSON by RFC 7946, one line a window.
//!
//! Positions are [longitude, latitude] in degrees, WGS 84, as the standard has it. Slip and its
//! standard uncertainty are fractions. Same input, same bytes.

use crate::budget::rounding::round_to;
use crate::slip::{Slip, Window};
use crate::units::rfc3339;
use serde_json::{Value, json};

/// Decimals of degrees: a millimetre, which is below any receiver's noise.
const DEGREE_DECIMALS: i32 = 8;
/// Decimals of slip: a ten-thousandth of a per cent.
const SLIP_DECIMALS: i32 = 6;
/// Decimals of metres and metres per second.
const METRE_DECIMALS: i32 = 3;

/// A collection with a feature for each window, in order of time, ending with a line end.
#[must_use]
pub fn render(slip: &Slip) -> String {
    let features: Vec<Value> = slip.windows.iter().map(feature).collect();
    let mut out = json!({ "type": "FeatureCollection", "features": features }).to_string();
    out.push('\n');
    out
}

fn feature(window: &Window) -> Value {
    let flags: Vec<&str> = window.flags.iter().map(|flag| flag.word()).collect();
    json!({
        "type": "Feature",
        "geometry": geometry(window),
        "properties": {
            "utc": rfc3339(window.utc_ns),
            "slip": round_to(window.slip, SLIP_DECIMALS),
            "standard_uncertainty": round_to(window.standard_uncertainty, SLIP_DECIMALS),
            "length_m": round_to(window.length_m, METRE_DECIMALS),
            "ground_speed_m_s": round_to(window.ground_speed_m_s, METRE_DECIMALS),
            "kind": window.kind.word(),
            "leg": window.leg,
            "in_work": window.in_work,
            "flags": flags,
        },
    })
}

/// A line needs two positions; a window without them keeps its feature, without a place, as the
/// standard allows.
fn geometry(window: &Window) -> Value {
    if window.line.len() < 2 {
        return Value::Null;
    }
    let positions: Vec<[f64; 2]> = window
        .line
        .iter()
        .map(|&(lat, lon)| [round_to(lon, DEGREE_DECIMALS), round_to(lat, DEGREE_DECIMALS)])
        .collect();
    json!({ "type": "LineString", "coordinates": positions })
}
