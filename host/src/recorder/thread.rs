//! The thread that records and feeds: every record goes to the file first, then to the session.

use super::capture_file::{CaptureWriter, Syncer};
use super::state::{LinkState, Shared, State};
use crate::ports::probe::hello_request;
use crate::ports::serial::{Arrived, PortNews};
use crate::shell::clock::{Clock, wall_utc_ns};
use crate::shell::exit::Trouble;
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::{Duration, Instant};
use trundle_core::capture::{Entry, PortEvent, PortRole, Record, Slept, WallClock};
use trundle_core::fitness::live::SHOWN_LIVE_S;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;

/// A port that gives nothing for this long is called silent: by then no value of it is shown as
/// live.
const SILENT_AFTER_S: f64 = SHOWN_LIVE_S;
/// Least time between two looks at what is due.
const TICK: Duration = Duration::from_millis(20);
/// How often a board that has not said hello is asked again.
const ASK_AGAIN: Duration = Duration::from_secs(1);
/// How often the wall clock is noted.
const WALL_EVERY: Duration = Duration::from_secs(10);
/// Shorter sleep than this, seconds, is the two clocks being read one after the other.
const SLEPT_S: f64 = 0.5;
/// How often what has come is brought to the disk, marks or not.
const SYNC_EVERY: Duration = Duration::from_secs(1);
/// Longest wait for the disk at the end.
const LAST_SYNC: Duration = Duration::from_secs(10);

/// What comes to the thread.
pub(super) enum Input {
    /// From a port.
    Port(Arrived),
    /// From the person: a mark, a note, a course.
    Host(u64, Entry),
    /// The disk has everything up to this length.
    Synced(Result<u64, Trouble>),
    /// The capture is still where it was begun, or no longer.
    InPlace(bool),
    /// Close the capture.
    Finish,
}

/// The thread's own things.
pub(super) struct Core {
    pub input: Receiver<Input>,
    /// One for each chunk of the bus that waits in `input`.
    pub bus_places: Receiver<()>,
    pub writer: CaptureWriter,
    pub syncer: Syncer,
    pub clock: Clock,
    pub shared: Arc<Shared>,
    pub to_board: Option<Sender<Vec<u8>>>,
    pub nonce: u32,
    pub waiting: VecDeque<(u64, SessionEvent)>,
    pub written: u64,
    pub asked_sync: u64,
    pub failed: bool,
    pub sleep: Sleep,
    /// Set, a port is reopened.
    pub reopen: Vec<Arc<AtomicBool>>,
}

/// How long the computer has slept.
pub(super) struct Sleep {
    /// In all since it was started, seconds.
    pub slept_s: Box<dyn FnMut() -> f64 + Send>,
    /// As far as known.
    pub known_s: f64,
}

/// When things were last done.
struct Due {
    tick: Instant,
    wall: Instant,
    sync: Instant,
    hello: Option<Instant>,
}

impl Core {
    /// Record and feed until asked to finish. Should that break down, what was recorded so far is
    /// brought to the disk before anybody is informed.
    pub fn run(mut self) {
        if let Err(broke) = catch_unwind(AssertUnwindSafe(|| self.record_on())) {
            self.sync_head();
            resume_unwind(broke);
        }
    }

    fn record_on(&mut self) {
        let now = Instant::now();
        let mut due = Due { tick: now, wall: now, sync: now, hello: None };
        loop {
            match self.input.recv_timeout(TICK) {
                Ok(Input::Finish) | Err(RecvTimeoutError::Disconnected) => return self.finish(),
                Ok(input) => self.take(input, &mut due),
                Err(RecvTimeoutError::Timeout) => {}
            }
            if due.tick.elapsed() >= TICK {
                due.tick = Instant::now();
                self.tick(&mut due);
            }
        }
    }

    fn take(&mut self, input: Input, due: &mut Due) {
        match input {
            Input::Port(arrived) => self.port(arrived, due),
            Input::Host(host_ns, entry) => self.record(host_ns, entry),
            Input::Synced(Ok(length)) => self.synced(length),
            Input::Synced(Err(trouble)) => self.fail(trouble),
            Input::InPlace(in_place) => {
                self.shared.lock().push(LiveEvent::CaptureMoved { in_place });
                self.shared.changed.notify_all();
            }
            Input::Finish => {}
        }
    }

