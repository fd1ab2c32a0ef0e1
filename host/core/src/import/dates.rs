//! Which year a recording is of.
//!
//! Times of day are what a receiver prints most reliably, the date is not: a cold start prints
//! 1980, a rollover of the ten-bit week number prints a day 1024 weeks back, and the computer that
//! wrote the times of arrival may never have been set. All of these are late, none is ahead.

const DAY_NS: i64 = 86_400_000_000_000;
/// Dates further apart than this cannot both be right; as in the reading of fixes.
const APART_NS: i64 = 366 * DAY_NS;
/// From one rollover of a ten-bit week number to the next.
const ROLLOVER_NS: i64 = 1024 * 7 * DAY_NS;
/// 2019-04-07, the second rollover (IS-GPS-200, 20.3.3.3.1.1, from memory). A receiver that never
/// learned of it dates everything since then before this day.
const SECOND_ROLLOVER_NS: i64 = 1_554_595_200_000_000_000;

/// Where the date of a recording is from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Dated {
    /// The receiver and something beside it agree, or nothing needs to be said.
    #[default]
    Known,
    /// The receiver alone states a day on which receivers lie whose weeks have rolled over; the
    /// day it states and the one it is then, nanoseconds since 1970.
    PerhapsRolled { stated_ns: i64, then_ns: i64 },
    /// The receiver is more than a year ahead of the other clock, which must be wrong; both,
    /// nanoseconds since 1970.
    OtherWrong { stated_ns: i64, other_ns: i64 },
}

/// The first date that fits the others: within a year of the middle one, and the next date at
/// most a day from it.
fn first_sound(dates: &[i64]) -> Option<i64> {
    let mut sorted = dates.to_vec();
    sorted.sort_unstable();
    let middle = *sorted.get(sorted.len() / 2)?;
    let near = |a: i64, b: i64, apart_ns: i64| a.abs_diff(b) <= apart_ns as u64;
    let sound = dates
        .windows(2)
        .find(|pair| near(pair[0], middle, APART_NS) && near(pair[0], pair[1], DAY_NS));
    Some(sound.map_or(middle, |pair| pair[0]))
}

/// A time near the recording's beginning, nanoseconds since 1970, and where it is from: from
/// elsewhere, else from the times of arrival, else the receiver's own. Nothing is newer than
/// `now_ns`.
pub(crate) fn reference(
    outside_ns: Option<i64>,
    arrivals: &[i64],
    receiver: &[i64],
    now_ns: Option<i64>,
) -> Option<(i64, Dated)> {
    let may_be_rolled = |stated_ns: i64| {
        let then_ns = stated_ns + ROLLOVER_NS;
        stated_ns < SECOND_ROLLOVER_NS && now_ns.is_none_or(|now_ns| then_ns <= now_ns)
    };
    match (outside_ns.or_else(|| first_sound(arrivals)), first_sound(receiver)) {
        (Some(other_ns), Some(stated_ns)) if stated_ns.saturating_sub(other_ns) > APART_NS => {
            Some((stated_ns, Dated::OtherWrong { stated_ns, other_ns }))
        }
        (Some(other_ns), _) => Some((other_ns, Dated::Known)),
        (None, Some(stated_ns)) if may_be_rolled(stated_ns) => {
            let then_ns = stated_ns + ROLLOVER_NS;
            Some((stated_ns, Dated::PerhapsRolled { stated_ns, then_ns }))
        }
        (None, stated_ns) => Some((stated_ns?, Dated::Known)),
    }
}
