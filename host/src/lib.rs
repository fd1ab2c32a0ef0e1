//! All that touches the world: ports, files, clocks, threads, the terminal, the page server.
//!
//! What is calculated stands in `trundle-core`, what is shown in `trundle-show`.

pub mod commands;
pub mod desk;
pub mod packed;
pub mod ports;
pub mod recorder;
pub mod shell;
pub mod stations;
pub mod store;
pub mod web;
