//! Where the bands of the map lie, so that none hides another.
//!
//! A field is driven row beside row, a headland over and over on the same ground. Bands are as
//! wide as the rows allow, and a part that was driven where another lies already is moved aside by
//! whole widths.

use std::collections::BTreeMap;
use trundle_core::geodesy::{Enu, LocalPlane};
use trundle_core::survey::ride::parts::PartKind;
use trundle_core::survey::slip::Section;

/// Width of a band where there is room, metres.
const WIDTH_M: f64 = 3.0;
/// A band is no thinner than this share of the map's width, if the rows allow.
const WIDTH_SHARE: f64 = 0.012;
/// Ways nearer than this are the same row, metres: the narrowest tractors need more (common
/// practice, no source).
const SAME_ROW_M: f64 = 1.5;
/// A band takes this share of the space between rows.
const OF_SPACE: f64 = 0.9;
/// Bends smaller than this are not drawn, metres: about the noise of a plain receiver.
const SMOOTH_M: f64 = 0.3;
/// Centre lines nearer than this share of a width hide each other.
const NEAR: f64 = 0.8;
/// A part that shares no more than this with others stays where it is: parts meet at their ends,
/// and rows may cross.
const SHARED: f64 = 0.25;
/// Widths to either side that are tried.
const ASIDE: [f64; 13] = [0., 1., -1., 2., -2., 3., -3., 4., -4., 5., -5., 6., -6.];

/// The band of one section.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Its centre line, metres, two points or more.
    pub centre: Vec<Enu>,
    /// Its width, metres.
    pub width_m: f64,
}

/// Bands of all sections, in their order, and the furthest that any was moved aside, metres.
pub fn bands(sections: &[Section], plane: &LocalPlane) -> (Vec<Band>, f64) {
    let ways: Vec<Vec<Enu>> = sections.iter().map(|section| way(section, plane)).collect();
    let width_m = width_m(sections, &ways);
    let mut taken = Points::new(width_m);
    let (mut out, mut furthest_m) = (Vec::new(), 0.0_f64);
    let mut from = 0;
    for part in sections.chunk_by(|a, b| a.part == b.part) {
        let ways = &ways[from..from + part.len()];
        from += part.len();
        let crowd = |aside: f64| {
            let moved: Vec<Enu> = ways
                .iter()
                .flat_map(|way| dense(&offset(way, aside * width_m), width_m / 2.0))
                .collect();
            let near = moved.iter().filter(|at| taken.nearest_m(at) < NEAR * width_m).count();
            (near as f64 / moved.len().max(1) as f64, moved)
        };
        let mut best: Option<(f64, f64, Vec<Enu>)> = None;
        for aside in ASIDE {
            let (share, moved) = crowd(aside);
            if best.as_ref().is_none_or(|b| share < b.0) {
                best = Some((share, aside, moved));
            }
            if share <= SHARED {
                break;
            }
        }
        let Some((_, aside, moved)) = best else { continue };
        furthest_m = furthest_m.max(aside.abs() * width_m);
        out.extend(ways.iter().map(|way| Band { centre: offset(way, aside * width_m), width_m }));
        moved.into_iter().for_each(|at| taken.add(at));
    }
    (out, furthest_m)
}

/// The way of a section on the plane, without the wriggling of noise.
fn way(section: &Section, plane: &LocalPlane) -> Vec<Enu> {
    let points: Vec<Enu> = section.line.iter().map(|&(lat, lon)| plane.enu(lat, lon)).collect();
    let mut out = Vec::new();
    if let (Some(first), true) = (points.first(), points.len() > 1) {
        out.push(*first);
        smooth(&points, &mut out);
    }
    out
}

/// Ramer's and Douglas and Peucker's way to drop points.
fn smooth(points: &[Enu], out: &mut Vec<Enu>) {
    let (first, last) = (points[0], points[points.len() - 1]);
    let (east, north) = (last.east_m - first.east_m, last.north_m - first.north_m);
    let length = east.hypot(north).max(1e-9);
    let off = |at: &Enu| {
        let (x, y) = (at.east_m - first.east_m, at.north_m - first.north_m);
        ((x * north - y * east) / length).abs()
    };
    let inner = points.iter().enumerate().take(points.len() - 1).skip(1);
    match inner.max_by(|a, b| off(a.1).total_cmp(&off(b.1))) {
        Some((at, point)) if off(point) > SMOOTH_M => {
            smooth(&points[..=at], out);
            smooth(&points[at..], out);
        }
        _ => out.push(last),
    }
}

