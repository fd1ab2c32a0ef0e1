//! Serial lines inside one program, which need no pseudo-terminals.
//!
//! They carry bytes as a pseudo-terminal does: a read waits a moment and then says that nothing
//! came, a full line takes no more, and bytes nobody reads make room for newer ones. A line is
//! held by one client at a time; while it is held by none, what is sent is lost.

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
    /// A client holds the line; noted at the way to it.
    taken: bool,
}

impl Way {
    /// Every change is made in one piece, so a panic elsewhere leaves whole values behind.
    fn lock(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn offer(&self, bytes: &[u8]) -> usize {
        let mut held = self.lock();
        if !held.taken {
            return bytes.len();
        }
        let taken = bytes.len().min(HELD_MAX.saturating_sub(held.bytes.len()));
        held.bytes.extend(&bytes[..taken]);
        self.changed.notify_all();
        taken
    }

    fn close(&self) {
        self.lock().closed = true;
        self.changed.notify_all();
    }

    /// Hold the line, or let it go, with nothing on its way.
    fn hold(&self, taken: bool) {
        let mut held = self.lock();
        held.bytes.clear();
        held.taken = taken;
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

/// Where a client gets its end of a line.
#[derive(Clone, Debug)]
pub struct Socket {
    to_client: Arc<Way>,
    from_client: Arc<Way>,
    wait: Duration,
}

/// Why there is no end of a line to be had.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoLine {
    /// Another client holds it.
    Taken,
    /// The simulator is gone.
    Over,
}

/// A line: the simulator's end, and where clients get theirs, whose reads wait up to `wait`.
#[must_use]
pub fn line(wait: Duration) -> (Near, Socket) {
    let (out, back) = (Arc::new(Way::default()), Arc::new(Way::default()));
    back.hold(true);
    let near = Near { to_client: Arc::clone(&out), from_client: Arc::clone(&back) };
    (near, Socket { to_client: out, from_client: back, wait })
}

impl Socket {
    /// The client's end, held until it is dropped.
    ///
    /// # Errors
    ///
    /// [`NoLine`] while another one holds it, and once the simulator is gone.
    pub fn connect(&self) -> Result<Far, NoLine> {
        let mut held = self.to_client.lock();
        if held.closed {
            return Err(NoLine::Over);
        }
        if std::mem::replace(&mut held.taken, true) {
            return Err(NoLine::Taken);
        }
        drop(held);
        let (incoming, outgoing) = (Arc::clone(&self.to_client), Arc::clone(&self.from_client));
        Ok(Far { incoming, outgoing, wait: self.wait })
    }
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

impl Drop for Far {
    fn drop(&mut self) {
        self.incoming.hold(false);
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
        let (near, socket) = line(WAIT);
        let mut far = socket.connect().unwrap();
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
        let (near, socket) = line(WAIT);
        let mut far = socket.connect().unwrap();
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
        let (near, socket) = line(WAIT);
        let mut far = socket.connect().unwrap();
        near.offer(b"z").unwrap();
        drop(near);
        let mut buffer = [0; 4];
        assert_eq!(far.read(&mut buffer).unwrap(), 1);
        assert_eq!(far.read(&mut buffer).unwrap(), 0);
    }

    #[test]
    fn a_line_is_held_by_one_at_a_time_and_nothing_waits_for_nobody() {
        let (near, socket) = line(WAIT);
        for _ in 0..1000 {
            assert_eq!(near.offer(&[1; HELD_MAX]).unwrap(), HELD_MAX);
        }
        let mut far = socket.connect().unwrap();
        assert_eq!(far.read(&mut [0]).unwrap_err().kind(), ErrorKind::TimedOut);
        assert_eq!(socket.connect().unwrap_err(), NoLine::Taken);
        near.offer(b"for the first").unwrap();
        far.write_all(b"last words").unwrap();
        drop(far);
        let mut heard = Vec::new();
        near.receive(&mut heard).unwrap();
        assert_eq!(heard, b"last words");
        let mut next = socket.connect().unwrap();
        assert_eq!(next.read(&mut [0]).unwrap_err().kind(), ErrorKind::TimedOut);
        near.offer(b"2").unwrap();
        assert_eq!(next.read(&mut [0]).unwrap(), 1);
        drop((near, next));
        assert_eq!(socket.connect().unwrap_err(), NoLine::Over);
    }
}