    /// Append a record, then feed it. What cannot be appended does not exist.
    pub fn record(&mut self, host_ns: u64, entry: Entry) {
        if self.failed {
            return;
        }
        let record = Record { host_ns, entry };
        match self.writer.append(&record) {
            Ok(length) => self.written = length,
            Err(trouble) => return self.fail(trouble),
        }
        let mut events = Vec::new();
        let shared = Arc::clone(&self.shared);
        let mut state = shared.lock();
        state.session.feed(&record, &mut events);
        for event in events {
            self.route(&mut state, host_ns, event);
        }
    }

    fn route(&mut self, state: &mut State, host_ns: u64, event: SessionEvent) {
        match event {
            SessionEvent::Mark { ruling, .. } => {
                if matches!(ruling, Ruling::Start { .. }) {
                    state.baseline = state.session.latest().0.map(|sample| sample.impulses);
                }
                self.wait_for_disk(state, event);
            }
            SessionEvent::MarkLost { .. } => self.wait_for_disk(state, event),
            SessionEvent::Fix => state.fix_seen_ns = Some(host_ns),
            // Told by the link itself, with its reason.
            SessionEvent::Port { .. } => {}
            SessionEvent::Slept { .. } => state.push(LiveEvent::Seen(event)),
            SessionEvent::BoardReset => {
                state.baseline = None;
                state.push(LiveEvent::Seen(event));
            }
            SessionEvent::Hello(hello) => {
                let before = state.hello.replace(hello);
                if before.is_none_or(|before| before.board_id != hello.board_id) {
                    state.push(LiveEvent::Seen(event));
                }
            }
        }
        self.shared.changed.notify_all();
    }

    fn wait_for_disk(&mut self, state: &mut State, event: SessionEvent) {
        self.waiting.push_back((self.written, event));
        state.pending = self.waiting.len();
        self.asked_sync = self.written;
        self.syncer.request(self.written);
    }

    fn synced(&mut self, length: u64) {
        if self.failed {
            return;
        }
        let shared = Arc::clone(&self.shared);
        let mut state = shared.lock();
        while self.waiting.front().is_some_and(|(end, _)| *end <= length) {
            let Some((_, event)) = self.waiting.pop_front() else { break };
            state.marked_on_disk(&event);
            state.push(LiveEvent::Acknowledged(event));
        }
        state.pending = self.waiting.len();
        self.shared.changed.notify_all();
    }

    fn fail(&mut self, trouble: Trouble) {
        if self.failed {
            return;
        }
        self.failed = true;
        self.waiting.clear();
        let shared = Arc::clone(&self.shared);
        let mut state = shared.lock();
        state.pending = 0;
        state.trouble = Some(trouble.clone());
        state.push(LiveEvent::Failed(trouble.what));
        self.shared.changed.notify_all();
    }

    fn port(&mut self, arrived: Arrived, due: &mut Due) {
        let Arrived { role, host_ns, news } = arrived;
        if role == PortRole::Bus {
            // It was put there before the chunk was.
            let _ = self.bus_places.try_recv();
        }
        let (open, detail, event) = match news {
            PortNews::Bytes(bytes) => {
                self.heard_bytes(role);
                return self.record(host_ns, Entry::Bytes(role, bytes));
            }
            PortNews::Opened(place) => {
                let detail = place.as_ref().map_or_else(
                    || "open again".to_owned(),
                    |place| format!("found again as {}", crate::shell::out::scrub(place, 200)),
                );
                (true, detail, LiveEvent::PortFound { role, place })
            }
            PortNews::Lost(loss, detail) => {
                (false, detail.clone(), LiveEvent::PortLost { role, loss, detail })
            }
        };
        {
            let shared = Arc::clone(&self.shared);
            let mut state = shared.lock();
            if let Some(link) = state.link(role) {
                *link = LinkState { open, ..LinkState::opened() };
            }
            if role == PortRole::Board {
                // Whoever is there now has to say who it is.
                state.hello = None;
                due.hello = None;
            }
            state.push(event);
            self.shared.changed.notify_all();
        }
        self.record(host_ns, Entry::Port(PortEvent { role, open, detail }));
    }

