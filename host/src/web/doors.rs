//! Connections: how many there may be, and how long each may take.
//!
//! A client that sends a byte now and then, or takes none, holds one of the seats for some
//! seconds and nothing else.

use axum::extract::connect_info::Connected;
use axum::serve::{IncomingStream, Listener};
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::{Instant, Sleep, sleep};

/// Connections at a time.
pub const SEATS: usize = 64;
/// A request has to be complete within this; one that is answered has to be followed by another
/// within this; and what is sent has to be taken within this.
pub const PATIENCE: Duration = Duration::from_secs(10);
/// Pause after the system refused a connection, so that it cannot make the thread spin.
const AFTER_ERROR: Duration = Duration::from_millis(100);
/// For whoever finds no seat.
const FULL: &[u8] = b"HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\n\
                      Content-Type: text/plain\r\nContent-Length: 44\r\n\r\n\
                      Too many connections. Close other pages now.";

/// Until when the next request has to be complete; `None` while an answer goes out that has no
/// end of its own.
#[derive(Debug)]
pub struct Until(Mutex<Option<Instant>>);

impl Until {
    /// The client has the usual time from now on.
    pub fn again(&self) {
        self.set(Some(Instant::now() + PATIENCE));
    }

    /// The client may listen for as long as it likes.
    pub fn never(&self) {
        self.set(None);
    }

    fn set(&self, until: Option<Instant>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = until;
    }

    fn get(&self) -> Option<Instant> {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Who is at the other end.
#[derive(Clone, Debug)]
pub struct Peer {
    /// Address of the other side.
    pub address: IpAddr,
    /// It came over an address that only this computer has.
    pub inside: bool,
    /// How long it may take.
    pub until: Arc<Until>,
}

/// All that is listened on.
pub struct Doors {
    doors: Vec<TcpListener>,
    seats: Arc<Semaphore>,
}

impl Doors {
    /// Listen on all of these.
    ///
    /// # Errors
    /// A socket that cannot be waited for.
    pub fn open(doors: Vec<std::net::TcpListener>) -> io::Result<Self> {
        let doors = doors.into_iter().map(TcpListener::from_std).collect::<io::Result<_>>()?;
        Ok(Self { doors, seats: Arc::new(Semaphore::new(SEATS)) })
    }

    fn poll_any(&self, context: &mut Context<'_>) -> Poll<io::Result<(TcpStream, SocketAddr)>> {
        for door in &self.doors {
            if let Poll::Ready(came) = door.poll_accept(context) {
                return Poll::Ready(came);
            }
        }
        Poll::Pending
    }
}

impl Listener for Doors {
    type Io = Wire;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Wire, SocketAddr) {
        loop {
            let Ok((stream, address)) = std::future::poll_fn(|cx| self.poll_any(cx)).await else {
                sleep(AFTER_ERROR).await;
                continue;
            };
            match Arc::clone(&self.seats).try_acquire_owned() {
                Ok(seat) => return (Wire::new(stream, address, seat), address),
                // As far as it takes that: it is only a courtesy.
                Err(_) => drop(stream.try_write(FULL)),
            }
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.doors.first().ok_or(io::ErrorKind::NotConnected)?.local_addr()
    }
}

impl Connected<IncomingStream<'_, Doors>> for Peer {
    fn connect_info(stream: IncomingStream<'_, Doors>) -> Self {
        stream.io().peer.clone()
    }
}

/// One connection, which ends when it takes too long.
pub struct Wire {
    stream: TcpStream,
    peer: Peer,
    reading: Pin<Box<Sleep>>,
    writing: Option<Pin<Box<Sleep>>>,
    _seat: OwnedSemaphorePermit,
}

impl Wire {
    fn new(stream: TcpStream, address: SocketAddr, seat: OwnedSemaphorePermit) -> Self {
        // Small pieces are sent at once: a press is answered, a picture shown, without waiting.
        let _ = stream.set_nodelay(true);
        let inside = stream.local_addr().is_ok_and(|own| own.ip().is_loopback());
        let until = Arc::new(Until(Mutex::new(Some(Instant::now() + PATIENCE))));
        let peer = Peer { address: address.ip(), inside, until };
        Self { stream, peer, reading: Box::pin(sleep(PATIENCE)), writing: None, _seat: seat }
    }

    /// Ready with an error once the client took too long to send.
    fn late(&mut self, context: &mut Context<'_>) -> Poll<io::Error> {
        let Some(until) = self.peer.until.get() else { return Poll::Pending };
        if self.reading.deadline() != until {
            self.reading.as_mut().reset(until);
        }
        ready!(self.reading.as_mut().poll(context));
        Poll::Ready(io::ErrorKind::TimedOut.into())
    }

    /// The same for taking.
    fn taken<T>(
        &mut self,
        written: Poll<io::Result<T>>,
        context: &mut Context<'_>,
    ) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.writing = None;
            return written;
        }
        let timer = self.writing.get_or_insert_with(|| Box::pin(sleep(PATIENCE)));
        ready!(timer.as_mut().poll(context));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl AsyncRead for Wire {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        // First, since a client that never stops sending is never waited for.
        if let Poll::Ready(error) = self.late(context) {
            return Poll::Ready(Err(error));
        }
        Pin::new(&mut self.stream).poll_read(context, into)
    }
}

impl AsyncWrite for Wire {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        from: &[u8],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(context, from);
        self.taken(written, context)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let closed = Pin::new(&mut self.stream).poll_shutdown(context);
        self.taken(closed, context)
    }
}
