//! The course and the passes over it.
//!
//! Marks become passes ([`marks`]), a pass keeps the samples around it ([`window`]), and each
//! window is worked to impulses, tape length and satellite length ([`pass`], [`satellite`]).
//! Nothing here knows of pooling or figures.

pub mod file;
pub mod marks;
pub mod noise;
pub mod pass;
pub mod prepare;
pub mod pulses;
pub mod rest;
pub mod satellite;
pub mod tape;
pub mod track;
pub mod weave;
pub mod window;
