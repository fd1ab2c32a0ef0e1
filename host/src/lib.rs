//! Impulses per 100 m of a tractor's speed sensors, measured against tape and satellite, with
//! the doubt stated.
//!
//! The folders are the way of the data; a stage uses only what stands to its left:
//!
//! ```text
//! capture -> wire -> timeline -> course -> figure -> record -> report
//! ```
//!
//! [`session`] folds a capture, live or replayed, into recorded passes; [`figure::work()`] turns
//! them into the result. [`ride`] lays a whole capture on one clock, for what passes alone do not
//! tell, and [`sensors`] judges the sensors by it. [`view`] is what any live screen shows of a
//! job. `budget`, `fit`, `geodesy`, `fault`, `units` and
//! `cautions` are used by the stages and use none of them. Only [`shell`], [`ports`],
//! [`recorder`], [`store`], [`web`], [`desk`], [`cli`] and `main.rs` touch the world.

/// Sines, logarithms and the like with the same bits everywhere, for every program of ours.
use trundle_samemath as _;

pub mod budget;
pub mod capture;
pub mod cautions;
pub mod cli;
pub mod course;
pub mod desk;
pub mod export;
pub mod fault;
pub mod figure;
pub mod fit;
pub mod fitness;
pub mod geodesy;
pub mod history;
pub mod import;
pub mod mount;
pub mod ports;
pub mod pto;
pub mod record;
pub mod recorder;
pub mod report;
pub mod ride;
pub mod rig;
pub mod sensors;
pub mod session;
pub mod shell;
pub mod slip;
pub mod speeds;
pub mod store;
pub mod timeline;
pub mod units;
pub mod view;
pub mod web;
pub mod wire;
