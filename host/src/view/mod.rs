//! What any live screen shows: one model, folded from what the shell hands in, drawn in the
//! terminal or sent to a page. No clock, no port, no wording outside [`texts`].
//!
//! A front end hands looks and happenings to a [`watch::Watch`], presses to
//! [`marks::Presses`], and shows the [`model::View`] that comes out.

pub mod guide;
pub mod keys;
pub mod marks;
pub mod model;
mod next;
pub mod page;
pub mod results;
mod speeds;
pub mod term;
pub mod texts;
mod troubles;
pub mod watch;
