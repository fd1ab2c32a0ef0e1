//! A whole capture into a session.
//!
//! A long day is some hundred megabytes, so two threads share it: one reads the receiver's bytes,
//! the other all the rest, and takes what the first received where those bytes stood. Each looks at
//! the sums of its own records, and the result is that of one thread, bit for bit. What goes from
//! one to the other is small, because on many machines that is what costs.
//!
//! Each of them unpacks a packed capture for itself: that costs less than handing plain bytes on.
//!
//! A capture that is damaged anywhere is read again by one thread alone, from its beginning: what
//! is an entry behind the damage, only a reader that checks every sum knows.

use super::capture_read::{CAPTURE_VERSION, Watched, fill, read_capture, read_from};
use crate::packed::plain::plain;
use crate::packed::unpack::Lost;
use crate::shell::exit::Trouble;
use crate::shell::files;
use crate::shell::progress::Progress;
use std::io::Read;
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use trundle_core::capture::{Entry, Piece, PortRole, Reader, Sums};
use trundle_core::session::{Listener, Session, SessionEvent};
use trundle_core::wire::receiver::ReceiverEvent;

/// Shorter captures are not worth a second thread, bytes.
const SHARED_FROM: u64 = 1 << 20;
/// What the listener has under way, in batches of one read of the file each.
const AHEAD: usize = 64;

/// Feed the capture at `path` to the session that `begin` gives, to its end.
///
/// # Errors
/// As [`read_capture`].
pub fn replay(path: &Path, begin: impl Fn() -> Session) -> Result<Session, Trouble> {
    let length =
        std::fs::metadata(path).map_or(0, |meta| if meta.is_file() { meta.len() } else { 0 });
    if length >= SHARED_FROM
        && let Some(session) = shared(path, length, begin())
    {
        return Ok(session);
    }
    alone(path, begin())
}

/// Feed a capture that is read once, as it comes, to `session`; `name` is its name in messages.
///
/// # Errors
/// As [`read_from`].
pub fn replay_stream(source: impl Read, name: &Path, session: Session) -> Result<Session, Trouble> {
    taking(session, |take| read_from(source, name, take))
}

/// By one thread, which looks at every sum.
fn alone(path: &Path, session: Session) -> Result<Session, Trouble> {
    taking(session, |take| read_capture(path, take))
}