/// A line moved to its right, metres; to its left where negative.
pub fn offset(line: &[Enu], right_m: f64) -> Vec<Enu> {
    let along = |a: Enu, b: Enu| {
        let (east, north) = (b.east_m - a.east_m, b.north_m - a.north_m);
        let length = east.hypot(north).max(1e-9);
        (east / length, north / length)
    };
    let last = line.len().saturating_sub(1);
    (0..line.len())
        .map(|i| {
            let before = along(line[i.saturating_sub(1)], line[i]);
            let after = along(line[i], line[(i + 1).min(last)]);
            let (east, north) = (before.0 + after.0, before.1 + after.1);
            let length = east.hypot(north).max(1e-9);
            Enu {
                east_m: line[i].east_m + right_m * north / length,
                north_m: line[i].north_m - right_m * east / length,
            }
        })
        .collect()
}

/// Points along a line, no further apart than `apart_m`.
fn dense(line: &[Enu], apart_m: f64) -> Vec<Enu> {
    let mut out: Vec<Enu> = line.first().copied().into_iter().collect();
    for pair in line.windows(2) {
        let (east, north) = (pair[1].east_m - pair[0].east_m, pair[1].north_m - pair[0].north_m);
        let parts = (east.hypot(north) / apart_m).ceil().max(1.0) as usize;
        out.extend((1..=parts).map(|n| {
            let share = n as f64 / parts as f64;
            Enu { east_m: pair[0].east_m + share * east, north_m: pair[0].north_m + share * north }
        }));
    }
    out
}

/// How wide the bands can be: half of the rows have a neighbour no nearer.
fn width_m(sections: &[Section], ways: &[Vec<Enu>]) -> f64 {
    let all = || ways.iter().flatten();
    let extent = |value: fn(&Enu) -> f64| {
        let (low, high) = all()
            .map(value)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |r, v| (r.0.min(v), r.1.max(v)));
        high - low
    };
    let across_m = extent(|p| p.east_m).max(extent(|p| p.north_m));
    let wanted_m = if across_m.is_finite() { WIDTH_M.max(WIDTH_SHARE * across_m) } else { WIDTH_M };
    let mut parts: BTreeMap<u32, Vec<Enu>> = BTreeMap::new();
    for (section, way) in sections.iter().zip(ways).filter(|(w, _)| w.kind == PartKind::Pass) {
        parts.entry(section.part).or_default().extend(dense(way, SAME_ROW_M / 2.0));
    }
    let mut grid = Points::new(wanted_m);
    parts.values().flatten().for_each(|at| grid.add(*at));
    // From the middle of each row: how near is another row that is not the same one?
    let mut spaces: Vec<f64> = parts
        .values()
        .filter_map(|part| {
            let (at, ahead) = (*part.get(part.len() / 2)?, *part.get(part.len() / 2 + 1)?);
            let (east, north) = (ahead.east_m - at.east_m, ahead.north_m - at.north_m);
            let length = east.hypot(north).max(1e-9);
            let across = |p: &Enu| {
                ((p.east_m - at.east_m) * north - (p.north_m - at.north_m) * east) / length
            };
            let found = grid.around(&at).map(|p| across(p).abs()).filter(|m| *m >= SAME_ROW_M);
            Some(found.fold(f64::INFINITY, f64::min))
        })
        .collect();
    spaces.sort_by(f64::total_cmp);
    let space_m = spaces.get(spaces.len() / 2).copied().unwrap_or(f64::INFINITY);
    wanted_m.min(OF_SPACE * space_m)
}

/// Points by square of ground.
struct Points {
    side_m: f64,
    squares: BTreeMap<(i64, i64), Vec<Enu>>,
}

impl Points {
    const fn new(side_m: f64) -> Self {
        Self { side_m, squares: BTreeMap::new() }
    }

    fn square(&self, at: &Enu) -> (i64, i64) {
        ((at.east_m / self.side_m).floor() as i64, (at.north_m / self.side_m).floor() as i64)
    }

    fn add(&mut self, at: Enu) {
        self.squares.entry(self.square(&at)).or_default().push(at);
    }

    /// Those in the square of a point and in the eight around it.
    fn around(&self, at: &Enu) -> impl Iterator<Item = &Enu> {
        let (x, y) = self.square(at);
        (-1..=1)
            .flat_map(move |dx| (-1..=1).map(move |dy| (x + dx, y + dy)))
            .filter_map(|square| self.squares.get(&square))
            .flatten()
    }

    /// Distance to the nearest; right as far as it is below the side of a square.
    fn nearest_m(&self, at: &Enu) -> f64 {
        let apart = |p: &Enu| (p.east_m - at.east_m).hypot(p.north_m - at.north_m);
        self.around(at).map(apart).fold(f64::INFINITY, f64::min)
    }
}