    fn heard_bytes(&self, role: PortRole) {
        let mut state = self.shared.lock();
        let Some(link) = state.link(role) else { return };
        link.last_bytes = Instant::now();
        if std::mem::take(&mut link.silent) {
            state.push(LiveEvent::AnsweringAgain { role });
            self.shared.changed.notify_all();
        }
    }

    /// A computer that slept is reported by itself, and its ports are reopened: after sleep a
    /// handle may be dead without saying so.
    fn wake(&mut self) {
        let slept_s = (self.sleep.slept_s)();
        let seconds = slept_s - std::mem::replace(&mut self.sleep.known_s, slept_s);
        if seconds < SLEPT_S {
            return;
        }
        self.record(self.clock.now_ns(), Entry::Slept(Slept { seconds }));
        self.note_wall();
        self.reopen.iter().for_each(|again| again.store(true, Ordering::Relaxed));
    }

    fn tick(&mut self, due: &mut Due) {
        self.wake();
        let ask = {
            let mut state = self.shared.lock();
            for role in [PortRole::Board, PortRole::Receiver, PortRole::Bus] {
                let Some(link) = state.link(role) else { continue };
                if link.open
                    && !link.silent
                    && link.last_bytes.elapsed().as_secs_f64() > SILENT_AFTER_S
                {
                    link.silent = true;
                    state.push(LiveEvent::NotAnswering { role });
                    self.shared.changed.notify_all();
                }
            }
            // Nothing is asked of what sends nothing: it may be no board any more.
            state.hello.is_none() && state.board.is_some_and(|link| link.open && !link.silent)
        };
        if ask && due.hello.is_none_or(|at| at.elapsed() > ASK_AGAIN) {
            due.hello = Some(Instant::now());
            // A link that has ended says so itself.
            let _ = self.to_board.as_ref().map(|to| to.send(hello_request(self.nonce)));
        }
        if due.wall.elapsed() > WALL_EVERY {
            due.wall = Instant::now();
            self.note_wall();
        }
        if due.sync.elapsed() > SYNC_EVERY && self.written > self.asked_sync {
            due.sync = Instant::now();
            self.asked_sync = self.written;
            self.syncer.request(self.written);
        }
    }

    /// Wait until the head is on the disk: from here on the capture can be read, whatever comes.
    pub fn sync_head(&mut self) {
        self.asked_sync = self.written;
        if !self.failed
            && let Err(trouble) = self.writer.sync()
        {
            self.fail(trouble);
        }
    }

    /// Note what the wall clock says at this moment.
    pub fn note_wall(&mut self) {
        let utc_ns = wall_utc_ns();
        self.record(self.clock.now_ns(), Entry::WallClock(WallClock { utc_ns }));
    }

    /// A capture that has lost its name is saved again.
    fn keep(&mut self) {
        if self.writer.is_in_place() {
            return;
        }
        match self.writer.save_elsewhere() {
            Ok(path) => self.shared.lock().saved_as = Some(path),
            Err(trouble) => self.fail(trouble),
        }
    }

    /// Close the capture in order and wait until the disk has it.
    fn finish(&mut self) {
        self.record(self.clock.now_ns(), Entry::End);
        if self.failed {
            return;
        }
        let end = self.written;
        self.syncer.request(end);
        let until = Instant::now() + LAST_SYNC;
        while !self.failed {
            let left = until.saturating_duration_since(Instant::now());
            match self.input.recv_timeout(left) {
                Ok(Input::Synced(Ok(length))) => {
                    self.synced(length);
                    if length >= end {
                        return self.keep();
                    }
                }
                Ok(Input::Synced(Err(trouble))) => self.fail(trouble),
                // The capture is closed: what comes now is of no job.
                Ok(_) => {}
                Err(_) => self.fail(self.writer.unconfirmed(LAST_SYNC)),
            }
        }
    }
}
