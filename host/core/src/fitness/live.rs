//! What counts as live, the same for a start, a status line and every screen.

/// No screen shows a value older than this as live, seconds: at walking pace the tractor is two or
/// three metres on by then, and whoever drives by it must know.
pub const SHOWN_LIVE_S: f64 = 2.0;
/// Longest time from one picture to the next, seconds: what is judged live stays on the screen
/// that much longer.
pub const PICTURE_S: f64 = 0.2;
/// Time for a picture to be worked, sent and drawn, seconds; common practice, no source.
const DRAWN_S: f64 = 0.05;
/// Values older than this are stale, seconds: the rest of [`SHOWN_LIVE_S`] is that of the picture.
pub const STALE_S: f64 = SHOWN_LIVE_S - PICTURE_S - DRAWN_S;

/// Values of this age, seconds, are live; where none has come there is no age.
#[must_use]
pub fn is_live(age_s: Option<f64>) -> bool {
    age_s.is_some_and(|age_s| age_s <= STALE_S)
}
