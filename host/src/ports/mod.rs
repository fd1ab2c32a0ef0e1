//! Ports: which there are, what is connected, reading them, and finding a lost one again.
//!
//! | module | duty |
//! |---|---|
//! | [`com`] | names of ports as Windows writes them, and their order |
//! | [`open`] | which ports there are, and opening one with a reason if it cannot be |
//! | [`holder`] | which program holds a port |
//! | [`probe`] | opening a port to find out what is behind it |
//! | [`adapter`] | setting a bus adapter up to listen, and only reading it |
//! | [`byte_port`] | a port as far as bytes go |
//! | [`choose`] | which port plays which part |
//! | [`practice`] | a simulated tractor inside the program, in the place of ports |
//! | [`search`] | where to look for a port that is lost |
//! | [`serial`] | one thread a port: read, stamp, hand on, open again |

pub mod adapter;
pub mod byte_port;
pub mod choose;
pub mod com;
pub mod holder;
pub mod open;
pub mod practice;
pub mod probe;
pub mod search;
pub mod serial;

/// A port and its speed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortChoice {
    /// The name to open it by.
    pub path: String,
    /// Speed in bits per second.
    pub baud: u32,
}
