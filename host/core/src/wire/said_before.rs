//! What a receiver has said, so that the same sentences coming again are known.
//!
//! A buffer on the way may hand out old bytes again, seconds or minutes later. They are sound
//! sentences of their own time and say nothing of now. A receiver whose clock was set back also
//! prints times that were there before, but not the same places at them, unless it stands still.

use super::fix::Fix;
use std::collections::BTreeMap;

/// Fixes remembered: half an hour at ten a second.
const REMEMBERED: usize = 18_000;
/// The same place in sentences of unlike digits, beyond half a digit of each, degrees: 1 mm.
const SAME_DEG: f64 = 1e-8;
/// Metres in a degree, for digits only.
const DEGREE_M: f64 = 111_320.0;

/// Places by their times.
#[derive(Debug, Clone, Default)]
pub struct SaidBefore {
    places: BTreeMap<i64, (f64, f64)>,
}

impl SaidBefore {
    /// Remember a fix; of two with one time the later one.
    pub fn add(&mut self, fix: &Fix) {
        if self.places.len() >= REMEMBERED && !self.places.contains_key(&fix.utc_ns) {
            self.places.pop_first();
        }
        self.places.insert(fix.utc_ns, (fix.lat_deg, fix.lon_deg));
    }

    /// Whether the same place was said at the same time before.
    pub fn holds(&self, fix: &Fix) -> bool {
        let within_deg = SAME_DEG + fix.position_quantum_m / DEGREE_M;
        self.places.get(&fix.utc_ns).is_some_and(|(lat_deg, lon_deg)| {
            let scale = fix.lat_deg.to_radians().cos();
            (fix.lat_deg - lat_deg).abs() <= within_deg
                && (fix.lon_deg - lon_deg).abs() * scale <= within_deg
        })
    }
}
