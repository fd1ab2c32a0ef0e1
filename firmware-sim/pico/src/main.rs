//! The board's firmware: the counter core on an RP2040, the processor of the Raspberry Pi Pico.
//! Never run on silicon.
//!
//! | module | duty |
//! |---|---|
//! | `pico.rs` | the board, as the main loop and the core see it |
//! | `capture.rs` | edges with their time, by input machines |
//! | `test_pin.rs` | the test signal, by an output machine |
//! | `machines.rs` | setting these machines up |
//! | `usb.rs`, `uart.rs` | the line to the host, one of them in each build |
//! | `flash.rs` | the flash's unique number, and the log of boots in it |
//! | `account.rs` | what the board needed, for a test to read |
//! | `stack.rs` | how deep the stack went |
//! | `registers.rs` | every register beside those of rp2040-hal |
//!
//! What needs no register is in the package `trundle-board`, with the main loop and its tests.
#![no_std]
#![no_main]

mod account;
mod capture;
mod flash;
mod machines;
mod pico;
mod registers;
mod stack;
mod test_pin;
#[cfg(feature = "uart")]
mod uart;
#[cfg(not(feature = "uart"))]
mod usb;

use panic_halt as _;
use pico::Pico;
use trundle_board::port;
use trundle_counter::Counter;

/// The counter belongs to the main loop alone: interrupts only note what happened and when. A
/// panic halts, and the watchdog starts the board again.
#[rp2040_hal::entry]
fn main() -> ! {
    stack::paint();
    let (mut board, config, now) = Pico::start().expect("the hardware is brought up once");
    let mut counter = Counter::new(config, now);
    loop {
        port::round(&mut counter, &mut board);
    }
}
