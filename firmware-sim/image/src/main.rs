//! The board's firmware: the counter core on a Cortex-M3.
//!
//! | module | duty |
//! |---|---|
//! | `port.rs` | what a board must supply, and the one main loop over it |
//! | `ring.rs` | from an interrupt to the main loop, without a lock |
//! | `lm3s/` | one board: the registers of an LM3S6965 |
//!
//! Another board is another folder beside `lm3s/`; `PORTING.md` says what it has to do.
#![no_std]
#![no_main]

mod lm3s;
mod port;
mod ring;

use lm3s::Lm3s;
use panic_halt as _;
use port::Port as _;
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
