//! Serial lines inside one program, for systems that have no pseudo-terminals.
//!
//! They carry bytes as a pseudo-terminal does: a read waits a moment and then says that nothing
//! came, a full line takes no more, and bytes nobody reads make room for newer ones.

use crate::serve::LineEnd;
use std::collections::VecDeque;
use std::convert::Infallible;
use std::io::{self, ErrorKind, Read, Write};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Bytes that a line holds one way, as many as Linux keeps for a terminal.
const HELD_MAX: usize = 4096;

/// Bytes on their way in one direction.
#[derive(Debug, Default)]
struct Way {
    held: Mutex<Held>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct Held {
    bytes: VecDeque<u8>,
    closed: bool,
}

impl Way {
    /// Every change is made in one piece, so a panic elsewhere leaves whole values behind.
    fn lock(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn offer(&self, bytes: &[u8]) -> usize {
        let mut held = self.lock();
        let taken = bytes.len().min(HELD_MAX.saturating_sub(held.bytes.len()));
        held.bytes.extend(&bytes[..taken]);
        self.changed.notify_all();
        taken
    }

    fn close(&self) {
        self.lock().closed = true;
        self.changed.notify_all();
    }
}

/// The simulator's end.
#[derive(Debug)]
pub struct Near {
    to_client: Arc<Way>,
    from_client: Arc<Way>,
}

/// The client's end: read and written like a serial port.
#[derive(Debug)]
pub struct Far {
    incoming: Arc<Way>,
    outgoing: Arc<Way>,
    wait: Duration,
}

/// A line: the simulator's end and the client's, whose reads wait up to `wait`.
#[must_use]
pub fn line(wait: Duration) -> (Near, Far) {
    let (out, back) = (Arc::new(Way::default()), Arc::new(Way::default()));
    let near = Near { to_client: Arc::clone(&out), from_client: Arc::clone(&back) };
    (near, Far { incoming: out, outgoing: back, wait })
}

impl LineEnd for Near {
    type Error = Infallible;

    fn offer(&self, bytes: &[u8]) -> Result<usize, Infallible> {
        Ok(self.to_client.offer(bytes))
    }

    fn send(&self, bytes: &[u8]) -> Result<usize, Infallible> {
        self.to_client.lock().bytes.clear();
        Ok(self.to_client.offer(bytes))
    }

    fn receive(&self, into: &mut Vec<u8>) -> Result<(), Infallible> {
        into.extend(self.from_client.lock().bytes.drain(..));
        Ok(())
    }
}

impl Drop for Near {
    fn drop(&mut self) {
        self.to_client.close();
    }
}

impl Far {
    /// Reads wait up to this long from now on.
    pub const fn set_wait(&mut self, wait: Duration) {
        self.wait = wait;
    }
}

impl Read for Far {
    /// Nothing within the time is [`ErrorKind::TimedOut`]; 0 bytes mean that the simulator is
    /// gone and everything it sent has been read.
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let nothing_yet = |held: &mut Held| held.bytes.is_empty() && !held.closed;
        let waited =
            self.incoming.changed.wait_timeout_while(self.incoming.lock(), self.wait, nothing_yet);
        let mut held = waited.unwrap_or_else(PoisonError::into_inner).0;
        if held.bytes.is_empty() && !held.closed {
            return Err(ErrorKind::TimedOut.into());
        }
        // What lies in two pieces comes with two reads.
        held.bytes.read(buffer)
    }
}

impl Write for Far {
    /// What finds no room is [`ErrorKind::TimedOut`], as with a port that does not take it.
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.outgoing.offer(bytes) {
            0 if !bytes.is_empty() => Err(ErrorKind::TimedOut.into()),
            taken => Ok(taken),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Long enough to be seen, short enough for a test.
    const WAIT: Duration = Duration::from_millis(5);

    #[test]
    fn bytes_come_in_order_and_then_nothing_comes() {
        let (near, mut far) = line(WAIT);
        assert_eq!(near.offer(b"abc").unwrap(), 3);
        let mut buffer = [0; 2];
        assert_eq!((far.read(&mut buffer).unwrap(), &buffer), (2, b"ab"));
        assert_eq!((far.read(&mut buffer).unwrap(), buffer[0]), (1, b'c'));
        assert_eq!(far.read(&mut buffer).unwrap_err().kind(), ErrorKind::TimedOut);
        far.write_all(b"hello").unwrap();
        let mut heard = b"so far: ".to_vec();
        near.receive(&mut heard).unwrap();
        assert_eq!(heard, b"so far: hello");
    }

    #[test]
    fn a_full_line_takes_no_more_until_it_is_read_or_cleared() {
        let (near, mut far) = line(WAIT);
        assert_eq!(near.offer(&[1; HELD_MAX + 10]).unwrap(), HELD_MAX);
        assert_eq!(near.offer(&[2]).unwrap(), 0);
        assert_eq!(near.send(&[3; 7]).unwrap(), 7);
        let mut buffer = [0; 16];
        assert_eq!((far.read(&mut buffer).unwrap(), buffer[0]), (7, 3));
        far.write_all(&[0; HELD_MAX]).unwrap();
        assert_eq!(far.write(&[0]).unwrap_err().kind(), ErrorKind::TimedOut);
    }

    #[test]
    fn a_simulator_that_is_gone_ends_the_line_after_its_last_byte() {
        let (near, mut far) = line(WAIT);
        near.offer(b"z").unwrap();
        drop(near);
        let mut buffer = [0; 4];
        assert_eq!(far.read(&mut buffer).unwrap(), 1);
        assert_eq!(far.read(&mut buffer).unwrap(), 0);
    }
}
