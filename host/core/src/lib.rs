//! Bytes in, result documents out. No file, port, clock, database, network or randomness.
//!
//! The folders are the way of the data; a stage uses only what stands to its left:
//!
//! ```text
//! capture -> wire -> timeline -> session -> course -> passes -> value, survey -> result
//! ```
//!
//! [`session`] folds a capture, live or replayed, into recorded passes; [`passes`] measures each;
//! [`figure::work()`] turns them into a value. [`survey`] takes a whole capture on one clock, for
//! what passes alone do not show: slip, speeds, sensors, PTO, antenna. `stats`, `geodesy`,
//! `flags`, `units` and `cautions` are used by the stages and use none of them.

/// Sines, logarithms and the like with the same bits everywhere, for every program of ours.
use trundle_samemath as _;

pub mod capture;
pub mod cautions;
pub mod course;
pub mod figure;
pub mod fitness;
pub mod flags;
pub mod geodesy;
pub mod history;
pub mod import;
pub mod passes;
pub mod result;
pub mod rig;
pub mod session;
pub mod stats;
pub mod survey;
pub mod timeline;
pub mod units;
pub mod wire;
