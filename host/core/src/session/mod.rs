//! The fold over a capture: records in, passes out.
//!
//! What the receiver said depends on its bytes alone, so a long replay reads that beside the rest,
//! with the same [`Listener`], and hands it in where those bytes stood.
//!
//! Live work and replay both feed records to a [`Session`], one by one, and nothing else. It
//! keeps half a minute of samples before a start mark, the pass, and some seconds after its
//! finish; the rest of a long day goes by in constant memory.

pub mod bus;
mod collect;
pub mod drive;
mod events;
mod fold;
mod listener;
pub mod marks;
pub mod presses;
pub mod samples;
mod totals;
pub mod trail;
pub mod window;

pub use events::SessionEvent;
pub use listener::Listener;
pub use totals::Totals;

use crate::capture::{Arrival, Entry, Header, ImportRow, Piece, PortRole, Record};
use crate::session::bus::{BusNow, BusSide, BusTrail};
use crate::session::window::PassWindow;
use crate::wire::board::{BoardReader, CountSample};
use crate::wire::fix::Fix;
use crate::wire::receiver::ReceiverEvent;
use crate::wire::sky::Sky;
use fold::Fold;
use trail::{Tracer, Trail};

/// Passes kept per capture: bounds the memory of a replay. A day of work is some tens.
pub const PASSES_MAX: usize = 64;

/// State of a job, live or replayed.
#[derive(Clone, Debug, Default)]
pub struct Session {
    board: BoardReader,
    listener: Listener,
    bus: BusSide,
    fold: Fold,
}

/// Which samples a session keeps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Keeps {
    /// Those of its passes.
    #[default]
    Passes,
    /// All, as a trail: counts at least so many microseconds apart, 0 for every one. Passes are
    /// without theirs.
    Trail(u64),
    /// Such a trail, and what the bus said.
    Bus(u64),
    /// Such a trail, what the bus said, and the samples of passes too.
    All(u64),
}

impl Keeps {
    /// An empty session that keeps them.
    #[must_use]
    pub fn session(self) -> Session {
        let mut session = Session::default();
        let (apart_us, trail_alone) = match self {
            Self::Passes => return session,
            Self::Trail(apart_us) | Self::Bus(apart_us) => (apart_us, true),
            Self::All(apart_us) => (apart_us, false),
        };
        session.fold.collector.keep_trail(Tracer::new(apart_us, trail_alone));
        session.bus.trail = (!matches!(self, Self::Trail(_))).then(BusTrail::default);
        session
    }
}

impl Session {
    /// The trail so far, where one is kept.
    #[must_use]
    pub fn trail(&self) -> Option<Trail> {
        let trail = self.fold.collector.trail()?;
        Some(Trail { bus: self.bus.trail.clone().unwrap_or_default(), ..trail })
    }

    /// What the bus says now.
    #[must_use]
    pub const fn bus(&self) -> &BusNow {
        &self.bus.now
    }

    /// The capture's header, once seen.
    #[must_use]
    pub const fn header(&self) -> Option<&Header> {
        self.fold.header.as_ref()
    }

    /// The course description recorded in the capture, as TOML.
    #[must_use]
    pub fn course_text(&self) -> Option<&str> {
        self.fold.course_text.as_deref()
    }

    /// Passes recorded so far, finished ones first; the open one is not among them.
    #[must_use]
    pub fn passes(&self) -> &[PassWindow] {
        self.fold.collector.passes()
    }

    /// The pass that is open.
    #[must_use]
    pub const fn open_pass(&self) -> Option<u32> {
        self.fold.marks.open()
    }

    /// Latest counts and latest fix.
    #[must_use]
    pub fn latest(&self) -> (Option<&CountSample>, Option<&Fix>) {
        self.fold.collector.latest()
    }

    /// The newest sky that the receiver stated, unless it is old at `host_ns`.
    #[must_use]
    pub fn sky(&self, host_ns: u64) -> Option<Sky> {
        self.listener.receiver.sky(host_ns)
    }

