//! What a board does besides counting, without the board.
#![allow(clippy::unwrap_used, missing_docs)]

mod boot_log;
mod impulses;
mod machine;
mod presence;
mod round;
mod small;
mod watching;
