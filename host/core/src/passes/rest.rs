//! Standing or rolling at a mark, judged from the counts.

use crate::timeline::counts::CountCurve;

/// A stretch without an impulse at least this long is a stop, seconds. Between impulses of a
/// crawling tractor (0.1 m/s, 20 impulses per metre) pass 0.5 s.
const REST_MIN_S: f64 = 2.0;
/// A press this long before the stop or after the start still means the rest, seconds.
pub const NEAR_S: f64 = 2.0;
/// The tractor is to stand this long beside a peg, seconds, and the same is planned with: the mean
/// of the positions of ten seconds has lost what differs from fix to fix; common practice, no
/// source. Less is taken too, and only widens the interval.
pub const REST_WANTED_S: f64 = 10.0;
/// Keep this far from the edges that bound the rest, seconds.
const INSIDE_S: f64 = 0.02;

/// How the tractor stood at a mark. Times in board seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stance {
    /// At rest: first and last instant without an impulse.
    Standing {
        /// Begin of the standstill, board seconds.
        from_s: f64,
        /// End of the standstill, board seconds.
        to_s: f64,
        /// The press itself was outside the rest and was moved to it.
        moved: bool,
    },
    /// Marked while the tractor was moving.
    Rolling {
        /// The instant of the mark.
        at_s: f64,
    },
}

impl Stance {
    /// The instant at which the count of a start is taken: just before moving off, so that false
    /// counts at rest stay outside the pass.
    #[must_use]
    pub fn start_s(self) -> f64 {
        match self {
            Stance::Standing { to_s, .. } => to_s - INSIDE_S,
            Stance::Rolling { at_s } => at_s,
        }
    }

    /// The instant at which the count of a finish is taken: just after coming to rest.
    #[must_use]
    pub fn finish_s(self) -> f64 {
        match self {
            Stance::Standing { from_s, .. } => from_s + INSIDE_S,
            Stance::Rolling { at_s } => at_s,
        }
    }

    /// A start's first edge after the rest, or the instant of the mark.
    #[must_use]
    pub fn motion_from_s(self) -> f64 {
        match self {
            Stance::Standing { to_s: at_s, .. } | Stance::Rolling { at_s } => at_s,
        }
    }

    /// A finish's last edge before the rest, or the instant of the mark.
    #[must_use]
    pub fn motion_to_s(self) -> f64 {
        match self {
            Stance::Standing { from_s: at_s, .. } | Stance::Rolling { at_s } => at_s,
        }
    }

    /// Whether it is a standstill.
    #[must_use]
    pub const fn is_standing(self) -> bool {
        matches!(self, Stance::Standing { .. })
    }
}

/// Count of one channel while the tractor stood, from a reading well inside its own rest.
///
/// Each sensor has a rest of its own within the standstill from `from_s` to `to_s` that the channel
/// of motion shows: a coarse one is quiet while the tractor already creeps, a fine one counts on.
/// Taken is its longest quiet span where that fills half of the standstill; where false counts
/// break it up, the last one before moving off (`is_start`) or the first after coming to rest, so
/// that they stay outside the pass; without any, the count at the edge of the standstill.
#[must_use]
pub fn standing_count(curve: &CountCurve, from_s: f64, to_s: f64, is_start: bool) -> Option<f64> {
    let quiet = curve.quiet_spans(from_s, to_s);
    let within = |span: &(f64, f64, f64)| span.1.min(to_s) - span.0.max(from_s);
    let longest = quiet.iter().max_by(|a, b| within(a).total_cmp(&within(b)));
    if let Some(span) = longest.filter(|span| within(span) >= 0.5 * (to_s - from_s)) {
        return Some(span.2);
    }
    let mut rests = quiet.iter().filter(|span| span.1 - span.0 >= REST_MIN_S);
    let rest = if is_start { rests.next_back() } else { rests.next() };
    let edge_s = if is_start { to_s - INSIDE_S } else { from_s + INSIDE_S };
    rest.map(|span| span.2).or_else(|| curve.whole(edge_s))
}

/// Judge the stance at a mark at board second `mark_s` from the channel that shows motion.
#[must_use]
pub fn stance(motion: &CountCurve, mark_s: f64) -> Stance {
    let rests = [0.0, NEAR_S, -NEAR_S].into_iter().filter_map(|shift_s| {
        let (from_s, to_s) = motion.quiet_around(mark_s + shift_s)?;
        let away_s = (from_s - mark_s).max(mark_s - to_s).max(0.0);
        (to_s - from_s >= REST_MIN_S && away_s <= NEAR_S).then_some((from_s, to_s, away_s))
    });
    match rests.min_by(|a, b| a.2.total_cmp(&b.2)) {
        Some((from_s, to_s, away_s)) => Stance::Standing { from_s, to_s, moved: away_s > 0.0 },
        None => Stance::Rolling { at_s: mark_s },
    }
}
