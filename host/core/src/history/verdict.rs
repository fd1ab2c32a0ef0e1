//! What a history comes to, in a sentence for the technician.

use super::{Change, History, HistoryStep};

/// From this half-width on, a share, tenths of a per cent are enough.
const TENTHS_FROM: f64 = 0.002;

crate::units::words! {
    /// What it comes to.
    pub enum Stability {
        /// The newest value differs significantly from the one before.
        Changed = "changed",
        /// It does not, but it differs from the mean of all before.
        Moved = "moved",
        /// Neither, but the line through all rises or falls significantly.
        Drifting = "drifting",
        /// None of these changes is seen.
        Steady = "steady",
    }
}

impl Stability {
    /// What to do about it.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::Changed | Self::Moved => {
                "Enter the newest value, and look for the cause before the next job."
            }
            Self::Drifting => "Enter the newest value, and measure more often than so far.",
            Self::Steady => "Go on as before; measure again when tyres, inflation or load change.",
        }
    }
}

/// The first of these that holds.
pub(super) fn verdict(history: &History) -> Stability {
    let significant = |of: fn(&HistoryStep) -> Option<Change>| {
        history.newest().and_then(of).is_some_and(|change| change.significant)
    };
    if significant(|step| step.previous) {
        Stability::Changed
    } else if significant(|step| step.mean) {
        Stability::Moved
    } else if history.trend.as_ref().is_ok_and(|trend| trend.significant) {
        Stability::Drifting
    } else {
        Stability::Steady
    }
}

/// The answer in words.
#[must_use]
pub fn sentence(history: &History) -> String {
    match (history.verdict, history.newest(), &history.trend) {
        (Stability::Changed, Some(HistoryStep { previous: Some(change), .. }), _) => format!(
            "The value has {} since {}. The change is significant.",
            gone(change),
            change.since
        ),
        (Stability::Moved, Some(HistoryStep { mean: Some(change), .. }), _) => format!(
            "The value has {} against the mean of the {} records since {}. The change is \
             significant.",
            gone(change),
            change.points,
            change.since
        ),
        (Stability::Drifting, _, Ok(trend)) => format!(
            "The value drifts {} by {} a year. The drift is significant.",
            if trend.share_per_year > 0.0 { "up" } else { "down" },
            percent(trend.share_per_year, trend.half_width_per_year)
        ),
        (_, Some(HistoryStep { previous: Some(change), .. }), _) => format!(
            "The value has stayed the same since {}: it differs by {}, and chance alone makes up \
             to {}.",
            change.since,
            percent(change.share, change.share_half_width),
            percent(change.share_half_width, change.share_half_width)
        ),
        _ => "There is nothing to compare.".to_owned(),
    }
}

/// What may have made it, for a significant rise or fall; common practice, no source.
#[must_use]
pub fn causes(history: &History, channel: &str) -> Option<&'static str> {
    let step = history.newest()?;
    let share = match history.verdict {
        Stability::Changed => step.previous?.share,
        Stability::Moved => step.mean?.share,
        Stability::Drifting => history.trend.as_ref().ok()?.share_per_year,
        Stability::Steady => return None,
    };
    Some(match (channel, share > 0.0) {
        ("radar", _) => {
            "The radar turned or bent on its bracket, another pitch of the tractor (tyres, load), \
             or other ground may have made it."
        }
        (_, true) => "Worn tyres, less pressure, more load, or other tyres may have made it.",
        (_, false) => "New tyres, more pressure, less load, or other tyres may have made it.",
    })
}

fn gone(change: &Change) -> String {
    let way = if change.share > 0.0 { "up" } else { "down" };
    format!("gone {way} by {}", percent(change.share, change.share_half_width))
}

/// A share in per cent without its sign, to the place that its half-width allows.
fn percent(share: f64, half_width: f64) -> String {
    let places = if half_width < TENTHS_FROM { 2 } else { 1 };
    format!("{:.places$} %", 100.0 * share.abs())
}