/// The session takes every piece that `read` hands on.
fn taking(
    mut session: Session,
    read: impl FnOnce(&mut dyn FnMut(&Piece<'_>)) -> Result<(), Trouble>,
) -> Result<Session, Trouble> {
    // Nobody watches a replay: what happened when is in the passes.
    let mut events = Vec::new();
    read(&mut |piece| {
        session.take(piece, &mut events);
        events.clear();
    })?;
    session.finish(&mut events);
    Ok(session)
}

/// By two threads; `None` if anything is not as it should be, which one thread then reports.
fn shared(path: &Path, length: u64, session: Session) -> Option<Session> {
    let (send, receive) = sync_channel(AHEAD);
    std::thread::scope(|scope| {
        let listening = std::thread::Builder::new()
            .name("listener".to_owned())
            // A system without a second thread to give has one.
            .spawn_scoped(scope, move || listen(path, length, &send))
            .ok()?;
        let mut taking =
            Taking { receive, received: Received::default(), used: 0, pieces: 0, session };
        let progress = Progress::bytes(length, "reading");
        let whole = files::open(path).ok().and_then(|file| {
            let file = plain(Watched(file, &progress).take(length), Lost::AsZeros).ok()?;
            read(file, Sums::NotOf(PortRole::Receiver), |reader, ended| taking.take(reader, ended))
        });
        progress.end();
        let session = whole.and_then(|()| taking.rest());
        // It breaks off by itself when nobody takes what it says any more.
        let listener = listening.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        let (mut session, listener) = session.zip(listener)?;
        session.adopt(listener);
        Some(session)
    })
}

/// Read to the end and have `step` take what there is; `None` if it cannot, or cannot be read.
fn read(
    mut source: impl Read,
    sums: Sums,
    mut step: impl FnMut(&mut Reader, bool) -> Option<()>,
) -> Option<()> {
    let mut reader = Reader::checking(sums);
    loop {
        let count = fill(&mut reader, &mut source).ok()?;
        step(&mut reader, count == 0)?;
        if count == 0 {
            return Some(());
        }
    }
}

/// What the receiver said, up to a place in the capture.
#[derive(Default)]
struct Received {
    /// With the number of the piece it was said in, rising.
    said: Vec<(u64, ReceiverEvent)>,
    /// Pieces read.
    pieces: u64,
}

/// Takes everything but the receiver's bytes, and what was received in them.
struct Taking {
    receive: Receiver<Received>,
    received: Received,
    /// Of `received.said`.
    used: usize,
    /// Pieces taken.
    pieces: u64,
    session: Session,
}

impl Taking {
    /// Take all pieces that the reader has; `None` if damage was met here or there.
    fn take(&mut self, reader: &mut Reader, ended: bool) -> Option<()> {
        let mut events = Vec::new();
        loop {
            // Where the receiver said nothing, its bytes only let time go on.
            let (passed, host_ns) = reader.pass_over(PortRole::Receiver, self.silent());
            if passed > 0 {
                self.pieces += passed;
                self.session.received(host_ns, [].iter(), &mut events);
            }
            let piece = if ended { reader.finish() } else { reader.take() };
            let Some(piece) = piece else { return Some(()) };
            self.piece(&piece, &mut events)?;
            // Nobody watches a replay: what happened when is in the passes.
            events.clear();
        }
    }

    fn piece(&mut self, piece: &Piece<'_>, events: &mut Vec<SessionEvent>) -> Option<()> {
        let number = self.pieces;
        self.pieces += 1;
        let host_ns = match piece {
            Piece::Bytes { role: PortRole::Board | PortRole::Bus, .. } => {
                self.session.take(piece, events);
                return (number > 0).then_some(());
            }
            Piece::Damage(_) => return None,
            Piece::Bytes { host_ns, role: PortRole::Receiver, .. } => *host_ns,
            Piece::Record(record) => {
                // A capture begins with its head, and all of it is of a version known here.
                match &record.entry {
                    Entry::Header(header) if header.version > CAPTURE_VERSION => return None,
                    Entry::Header(_) => {}
                    _ if number == 0 => return None,
                    _ => {}
                }
                record.host_ns
            }
        };
        while self.received.pieces <= number {
            self.received = self.receive.recv().ok()?;
            self.used = 0;
        }
        let later = &self.received.said[self.used..];
        let here = later.iter().take_while(|said| said.0 == number).count();
        self.session.received(host_ns, later[..here].iter().map(|said| &said.1), events);
        self.used += here;
        if matches!(piece, Piece::Record(_)) {
            self.session.take(piece, events);
        }
        Some(())
    }

    /// Pieces from here on in which the receiver is known to have said nothing.
    fn silent(&self) -> u64 {
        let next = self.received.said.get(self.used).map_or(self.received.pieces, |said| said.0);
        next.saturating_sub(self.pieces)
    }

    /// Take what was said after the last piece, and finish.
    fn rest(mut self) -> Option<Session> {
        if self.pieces == 0 {
            return None;
        }
        let mut events = Vec::new();
        let rest = self.receive.into_iter().flat_map(|received| received.said);
        let said: Vec<_> = self.received.said.into_iter().skip(self.used).chain(rest).collect();
        self.session.received(0, said.iter().map(|said| &said.1), &mut events);
        self.session.finish(&mut events);
        Some(self.session)
    }
}

/// Read the receiver's bytes in the first `length` bytes of a capture; `None` if there is damage,
/// or nobody takes what was received.
fn listen(path: &Path, length: u64, send: &SyncSender<Received>) -> Option<Listener> {
    let mut listener = Listener::default();
    let mut pieces = 0;
    let file = plain(files::open(path).ok()?.take(length), Lost::AsZeros).ok()?;
    read(file, Sums::OnlyOf(PortRole::Receiver), |reader, ended| {
        let mut said = Vec::new();
        loop {
            pieces += reader.pass_over(PortRole::Board, u64::MAX).0;
            let piece = if ended { reader.finish() } else { reader.take() };
            let Some(piece) = piece else { break };
            if matches!(piece, Piece::Damage(_)) {
                return None;
            }
            listener.take(&piece, |event| said.push((pieces, event)));
            pieces += 1;
        }
        if ended {
            listener.finish(|event| said.push((pieces, event)));
        }
        send.send(Received { said, pieces }).ok()
    })?;
    Some(listener)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::recorder::capture_read::tests::header;
    use trundle_core::capture::{Record, encode};

    fn capture(version: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        encode(&header(version), &mut bytes);
        for n in 0..200_u64 {
            let (role, text) = match n % 2 {
                0 => (PortRole::Board, vec![7; 40]),
                _ => (PortRole::Receiver, b"$GPGLL,5212.00,N,00006.00,E,120000*21\r\n".to_vec()),
            };
            encode(&Record { host_ns: n, entry: Entry::Bytes(role, text) }, &mut bytes);
        }
        bytes
    }

    /// The two of them take what is sound; anything else is left to the one.
    #[test]
    fn two_threads_take_a_sound_capture_and_no_other() {
        let path = std::env::temp_dir().join(format!("trundle-replay-{}", std::process::id()));
        let by_two = |bytes: &[u8]| {
            std::fs::write(&path, bytes).unwrap();
            shared(&path, bytes.len() as u64, Session::default()).is_some()
        };
        let sound = capture(CAPTURE_VERSION);
        assert!(by_two(&sound));
        assert!(!by_two(&capture(CAPTURE_VERSION + 1)), "a later version");
        assert!(!by_two(&sound[..sound.len() - 1]), "cut");
        let head = sound.len() - 200 * (40 + 19) + 100;
        for place in [2, head, sound.len() - 20, sound.len() - 90] {
            let mut scratched = sound.clone();
            scratched[place] ^= 4;
            assert!(!by_two(&scratched), "byte {place}");
        }
        let headless = &sound[sound.len() - 59 * 4..];
        assert!(!by_two(headless), "without its head");
        assert!(!by_two(b""), "empty");
        std::fs::remove_file(&path).unwrap();
    }
}
