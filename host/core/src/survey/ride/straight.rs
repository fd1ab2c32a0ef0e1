//! Which fixes were made on a straight path.
//!
//! In a turn an antenna beside or ahead of the middle of the axle runs faster or slower than the
//! wheel. Turns come together with changes of speed, so that they would draw the match of speeds
//! to a wrong lag.

use super::Placed;

/// Directions are compared over this long to either side, seconds.
const REACH_S: f64 = 0.6;
/// Slower than this the direction is noise, m/s.
const SLOW_M_S: f64 = 0.7;
/// From this rate of turn on a fix is left out, degrees per second: an antenna a metre off the
/// middle then runs 0.1 m/s faster or slower.
const TURN_DEG_S: f64 = 6.0;

/// What of a fix shows a turn.
struct Seen {
    tag_s: f64,
    track_deg: Option<f64>,
    slow: bool,
}

/// For each fix: no turn is to be seen there.
pub(super) fn straight(fixes: &Placed<'_>) -> Vec<bool> {
    let seen = fixes.tagged().map(|tagged| Seen {
        tag_s: tagged.tag_s,
        track_deg: tagged.fix.track_deg,
        slow: tagged.fix.speed_m_s.is_none_or(|v| v < SLOW_M_S),
    });
    let fixes: Vec<Seen> = seen.collect();
    let (mut first, mut last) = (0, 0);
    fixes
        .iter()
        .map(|fix| {
            while fix.tag_s - fixes[first].tag_s > REACH_S {
                first += 1;
            }
            while fixes.get(last + 1).is_some_and(|next| next.tag_s - fix.tag_s <= REACH_S) {
                last += 1;
            }
            let (a, b) = (&fixes[first], &fixes[last]);
            let (Some(from), Some(to)) = (a.track_deg, b.track_deg) else { return true };
            if a.slow || b.slow || last == first {
                return true;
            }
            let turn = (to - from + 180.0).rem_euclid(360.0) - 180.0;
            turn.abs() < TURN_DEG_S * (b.tag_s - a.tag_s)
        })
        .collect()
}
