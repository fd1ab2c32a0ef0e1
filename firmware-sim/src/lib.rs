//! A tractor with its sensors, a counter board and a satellite receiver, simulated from a seed.
//!
//! Everything under [`Simulation`] is a function of a [`Scenario`] and a seed: no clock, no
//! input or output, no randomness but its own. What comes out is what a host would read from two
//! serial ports, byte for byte and microsecond for microsecond, together with the [`Truth`]: the
//! figures a measurement should find. The board runs the firmware's own counting package.
//!
//! Only `pty`, `image` and [`serve`] touch the world: they put a simulation behind two
//! pseudo-terminals, which any program opens like serial ports, with the simulated board or with
//! the board's own firmware under an emulated processor. Pseudo-terminals exist on Unix only;
//! [`inside`] has lines that stay within the program, on every system.

mod adapter;
mod board;
mod bus;
mod bus_line;
mod clock;
mod drive;
mod faults;
mod gnss;
#[cfg(unix)]
pub mod image;
pub mod inside;
mod line;
pub mod nmea;
mod path;
mod prng;
#[cfg(unix)]
pub mod pty;
mod receiver;
mod scenario;
mod sensors;
pub mod serve;
mod terminal;
mod test_pin;
mod truth;
mod vehicle;
mod wish;
mod world;

pub use bus::{BusTractor, HandedOn};
pub use faults::Fault;
pub use nmea::Sentence;
pub use receiver::{Noise, Receiver, ReceiverClass};
pub use scenario::{Driving, LeverArm, PtoStep, Scenario, SlipZone};
pub use terminal::{Keyed, KeyedIn, Shown, Terminal, TruthTerminal};
pub use test_pin::{BenchFault, BenchInput, BenchSetup};
pub use truth::{Truth, TruthPass, TruthSample};
pub use wish::Wish;
pub use world::{Emission, Port, Simulation, record_all, record_track};
