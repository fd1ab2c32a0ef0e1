//! The fold over a capture: records in, passes out.
//!
//! Live work and replay both feed records to a [`Session`], one by one, and nothing else. It
//! keeps half a minute of samples before a start mark, the pass, and some seconds after its
//! finish; the rest of a long day goes by in constant memory.

mod collect;
mod events;
mod totals;
pub mod trail;

pub use events::SessionEvent;
pub use totals::Totals;

use crate::capture::{Arrival, Entry, Header, HostMark, ImportRow, PortRole, Record};
use crate::course::marks::{MarkBook, MarkTime, Press, Ruling};
use crate::course::window::{IncidentKind, MarkPoint, PassWindow};
use crate::wire::board::{BoardEvent, BoardMark, BoardReader, CountSample};
use crate::wire::fix::Fix;
use crate::wire::import_rows::{ImportReader, Row};
use crate::wire::receiver::{ReceiverEvent, ReceiverReader};
use collect::Collector;
use totals::WallWatch;
use trail::Trail;

/// Passes kept per capture: bounds the memory of a replay. A day of work is some tens.
pub const PASSES_MAX: usize = 64;

/// State of a job, live or replayed.
#[derive(Debug, Default)]
pub struct Session {
    header: Option<Header>,
    course_text: Option<String>,
    board: BoardReader,
    receiver: ReceiverReader,
    imports: ImportReader,
    marks: MarkBook,
    collector: Collector,
    wall: WallWatch,
    totals: Totals,
    notes: Vec<(u64, String)>,
    ended: bool,
}

impl Session {
    /// An empty session.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// An empty session that keeps a trail of all samples too: counts at least `apart_us` apart,
    /// 0 for every one.
    #[must_use]
    pub fn with_trail(apart_us: u64) -> Self {
        let mut session = Self::default();
        session.collector.keep_trail(apart_us);
        session
    }

    /// The trail so far, where one is kept.
    #[must_use]
    pub fn trail(&self) -> Option<Trail> {
        self.collector.trail()
    }

    /// The capture's header, once seen.
    #[must_use]
    pub const fn header(&self) -> Option<&Header> {
        self.header.as_ref()
    }

    /// The course description recorded in the capture, as TOML.
    #[must_use]
    pub fn course_text(&self) -> Option<&str> {
        self.course_text.as_deref()
    }

    /// Passes recorded so far, finished ones first; the open one is not among them.
    #[must_use]
    pub fn passes(&self) -> &[PassWindow] {
        self.collector.passes()
    }

    /// The pass that is open.
    #[must_use]
    pub const fn open_pass(&self) -> Option<u32> {
        self.marks.open()
    }

    /// Latest counts and latest fix.
    #[must_use]
    pub fn latest(&self) -> (Option<&CountSample>, Option<&Fix>) {
        self.collector.latest()
    }

    /// Remarks with their host time in nanoseconds.
    #[must_use]
    pub fn notes(&self) -> &[(u64, String)] {
        &self.notes
    }

    /// Totals of everything read.
    #[must_use]
    pub fn totals(&self) -> Totals {
        let mut totals = self.totals;
        totals.board = self.board.totals();
        totals.line = *self.board.line();
        totals.receiver = self.receiver.totals();
        totals.derived_clock = self.header.as_ref().is_some_and(|h| h.arrival == Arrival::Derived);
        totals.utc_in_tables = self.imports.has_utc();
        totals.passes_overflow = self.collector.overflow();
        totals
    }

    /// True when the capture was closed in order.
    #[must_use]
    pub const fn ended(&self) -> bool {
        self.ended
    }

    /// Take the next record and append what came of it to `events`.
    pub fn feed(&mut self, record: &Record, events: &mut Vec<SessionEvent>) {
        let host_ns = record.host_ns;
        self.collector.tick(host_ns);
        match &record.entry {
            Entry::Header(header) => self.begin(header),
            Entry::Bytes(PortRole::Board, bytes) => self.board_bytes(bytes, host_ns, events),
            Entry::Bytes(PortRole::Receiver, bytes) => self.receiver_bytes(bytes, host_ns, events),
            Entry::HostMark(mark) => self.host_mark(mark, host_ns, events),
            Entry::Port(port) => {
                let kind = match port.role {
                    PortRole::Board => IncidentKind::BoardPort(port.open),
                    PortRole::Receiver => IncidentKind::ReceiverPort(port.open),
                };
                if port.open && port.role == PortRole::Board {
                    self.board.reopened();
                }
                self.collector.incident(host_ns, kind);
                events.push(SessionEvent::Port { role: port.role, open: port.open });
            }
            Entry::Course(text) => self.course_text = Some(text.clone()),
            Entry::WallClock(wall) => {
                if let Some(step_s) = self.wall.note(host_ns, wall.utc_ns, self.pace()) {
                    self.collector.incident(host_ns, IncidentKind::ClockStep(step_s));
                }
            }
            Entry::End => {
                self.ended = true;
                self.finish(events);
            }
            Entry::Slept(slept) => {
                self.collector.incident(host_ns, IncidentKind::Slept(slept.seconds));
                events.push(SessionEvent::Slept { seconds: slept.seconds });
            }
            Entry::Import(table, line) => self.import_line(*table, line, host_ns, events),
            Entry::Unknown(_) => self.totals.unknown_records += 1,
        }
    }

    /// Damage was met in the capture at the present place.
    pub fn damaged(&mut self, bytes: u64) {
        self.totals.damaged_bytes += bytes;
        self.collector.incident_now(IncidentKind::CaptureDamaged(bytes));
    }

    /// No more records: close what is open. Harmless to call twice.
    pub fn finish(&mut self, events: &mut Vec<SessionEvent>) {
        let Self { receiver, collector, .. } = self;
        receiver.flush(|event| take_fix(event, collector, events));
        self.collector.close_all();
    }

