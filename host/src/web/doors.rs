//! Connections: where they come in, and how long each may take.
//!
//! A client that sends a byte now and then, or takes none, holds one of the seats for some
//! seconds at most, and nothing else.

use super::seats::{PATIENCE, Seat, Seats};
use axum::extract::connect_info::Connected;
use axum::serve::{IncomingStream, Listener};
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::yield_now;
use tokio::time::{Instant, Sleep, sleep};

/// Pause after the system refused a connection, so that it cannot make the thread spin.
const AFTER_ERROR: Duration = Duration::from_millis(100);
/// For whoever finds no seat.
const FULL: &[u8] = b"HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\n\
                      Content-Type: text/plain\r\nContent-Length: 44\r\n\r\n\
                      Too many connections. Close other pages now.";

/// Who is at the other end.
#[derive(Clone, Debug)]
pub struct Peer {
    /// Address of the other side.
    pub address: IpAddr,
    /// It came over an address that only this computer has.
    pub inside: bool,
    /// Where it sits.
    pub seat: Arc<Seat>,
}

/// All that is listened on.
pub struct Doors {
    doors: Vec<TcpListener>,
    /// The door that is tried first.
    first: usize,
    seats: Arc<Seats>,
}

impl Doors {
    /// Listen on all of these.
    ///
    /// # Errors
    /// A socket that cannot be waited for.
    pub fn open(doors: Vec<std::net::TcpListener>) -> io::Result<Self> {
        let doors = doors.into_iter().map(TcpListener::from_std).collect::<io::Result<_>>()?;
        Ok(Self { doors, first: 0, seats: Arc::default() })
    }

    /// Each door has its turn: a crowd at one must not hold up those at another.
    fn poll_any(&mut self, context: &mut Context<'_>) -> Poll<io::Result<(TcpStream, SocketAddr)>> {
        let count = self.doors.len();
        for n in (self.first..count).chain(0..self.first) {
            if let Poll::Ready(came) = self.doors[n].poll_accept(context) {
                self.first = (n + 1) % count;
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
            // Whoever came before is heard first, or a crowd could take each other's seats before
            // anybody was asked what he wants.
            yield_now().await;
            let Ok((stream, address)) = std::future::poll_fn(|cx| self.poll_any(cx)).await else {
                sleep(AFTER_ERROR).await;
                continue;
            };
            match self.seats.take(address.ip(), Instant::now()) {
                Some(seat) => {
                    return (Wire::new(stream, address, seat, Arc::clone(&self.seats)), address);
                }
                // As far as it takes that: it is only a courtesy.
                None => drop(stream.try_write(FULL)),
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

/// One connection, which ends when it takes too long, or when its seat was given away.
pub struct Wire {
    stream: TcpStream,
    peer: Peer,
    reading: Pin<Box<Sleep>>,
    writing: Option<Pin<Box<Sleep>>>,
    seats: Arc<Seats>,
}

impl Wire {
    fn new(stream: TcpStream, address: SocketAddr, seat: Arc<Seat>, seats: Arc<Seats>) -> Self {
        // Small pieces are sent at once: a press is answered, a picture shown, without waiting.
        let _ = stream.set_nodelay(true);
        let inside = stream.local_addr().is_ok_and(|own| own.ip().is_loopback());
        let peer = Peer { address: address.ip(), inside, seat };
        Self { stream, peer, reading: Box::pin(sleep(PATIENCE)), writing: None, seats }
    }

    /// An error once the seat was given away.
    fn seated(&self, context: &Context<'_>) -> io::Result<()> {
        let gone = self.peer.seat.gone(context.waker());
        if gone { Err(io::ErrorKind::ConnectionAborted.into()) } else { Ok(()) }
    }

    /// Ready with an error once the client took too long to send.
    fn late(&mut self, context: &mut Context<'_>) -> Poll<io::Error> {
        let Some(until) = self.peer.seat.until() else { return Poll::Pending };
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
            self.peer.seat.took(Instant::now());
            return written;
        }
        let timer = self.writing.get_or_insert_with(|| Box::pin(sleep(PATIENCE)));
        ready!(timer.as_mut().poll(context));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl Drop for Wire {
    fn drop(&mut self) {
        self.seats.leave(&self.peer.seat);
    }
}

impl AsyncRead for Wire {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        self.seated(context)?;
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
        self.seated(context)?;
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
