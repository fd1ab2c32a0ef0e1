//! Which fixes were made on a straight path.
//!
//! In a turn an antenna beside or ahead of the middle of the axle runs faster or slower than the
//! wheel. Turns come together with changes of speed, so that they would draw the match of speeds
//! to a wrong lag.

use super::Placed;
use std::collections::VecDeque;

/// Directions are compared over this long to either side, seconds.
const REACH_S: f64 = 0.6;
/// Slower than this the direction is noise, m/s.
const SLOW_M_S: f64 = 0.7;
/// From this rate of turn on a fix is left out, degrees per second: an antenna a metre off the
/// middle then runs 0.1 m/s faster or slower.
const TURN_DEG_S: f64 = 6.0;

/// What of a fix shows a turn, and its speed.
struct Seen {
    tag_s: f64,
    track_deg: Option<f64>,
    speed_m_s: Option<f64>,
}

impl Seen {
    fn slow(&self) -> bool {
        self.speed_m_s.is_none_or(|v| v < SLOW_M_S)
    }
}

/// Each fix with its speed, where it has one and no turn is to be seen.
pub(super) fn straight<'p>(fixes: &'p Placed<'p>) -> impl Iterator<Item = (f64, Option<f64>)> + 'p {
    let mut ahead = fixes.tagged().map(|tagged| Seen {
        tag_s: tagged.tag_s,
        track_deg: tagged.fix.track_deg,
        speed_m_s: tagged.fix.speed_m_s,
    });
    // From the first within reach to the one behind the last: each is read out of the trail once.
    let mut near: VecDeque<Seen> = VecDeque::new();
    let (mut here, mut last) = (0_usize, 0_usize);
    std::iter::from_fn(move || {
        if near.len() == here {
            near.extend(ahead.next());
        }
        let &Seen { tag_s, speed_m_s, .. } = near.get(here)?;
        loop {
            if near.len() == last + 1 {
                near.extend(ahead.next());
            }
            match near.get(last + 1) {
                Some(next) if next.tag_s - tag_s <= REACH_S => last += 1,
                _ => break,
            }
        }
        while last > 0 && near.front().is_some_and(|first| tag_s - first.tag_s > REACH_S) {
            near.pop_front();
            (here, last) = (here.saturating_sub(1), last - 1);
        }
        let straight = last == 0 || is_straight(&near[0], &near[last]);
        here += 1;
        Some((tag_s, speed_m_s.filter(|_| straight)))
    })
}

fn is_straight(a: &Seen, b: &Seen) -> bool {
    let (Some(from), Some(to)) = (a.track_deg, b.track_deg) else { return true };
    if a.slow() || b.slow() {
        return true;
    }
    let turn = (to - from + 180.0).rem_euclid(360.0) - 180.0;
    turn.abs() < TURN_DEG_S * (b.tag_s - a.tag_s)
}
