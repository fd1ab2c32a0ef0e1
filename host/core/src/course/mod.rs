//! The course between the pegs: how long it is by tape, with every correction, and its file.

pub mod file;
pub mod tape;
pub mod typed;
