//! Slip by place: squares of ground, each with all sections whose middle lies in it.

use super::options::ZeroSlip;
use super::section::Section;
use super::totals::{Total, total};
use crate::geodesy::{Enu, LocalPlane};
use std::collections::BTreeMap;

/// Side of a square, metres: about a section and a half.
const SIDE_M: f64 = 25.0;

/// One square of the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlipPlace {
    /// Latitude and longitude of its middle, degrees.
    pub lat_lon_deg: (f64, f64),
    /// Length of its side, metres.
    pub side_m: f64,
    /// All sections in it.
    pub total: Total,
}

/// Totals by place, from the south to the north and from the west to the east.
pub fn by_place(sections: &[Section], zero: &ZeroSlip) -> Vec<SlipPlace> {
    let Some(origin) = sections.first().map(Section::middle) else { return Vec::new() };
    let plane = LocalPlane::new(origin.0, origin.1, 0.0);
    let mut squares: BTreeMap<(i64, i64), Vec<&Section>> = BTreeMap::new();
    for section in sections {
        let (lat_deg, lon_deg) = section.middle();
        let at = plane.enu(lat_deg, lon_deg);
        let square = |m: f64| (m / SIDE_M).floor() as i64;
        squares.entry((square(at.north_m), square(at.east_m))).or_default().push(section);
    }
    squares
        .into_iter()
        .filter_map(|((north, east), inside)| {
            let middle = |n: i64| (n as f64 + 0.5) * SIDE_M;
            let at = Enu { east_m: middle(east), north_m: middle(north) };
            let total = total(inside.into_iter(), zero)?;
            Some(SlipPlace { lat_lon_deg: plane.lat_lon_deg(at), side_m: SIDE_M, total })
        })
        .collect()
}