    fn pace(&self) -> f64 {
        self.header.as_ref().map_or(1.0, |header| header.pace)
    }

    fn begin(&mut self, header: &Header) {
        self.receiver.set_reference_utc(&header.started_utc);
        self.collector.set_arrival(header.arrival);
        self.header = Some(header.clone());
    }

    fn board_bytes(&mut self, bytes: &[u8], host_ns: u64, events: &mut Vec<SessionEvent>) {
        let Self { board, collector, marks, totals, .. } = self;
        board.push(bytes, host_ns, |event| match event {
            BoardEvent::Counts(sample) => collector.counts(sample),
            BoardEvent::Mark(mark) => {
                let ruling = board_mark(&mark, totals, marks, collector, events);
                events.push(SessionEvent::Mark { host_ns, from_board: true, ruling });
            }
            BoardEvent::Reset { .. } => {
                collector.board_reset(host_ns);
                totals.board_marks_seen = None;
                events.push(SessionEvent::BoardReset);
            }
            BoardEvent::Lost { frames } => {
                collector.incident(host_ns, IncidentKind::FramesLost(frames));
            }
            BoardEvent::WentBack => collector.incident(host_ns, IncidentKind::CountWentBack),
            BoardEvent::Refused(_) => collector.incident(host_ns, IncidentKind::FrameRefused),
            BoardEvent::Hello(hello) => {
                totals.board_id = Some(hello.board_id.0);
                totals.capabilities = Some(hello.capabilities);
                if let Some(tracer) = collector.tracer() {
                    tracer.hello(hello);
                }
                events.push(SessionEvent::Hello(hello));
            }
            BoardEvent::Pps(edge) => collector.pulse(edge.stamp.board_us.0),
            BoardEvent::Train(part) => {
                if let Some(tracer) = collector.tracer() {
                    tracer.train(part);
                }
            }
            BoardEvent::Health(health) => {
                if let Some(tracer) = collector.tracer() {
                    tracer.health(health);
                }
            }
            BoardEvent::Reply(_) => {}
        });
    }

    fn receiver_bytes(&mut self, bytes: &[u8], host_ns: u64, events: &mut Vec<SessionEvent>) {
        let Self { receiver, collector, .. } = self;
        receiver.push(bytes, host_ns, |event| take_fix(event, collector, events));
    }

    fn host_mark(&mut self, mark: &HostMark, host_ns: u64, events: &mut Vec<SessionEvent>) {
        if mark.action == crate::capture::HostMarkAction::Note {
            self.notes.push((host_ns, mark.text.clone()));
        }
        let press =
            Press { host_ns, time: MarkTime::Host, action: mark.action, key: Some(mark.key) };
        let ruling = self.marks.press(&press);
        self.collector.rule(ruling, MarkPoint { host_ns, time: MarkTime::Host }, &mark.text);
        events.push(SessionEvent::Mark { host_ns, from_board: false, ruling });
    }

    fn import_line(
        &mut self,
        table: ImportRow,
        line: &[u8],
        host_ns: u64,
        events: &mut Vec<SessionEvent>,
    ) {
        match self.imports.line(table, line, host_ns) {
            Ok(Some(Row::Counts(sample))) => {
                self.totals.capabilities = Some(self.imports.capabilities());
                self.collector.counts(sample);
            }
            Ok(Some(Row::WentBack(sample))) => {
                self.collector.incident(host_ns, IncidentKind::CountWentBack);
                self.collector.board_reset(host_ns);
                self.collector.counts(sample);
                events.push(SessionEvent::BoardReset);
            }
            Ok(Some(Row::Mark { action, text })) => {
                let mark = HostMark { key: host_ns, action, text };
                self.host_mark(&mark, host_ns, events);
            }
            Ok(None) => {}
            Err(_) => self.totals.bad_import_lines += 1,
        }
    }
}

fn take_fix(event: ReceiverEvent, collector: &mut Collector, events: &mut Vec<SessionEvent>) {
    match event {
        ReceiverEvent::Fix { fix, frozen } => {
            if frozen {
                collector.incident(fix.host_ns, IncidentKind::FixFrozen);
            }
            collector.fix(fix);
            events.push(SessionEvent::Fix);
        }
        ReceiverEvent::Rejected { host_ns, void, simulated } => {
            let kind = match (void, simulated) {
                (_, true) => IncidentKind::FixSimulated,
                (true, _) => IncidentKind::FixVoid,
                _ => IncidentKind::FixRejected,
            };
            collector.incident(host_ns, kind);
        }
    }
}

fn board_mark(
    mark: &BoardMark,
    totals: &mut Totals,
    marks: &mut MarkBook,
    collector: &mut Collector,
    events: &mut Vec<SessionEvent>,
) -> Ruling {
    // Marks are numbered by the board: a hole means that a press never arrived, so the open pass
    // would end at the wrong peg.
    if let Some(seen) = totals.board_marks_seen
        && mark.number > seen + 1
    {
        events.push(SessionEvent::MarkLost { presses: mark.number - seen - 1 });
        let presses = mark.number - seen - 1;
        totals.lost_marks += presses;
        if let Some(ruling) = marks.presses_lost(presses) {
            let at = MarkPoint { host_ns: mark.host_ns, time: MarkTime::Host };
            collector.rule(ruling, at, "");
        }
    }
    totals.board_marks_seen = Some(mark.number);
    let time = MarkTime::Board { board_us: mark.board_us };
    let action = crate::capture::HostMarkAction::Mark;
    let ruling = marks.press(&Press { host_ns: mark.host_ns, time, action, key: None });
    collector.rule(ruling, MarkPoint { host_ns: mark.host_ns, time }, "");
    ruling
}