    /// Remarks with their host time in nanoseconds.
    #[must_use]
    pub fn notes(&self) -> &[(u64, String)] {
        &self.fold.notes
    }

    /// Totals of everything read.
    #[must_use]
    pub fn totals(&self) -> Totals {
        let mut totals = self.fold.totals;
        totals.board = self.board.totals();
        totals.line = *self.board.line();
        totals.receiver = self.listener.receiver.totals();
        totals.bus = self.bus.totals();
        totals.derived_clock =
            self.fold.header.as_ref().is_some_and(|h| h.arrival == Arrival::Derived);
        totals.utc_in_tables = self.fold.imports.has_utc();
        totals.passes_overflow = self.fold.collector.overflow();
        totals
    }

    /// True when the capture was closed in order.
    #[must_use]
    pub const fn ended(&self) -> bool {
        self.fold.ended
    }

    /// Take the next record and append what came of it to `events`.
    pub fn feed(&mut self, record: &Record, events: &mut Vec<SessionEvent>) {
        match &record.entry {
            Entry::Bytes(role, bytes) => self.bytes(*role, record.host_ns, bytes, events),
            _ => self.record(record, events),
        }
    }

    /// The same, and damage, with a port's bytes where they lie.
    #[inline]
    pub fn take(&mut self, piece: &Piece<'_>, events: &mut Vec<SessionEvent>) {
        match piece {
            Piece::Bytes { host_ns, role, bytes } => self.bytes(*role, *host_ns, bytes, events),
            Piece::Record(record) => self.record(record, events),
            Piece::Damage(damage) => self.damaged(damage.bytes),
        }
    }

    /// In place of a record with bytes of the receiver, what a [`Listener`] beside this session
    /// made of it.
    #[inline]
    pub fn received<'a>(
        &mut self,
        host_ns: u64,
        said: impl Iterator<Item = &'a ReceiverEvent>,
        events: &mut Vec<SessionEvent>,
    ) {
        self.fold.collector.tick(host_ns);
        for event in said {
            self.fold.received(event, events);
        }
    }

    /// The listener that went beside this session is through: its totals count from here on.
    pub fn adopt(&mut self, listener: Listener) {
        self.listener = listener;
    }

    /// Damage was met in the capture at the present place.
    pub fn damaged(&mut self, bytes: u64) {
        self.fold.damaged(bytes);
    }

    /// No more records: close what is open. Harmless to call twice.
    pub fn finish(&mut self, events: &mut Vec<SessionEvent>) {
        let Self { listener, fold, .. } = self;
        listener.finish(|event| fold.received(&event, events));
        fold.collector.close_all();
    }

    fn bytes(
        &mut self,
        role: PortRole,
        host_ns: u64,
        bytes: &[u8],
        events: &mut Vec<SessionEvent>,
    ) {
        let Self { board, listener, bus, fold } = self;
        fold.collector.tick(host_ns);
        match role {
            PortRole::Board => {
                board.push(bytes, host_ns, |event| fold.board(&event, host_ns, events));
            }
            PortRole::Receiver => {
                listener.receiver.push(bytes, host_ns, |event| fold.received(&event, events));
            }
            PortRole::Bus => bus.push(bytes, host_ns),
        }
    }

    fn record(&mut self, record: &Record, events: &mut Vec<SessionEvent>) {
        let Self { board, listener, bus, fold } = self;
        fold.collector.tick(record.host_ns);
        listener.record(record, |event| fold.received(&event, events));
        match &record.entry {
            Entry::Port(port) if port.open && port.role == PortRole::Board => board.reopened(),
            Entry::Port(port) if port.open && port.role == PortRole::Bus => bus.reader.reopened(),
            Entry::Import(ImportRow::Bus, line) if !bus.line(line, record.host_ns) => {
                fold.totals.bad_import_lines += 1;
            }
            _ => {}
        }
        fold.entry(&record.entry, record.host_ns, events);
    }
}
