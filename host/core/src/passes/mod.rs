//! One pass measured: impulses, tape length and satellite length between its marks.
//!
//! Each recorded window ([`crate::session::window`]) is worked to what [`pass`] holds, for every
//! channel. Nothing here knows of pooling or values.

pub mod noise;
pub mod parts;
pub mod pass;
pub mod prepare;
pub mod pulses;
pub mod reconcile;
pub mod rest;
pub mod satellite;
pub mod settle;
mod spikes;
pub mod track;
pub mod weave;
