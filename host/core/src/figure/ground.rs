//! Where the passes went, seen along the course: for a picture, never for a value.

use super::job::Work;
use crate::geodesy::{Enu, LocalPlane};
use crate::passes::pass::{Direction, MeasuredPass};
use crate::session::window::PassWindow;

/// Places kept of a pass: more than a picture on a phone can show.
pub const PLACES_MOST: usize = 60;

/// A place on the course, metres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    /// From the start peg towards the far one.
    pub along_m: f64,
    /// To the right of the line between the pegs.
    pub right_m: f64,
}

/// The way of one pass.
#[derive(Clone, Debug, PartialEq)]
pub struct PassWay {
    /// Number of the pass, from 1.
    pub number: u32,
    /// Way along the course, where known.
    pub direction: Option<Direction>,
    /// `valid`, `flagged` or `refused`.
    pub state: &'static str,
    /// Length by satellite, metres, where it was measured.
    pub length_m: Option<f64>,
    /// Farthest from the straight line between its own ends, metres.
    pub beside_m: f64,
    /// At most [`PLACES_MOST`], in the order of driving.
    pub places: Vec<Place>,
}

/// The course and the passes on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// From peg to peg by satellite, metres.
    pub length_m: f64,
    /// Where the course leads, degrees clockwise from north.
    pub bearing_deg: f64,
    /// The passes that have places, in their order.
    pub ways: Vec<PassWay>,
}

/// Where the passes of a worked job went; `None` before one was measured with a receiver.
#[must_use]
pub fn ground(windows: &[PassWindow], work: &Work) -> Option<Ground> {
    let measured = work.passes.iter().filter_map(|pass| pass.measured.as_ref());
    let ends: Vec<_> = measured.filter_map(|pass| Some((pass, pass.ends?))).collect();
    let origin = ends.first()?.1.0.lat_lon_deg;
    let plane = LocalPlane::new(origin.0, origin.1, 0.0);
    let at = |(lat, lon): (f64, f64)| plane.enu(lat, lon);
    let way = |pass: &MeasuredPass| {
        work.passes.iter().find(|one| one.number == pass.number).and_then(|one| one.direction)
    };
    let (mut pegs, mut seen) = ([Enu::default(); 2], 0.0);
    for (pass, (start, finish)) in &ends {
        let mut both = [at(start.lat_lon_deg), at(finish.lat_lon_deg)];
        if way(pass) == Some(Direction::Back) {
            both.reverse();
        }
        for (peg, end) in pegs.iter_mut().zip(both) {
            peg.east_m += end.east_m;
            peg.north_m += end.north_m;
        }
        seen += 1.0;
    }
    let pegs = pegs.map(|peg| Enu { east_m: peg.east_m / seen, north_m: peg.north_m / seen });
    let (east_m, north_m) = (pegs[1].east_m - pegs[0].east_m, pegs[1].north_m - pegs[0].north_m);
    let length_m = east_m.hypot(north_m);
    if length_m < 1.0 {
        return None;
    }
    let axis = (east_m / length_m, north_m / length_m);
    let place = |lat_lon_deg: (f64, f64)| {
        let point = at(lat_lon_deg);
        let (east_m, north_m) = (point.east_m - pegs[0].east_m, point.north_m - pegs[0].north_m);
        Place {
            along_m: east_m * axis.0 + north_m * axis.1,
            right_m: east_m * axis.1 - north_m * axis.0,
        }
    };
    let ways = windows.iter().filter_map(|window| pass_way(window, work, place)).collect();
    let bearing_deg = axis.0.atan2(axis.1).to_degrees().rem_euclid(360.0);
    Some(Ground { length_m, bearing_deg, ways })
}

fn pass_way(
    window: &PassWindow,
    work: &Work,
    place: impl Fn((f64, f64)) -> Place,
) -> Option<PassWay> {
    let finish_ns = window.finish.as_ref()?.host_ns;
    let between = window.start.host_ns..=finish_ns;
    let fixes = window.fixes.iter().filter(|fix| between.contains(&fix.host_ns));
    let places: Vec<Place> = fixes.map(|fix| place((fix.lat_deg, fix.lon_deg))).collect();
    let (first, last) = (*places.first()?, *places.last()?);
    let pass = work.passes.iter().find(|pass| pass.number == window.number)?;
    let satellite = pass.measured.as_ref().and_then(|measured| measured.satellite);
    Some(PassWay {
        number: window.number,
        direction: pass.direction,
        state: pass.state(),
        length_m: satellite.map(|satellite| satellite.joined.length_m),
        beside_m: places.iter().map(|at| beside_m(*at, first, last)).fold(0.0, f64::max),
        places: thinned(&places),
    })
}

/// How far a place is from the straight line from `first` to `last`, metres.
fn beside_m(at: Place, first: Place, last: Place) -> f64 {
    let (along_m, right_m) = (last.along_m - first.along_m, last.right_m - first.right_m);
    let length_m = along_m.hypot(right_m);
    if length_m <= 0.0 {
        return 0.0;
    }
    let cross = along_m * (at.right_m - first.right_m) - right_m * (at.along_m - first.along_m);
    (cross / length_m).abs()
}

/// Evenly taken, both ends kept.
fn thinned(places: &[Place]) -> Vec<Place> {
    let last = places.len().saturating_sub(1);
    let kept = places.len().min(PLACES_MOST);
    (0..kept).map(|n| places[n * last / kept.saturating_sub(1).max(1)]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_way_is_thinned_with_both_ends_and_its_bow_is_seen() {
        let bow = |n: usize| {
            let along_m = n as f64 / 10.0;
            Place { along_m, right_m: 2.0 * (std::f64::consts::PI * along_m / 100.0).sin() }
        };
        let places: Vec<Place> = (0..=1000).map(bow).collect();
        let kept = thinned(&places);
        assert_eq!((kept.len(), kept[0], kept[59]), (PLACES_MOST, places[0], places[1000]));
        assert_eq!(thinned(&places[..1]), places[..1]);
        assert_eq!(thinned(&places[..3]), places[..3]);
        assert!(thinned(&[]).is_empty());
        let far = places.iter().map(|at| beside_m(*at, places[0], places[1000]));
        assert!((far.fold(0.0, f64::max) - 2.0).abs() < 1e-9);
    }
}
