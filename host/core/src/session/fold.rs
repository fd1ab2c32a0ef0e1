//! What was read of each record, into marks, passes and totals.

use super::collect::Collector;
use super::drive::Driven;
use super::events::SessionEvent;
use super::totals::{StepWatch, Totals, WallWatch};
use crate::capture::{Entry, Header, HostMark, HostMarkAction, ImportRow, PortRole};
use crate::session::marks::{MarkBook, MarkTime, Press, Ruling};
use crate::session::window::{IncidentKind, MarkPoint};
use crate::wire::board::{BoardEvent, BoardMark};
use crate::wire::import_rows::{ImportReader, ImportedRow};
use crate::wire::receiver::ReceiverEvent;

/// What is remembered of restarts of the board until the marks are known to be in step again.
#[derive(Clone, Debug, Default)]
struct Restarts {
    /// What was driven in the pass that was cut off, where there was none before it.
    cut: Option<Driven>,
    /// It restarted before the first mark: the drive from there to the first mark, once given.
    first: Option<Option<Driven>>,
}

/// The part of a session that knows of marks.
#[derive(Clone, Debug, Default)]
pub struct Fold {
    pub(super) header: Option<Header>,
    pub(super) course_text: Option<String>,
    pub(super) imports: ImportReader,
    pub(super) marks: MarkBook,
    pub(super) collector: Collector,
    restarts: Restarts,
    wall: WallWatch,
    steps: StepWatch,
    pub(super) totals: Totals,
    pub(super) notes: Vec<(u64, String)>,
    pub(super) ended: bool,
}

impl Fold {
    /// What the receiver said.
    pub(super) fn received(&mut self, event: &ReceiverEvent, events: &mut Vec<SessionEvent>) {
        match *event {
            ReceiverEvent::Fix { fix, frozen } => {
                if frozen {
                    self.collector.incident(fix.host_ns, IncidentKind::FixFrozen);
                }
                if let Some(step) = self.collector.fix(fix) {
                    self.steps.receiver(fix.host_ns, step.step_s, &mut self.totals);
                }
                events.push(SessionEvent::Fix);
            }
            ReceiverEvent::Rejected { host_ns, void, simulated } => {
                let kind = match (void, simulated) {
                    (_, true) => IncidentKind::FixSimulated,
                    (true, _) => IncidentKind::FixVoid,
                    _ => IncidentKind::FixRejected,
                };
                self.collector.incident(host_ns, kind);
            }
        }
    }

    /// A record that holds no bytes of a port.
    pub(super) fn entry(&mut self, entry: &Entry, host_ns: u64, events: &mut Vec<SessionEvent>) {
        match entry {
            Entry::Header(header) => {
                self.collector.set_arrival(header.arrival);
                self.header = Some(header.clone());
            }
            // They go by as bytes, before they are made a record.
            Entry::Bytes(..) => {}
            Entry::HostMark(mark) => self.host_mark(mark, host_ns, events),
            Entry::Port(port) => {
                let kind = match port.role {
                    PortRole::Board => IncidentKind::BoardPort(port.open),
                    PortRole::Receiver => IncidentKind::ReceiverPort(port.open),
                    PortRole::Bus => IncidentKind::BusPort(port.open),
                };
                self.collector.incident(host_ns, kind);
                events.push(SessionEvent::Port { role: port.role, open: port.open });
            }
            Entry::Course(text) => self.course_text = Some(text.clone()),
            Entry::WallClock(wall) => {
                let pace = self.header.as_ref().map_or(1.0, |header| header.pace);
                if let Some(step_s) = self.wall.note(host_ns, wall.utc_ns, pace) {
                    self.collector.incident(host_ns, IncidentKind::ClockStep(step_s));
                    self.steps.wall(host_ns, step_s, &mut self.totals);
                }
            }
            Entry::End => {
                self.ended = true;
                self.collector.close_all();
            }
            Entry::Slept(slept) => {
                self.collector.slept(slept.seconds);
                events.push(SessionEvent::Slept { seconds: slept.seconds });
            }
            Entry::Import(table, line) => self.import_line(*table, line, host_ns, events),
            Entry::Unknown(_) => self.totals.unknown_records += 1,
        }
    }

    pub(super) fn damaged(&mut self, bytes: u64) {
        self.totals.damaged_bytes += bytes;
        self.collector.incident_now(IncidentKind::CaptureDamaged(bytes));
    }

    /// What the board said in a record of this host time.
    pub(super) fn board(
        &mut self,
        event: &BoardEvent,
        host_ns: u64,
        events: &mut Vec<SessionEvent>,
    ) {
        if let BoardEvent::Reset { .. } = event {
            self.totals.board_marks_seen = Some(0);
            return self.board_restarted(host_ns, events);
        }
        let Self { collector, totals, .. } = self;
        match event {
            BoardEvent::Counts(sample) => collector.counts(*sample),
            BoardEvent::Mark(mark) => {
                if let Some(tracer) = collector.tracer() {
                    tracer.mark(*mark);
                }
                self.board_mark(mark, host_ns, events);
            }
            BoardEvent::Lost { frames } => {
                collector.incident(host_ns, IncidentKind::FramesLost(*frames));
            }
            BoardEvent::WentBack => collector.incident(host_ns, IncidentKind::CountWentBack),
            BoardEvent::Refused(_) => collector.incident(host_ns, IncidentKind::FrameRefused),
            BoardEvent::Hello(hello) => {
                totals.board_id = Some(hello.board_id.0);
                totals.capabilities = Some(hello.capabilities);
                if let Some(tracer) = collector.tracer() {
                    tracer.hello(*hello);
                }
                events.push(SessionEvent::Hello(*hello));
            }
            BoardEvent::Pps(edge) => {
                collector.pulse(edge.stamp.board_us.0);
                if let Some(tracer) = collector.tracer() {
                    tracer.pulse(host_ns, *edge);
                }
            }
            BoardEvent::Train(part) => {
                if let Some(tracer) = collector.tracer() {
                    tracer.train(*part);
                }
            }
            BoardEvent::Health(health) => {
                if let Some(tracer) = collector.tracer() {
                    tracer.health(*health);
                }
            }
            BoardEvent::Reply(reply) => {
                if let Some(tracer) = collector.tracer() {
                    tracer.reply(host_ns, *reply);
                }
            }
            BoardEvent::Reset { .. } => {}
        }
    }

