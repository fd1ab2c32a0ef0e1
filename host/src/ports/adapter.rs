//! The port of a bus adapter: set up to listen, then only read.
//!
//! What it is given is decided by [`trundle_core::wire::bus::setup`]; from then on nothing can be
//! written to it, whoever asks.

use super::open::{READ_WAIT, WRITE_WAIT, open};
use super::probe::passing;
use super::serial::BytePort;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::scrub;
use std::io::{self, Read, Write};
use std::time::{Duration, Instant};
use trundle_core::wire::bus::adapter::AdapterReader;
use trundle_core::wire::bus::setup::{CLOSE, Setup, SetupFault, SetupStep};

/// Why an adapter does not listen.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AdapterFault {
    /// It did not do what it was told.
    #[error("{0}")]
    Setup(SetupFault),
    /// Its port failed meanwhile.
    #[error("its port failed ({0})")]
    Port(String),
}

impl AdapterFault {
    /// What to do about it.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::Setup(fault) => fault.next(),
            Self::Port(_) => SetupFault::NoAnswer.next(),
        }
    }

    /// As the end of a command.
    #[must_use]
    pub fn trouble(&self, path: &str) -> Trouble {
        let what = format!("The bus adapter at {path} is not used: {self}.");
        let means = "Nothing was measured and nothing was written.";
        Trouble::new(exit::PORT, what, means, self.next())
    }
}

/// An adapter that listens.
pub struct Adapter<P: BytePort> {
    port: P,
    /// Came with the last answer, and is still to be read.
    held: Vec<u8>,
}

impl<P: BytePort> Adapter<P> {
    /// Set the adapter behind `port` up to listen only.
    ///
    /// # Errors
    /// [`AdapterFault`]: then it is not used, and its channel is closed.
    pub fn listen_only(mut port: P) -> Result<Self, AdapterFault> {
        let outcome = set_up(&mut port);
        // From here on its end closes the channel, also where it was not opened.
        let mut adapter = Self { port, held: Vec::new() };
        adapter.held = outcome?;
        Ok(adapter)
    }
}

/// Whether the adapter at this port listens only; closed again at once.
///
/// # Errors
/// [`Trouble`]: code 3 or 4 for the port, 3 for an adapter that does not.
pub fn check(path: &str, baud: u32) -> Result<(), Trouble> {
    let port = open(path, baud).map_err(|fault| fault.trouble(path))?;
    Adapter::listen_only(port).map(drop).map_err(|fault| fault.trouble(path))
}

/// Gives what came behind the last answer.
fn set_up(port: &mut impl BytePort) -> Result<Vec<u8>, AdapterFault> {
    let failed = |error: io::Error| AdapterFault::Port(scrub(&error.to_string(), 120));
    let (mut setup, mut reader) = (Setup::default(), AdapterReader::default());
    let started = Instant::now();
    let mut buffer = [0; 4096];
    port.set_wait(READ_WAIT);
    loop {
        // Half a thousand years fit.
        match setup.step(started.elapsed().as_nanos() as u64) {
            SetupStep::Write(command) => write(port, command).map_err(failed)?,
            SetupStep::Given(fault) => return Err(AdapterFault::Setup(fault)),
            SetupStep::Wait | SetupStep::Listens => {}
        }
        let count = match port.read(&mut buffer) {
            Ok(0) => return Err(failed(io::Error::other("it was closed at the other end"))),
            Ok(count) => count,
            Err(error) if passing(error.kind()) => 0,
            Err(error) => return Err(failed(error)),
        };
        for (at, byte) in buffer[..count].iter().enumerate() {
            reader.push(&[*byte], |item| setup.take(&item));
            let now_ns = started.elapsed().as_nanos() as u64;
            match setup.step(now_ns) {
                SetupStep::Write(command) => write(port, command).map_err(failed)?,
                SetupStep::Given(fault) => return Err(AdapterFault::Setup(fault)),
                SetupStep::Listens => return Ok(buffer[at + 1..count].to_vec()),
                SetupStep::Wait => {}
            }
        }
    }
}

fn write(port: &mut impl BytePort, command: &[u8]) -> io::Result<()> {
    port.set_wait(WRITE_WAIT);
    let written = port.write_all(command);
    port.set_wait(READ_WAIT);
    match written {
        // One that takes nothing shows by not answering.
        Err(error) if passing(error.kind()) => Ok(()),
        written => written,
    }
}

impl<P: BytePort> Read for Adapter<P> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.held.is_empty() {
            return self.port.read(buffer);
        }
        let count = self.held.len().min(buffer.len());
        buffer[..count].copy_from_slice(&self.held[..count]);
        self.held.drain(..count);
        Ok(count)
    }
}

impl<P: BytePort> Write for Adapter<P> {
    /// Never: a bus is only listened to.
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::Error::new(io::ErrorKind::Unsupported, "a bus is only listened to"))
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl<P: BytePort> BytePort for Adapter<P> {
    fn set_wait(&mut self, wait: Duration) {
        self.port.set_wait(wait);
    }
}

impl<P: BytePort> Drop for Adapter<P> {
    /// Its channel is closed; a port that is gone needs nothing closed.
    fn drop(&mut self) {
        self.port.set_wait(WRITE_WAIT);
        let _ = self.port.write_all(CLOSE);
    }
}
