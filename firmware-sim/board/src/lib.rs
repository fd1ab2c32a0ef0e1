//! What a board's firmware does besides counting, as far as it needs no register.
//!
//! | module | duty |
//! |---|---|
//! | [`port`] | what a board must supply, and the one main loop over it |
//! | [`ring`] | from an interrupt to the main loop, without a lock |
//! | [`pio`] | instructions of the RP2040's input and output machines, and our programs of them |
//! | [`stamp`] | what those machines count, made readings of the board's timer |
//! | [`signal`] | the test signal, as words for its machine |
//! | [`boot_log`] | a boot id that never comes again, counted in flash |
//! | [`supply`] | readings of the converter, made millivolts |
//! | [`reset`] | why the processor started |
//! | [`lamp`] | when the LED is lit |
//! | [`presence`] | whether somebody reads, and what to do when that changes |
//!
//! A board's own package adds the registers; all that can be wrong without them is tested here.
#![no_std]

pub mod boot_log;
pub mod lamp;
pub mod pio;
pub mod port;
pub mod presence;
pub mod reset;
pub mod ring;
pub mod signal;
pub mod stamp;
pub mod supply;
