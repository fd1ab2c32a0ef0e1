//! All that touches the world: ports, files, clocks, threads, the terminal, the page server.
//!
//! What is calculated stands in `trundle-core`, what is shown in `trundle-show`.

pub mod cli;
pub mod shell;
