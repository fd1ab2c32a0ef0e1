//! The ground on which all that touches the world stands.
//!
//! | module | duty |
//! |---|---|
//! | [`browser`] | the reader's own browser |
//! | [`clock`] | monotonic time since the capture began, and the wall clock |
//! | [`out`] | every word that goes to the terminal |
//! | [`exit`] | exit codes, and errors in three lines |
//! | [`stop`] | Ctrl-C and the wish to stop |
//! | [`storage`] | the disk, and the seam where tests put another |
//! | [`files`] | small files, read and written whole |
//! | [`cores`] | the same work on many things, by all processors |
//! | [`tongue`] | the language spoken to people |
//! | [`progress`] | how far something long has come |

pub mod browser;
pub mod clock;
pub mod cores;
pub mod exit;
pub mod files;
pub mod out;
pub mod progress;
pub mod stop;
pub mod storage;
pub mod tongue;