    fn board_restarted(&mut self, host_ns: u64, events: &mut Vec<SessionEvent>) {
        let cut = self.marks.board_restarted();
        self.collector.board_reset(host_ns);
        if self.marks.is_first() {
            self.restarts.first = Some(None);
            self.collector.set_out(host_ns);
        }
        events.push(SessionEvent::BoardReset);
        if let Some(number) = cut {
            let ruling = Ruling::GivenUp { number };
            events.push(SessionEvent::Mark { host_ns, from_board: true, ruling });
        }
    }

    /// Rule on a press and act on it.
    fn press(&mut self, press: &Press, text: &str) -> Ruling {
        let host_ns = press.host_ns;
        let driven = self.collector.odometer.driven();
        let drive = || self.collector.drive(host_ns, self.restarts.cut.as_ref());
        let ruling = self.marks.press(press, drive);
        self.collector.rule(ruling, MarkPoint { host_ns, time: press.time }, text);
        match ruling {
            Ruling::FinishOfCut => self.restarts.cut = Some(driven),
            Ruling::Start { number, abandons } => {
                if abandons.is_some() {
                    self.restarts.cut = None;
                }
                self.started(number, driven);
            }
            Ruling::Finish { number } if self.marks.is_unsure() => self.collector.doubt(number),
            _ => {}
        }
        ruling
    }

    /// The board restarted before the first mark, and the drive from there to that mark is as long
    /// as the way between two passes: then it missed a start, and each way is taken for a pass.
    fn started(&mut self, number: u32, driven: Driven) {
        match &mut self.restarts.first {
            Some(first @ None) => *first = Some(driven),
            Some(Some(first)) if number > 1 => {
                if driven.is_as_long_as(first) {
                    self.marks.doubt();
                    self.collector.doubt(1);
                }
                self.restarts.first = None;
            }
            _ => {}
        }
    }

    fn host_mark(&mut self, mark: &HostMark, host_ns: u64, events: &mut Vec<SessionEvent>) {
        if mark.action == HostMarkAction::Note {
            self.notes.push((host_ns, mark.text.clone()));
        }
        let press =
            Press { host_ns, time: MarkTime::Host, action: mark.action, key: Some(mark.key) };
        let ruling = self.press(&press, &mark.text);
        events.push(SessionEvent::Mark { host_ns, from_board: false, ruling });
    }

    fn import_line(
        &mut self,
        table: ImportRow,
        line: &[u8],
        host_ns: u64,
        events: &mut Vec<SessionEvent>,
    ) {
        match table {
            ImportRow::Refused => self.totals.bad_import_lines += 1,
            // Read by the bus's own reader.
            ImportRow::Bus => {}
            ImportRow::Counts | ImportRow::Marks => self.table_line(table, line, host_ns, events),
        }
    }

    fn table_line(
        &mut self,
        table: ImportRow,
        line: &[u8],
        host_ns: u64,
        events: &mut Vec<SessionEvent>,
    ) {
        match self.imports.line(table, line, host_ns) {
            Ok(Some(ImportedRow::Counts(sample))) => {
                self.totals.capabilities = Some(self.imports.capabilities());
                self.collector.counts(sample);
            }
            Ok(Some(ImportedRow::CountsDown(sample))) => {
                self.collector.incident(host_ns, IncidentKind::CountWentBack);
                self.collector.counts(sample);
            }
            Ok(Some(ImportedRow::WentBack(sample))) => {
                self.collector.incident(host_ns, IncidentKind::CountWentBack);
                self.board_restarted(host_ns, events);
                self.collector.counts(sample);
            }
            Ok(Some(ImportedRow::Mark { action, text })) => {
                let mark = HostMark { key: host_ns, action, text };
                self.host_mark(&mark, host_ns, events);
            }
            Ok(None) => {}
            Err(_) => self.totals.bad_import_lines += 1,
        }
    }
    fn board_mark(&mut self, mark: &BoardMark, host_ns: u64, events: &mut Vec<SessionEvent>) {
        // Marks are numbered by the board: a hole means that a press never arrived, so the open
        // pass would end at the wrong peg.
        let seen = self.totals.board_marks_seen.replace(mark.number);
        if let Some(seen) = seen.filter(|seen| mark.number > seen + 1) {
            let presses = mark.number - seen - 1;
            events.push(SessionEvent::MarkLost { presses });
            self.totals.lost_marks += presses;
            self.collector.odometer.lose();
            if let Some(ruling) = self.marks.presses_lost(presses) {
                let at = MarkPoint { host_ns: mark.host_ns, time: MarkTime::Host };
                self.collector.rule(ruling, at, "");
            }
        }
        let time = MarkTime::Board { board_us: mark.board_us };
        let action = HostMarkAction::Mark;
        let press = Press { host_ns: mark.host_ns, time, action, key: None };
        let ruling = self.press(&press, "");
        events.push(SessionEvent::Mark { host_ns, from_board: true, ruling });
    }
}
