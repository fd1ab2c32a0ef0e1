//! What any live screen shows: one model, folded from what the shell hands in, drawn in the
//! terminal or sent to a page. No clock, no port, no wording outside [`crate::words`].
//!
//! A front end hands looks and happenings to a [`watch::Watch`], presses to
//! [`trundle_core::session::presses`], and shows the [`crate::model::View`] that comes out.

mod bus;
mod by_satellite;
pub mod guide;
pub mod keys;
mod next;
pub mod page;
pub mod results;
pub mod speeds;
mod standing;
pub mod term;
pub mod troubles;
pub mod watch;
