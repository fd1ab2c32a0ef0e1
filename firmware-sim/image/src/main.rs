//! The board's firmware: the counter core on a Cortex-M3.
//!
//! | module | duty |
//! |---|---|
//! | `lm3s/` | one board: the registers of an LM3S6965 |
//!
//! The main loop over it is in the package `trundle-board`. Another board is another folder beside
//! `lm3s/`; `PORTING.md` says what it has to do.
#![no_std]
#![no_main]

mod lm3s;

use lm3s::Lm3s;
use panic_halt as _;
use trundle_board::port::{self, Port as _};
use trundle_counter::Counter;

/// The counter belongs to the main loop alone: interrupts only note what happened and when.
#[cortex_m_rt::entry]
fn main() -> ! {
    let (mut board, config) = Lm3s::start();
    let mut counter = Counter::new(config, board.ticks());
    loop {
        port::round(&mut counter, &mut board);
    }
}
