//! A port as far as bytes go, whatever it is made of.

use serialport::SerialPort;
use std::io::{Read, Write};
use std::time::Duration;
use trundle_sim::inside::Far;

/// What a link needs of a port.
pub trait BytePort: Read + Write + Send {
    /// How long the next read or write may wait.
    fn set_wait(&mut self, wait: Duration);
}

impl BytePort for Box<dyn SerialPort> {
    fn set_wait(&mut self, wait: Duration) {
        // Only a local number changes; a port that is lost shows itself at the next read.
        let _ = self.set_timeout(wait);
    }
}

impl BytePort for Box<dyn BytePort> {
    fn set_wait(&mut self, wait: Duration) {
        self.as_mut().set_wait(wait);
    }
}

impl BytePort for Far {
    fn set_wait(&mut self, wait: Duration) {
        Self::set_wait(self, wait);
    }
}
