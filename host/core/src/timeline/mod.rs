//! Frames and fixes on one clock.
//!
//! Three clocks come in and are never added to each other: board microseconds, the host's
//! monotonic nanoseconds at arrival, and the UTC of the fix. Two steps join them. The lower
//! envelope of arrival times bounds each stream's delay ([`envelope`]); matching the speed the
//! counts show with the speed the receiver shows then finds what the envelope cannot see, the
//! receiver's own lag ([`lag`]). Recordings made elsewhere, whose bytes carry no arrival times,
//! are first laid side by side by the same means over their whole length ([`join`]). All later
//! maths runs on board seconds.

pub mod counts;
pub mod envelope;
pub mod join;
mod join_changes;
mod join_grid;
pub mod knots;
pub mod lag;
pub mod lag_changes;
pub mod receiver_clock;
pub mod timed_fix;
