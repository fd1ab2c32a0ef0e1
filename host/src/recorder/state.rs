//! What the thread that records and the front ends both see.

use crate::shell::clock::Clock;
use crate::shell::exit::Trouble;
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use trundle_core::capture::PortRole;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::fitness::start::{Readiness, ReceiverReadiness};
use trundle_core::session::marks::Ruling;
use trundle_core::session::{Session, SessionEvent};
use trundle_protocol::message::{CHANNELS, Hello};

/// Events held for a front end that does not look; the oldest go first.
const EVENTS_MAX: usize = 4096;

/// What both sides see.
#[derive(Default)]
pub(super) struct Shared {
    state: Mutex<State>,
    pub changed: Condvar,
}

impl Shared {
    /// A thread that panicked while it held the lock leaves whole values behind: every change is
    /// made in one piece.
    pub fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The state once `waits` is over, or `limit` has passed.
    pub fn after(
        &self,
        limit: Duration,
        waits: impl FnMut(&mut State) -> bool,
    ) -> MutexGuard<'_, State> {
        let waited = self.changed.wait_timeout_while(self.lock(), limit, waits);
        waited.unwrap_or_else(PoisonError::into_inner).0
    }
}

/// State of the job.
#[derive(Default)]
pub(super) struct State {
    pub session: Session,
    pub events: VecDeque<LiveEvent>,
    pub hello: Option<Hello>,
    pub board: Option<LinkState>,
    pub receiver: Option<LinkState>,
    pub bus: Option<LinkState>,
    /// Host time at which the latest fix was complete.
    pub fix_seen_ns: Option<u64>,
    /// Pass that is open as far as acknowledged.
    pub open_pass: Option<u32>,
    /// Passes with both marks, as far as acknowledged.
    pub marked: usize,
    /// Counts when the open pass was started.
    pub baseline: Option<[u64; CHANNELS]>,
    /// Marks that wait for the disk.
    pub pending: usize,
    pub trouble: Option<Trouble>,
    /// Where a copy of a capture is that had lost its name.
    pub saved_as: Option<PathBuf>,
}

/// State of one port.
#[derive(Clone, Copy, Debug)]
pub(super) struct LinkState {
    pub open: bool,
    pub since: Instant,
    pub last_bytes: Instant,
    pub silent: bool,
}

impl LinkState {
    pub fn opened() -> Self {
        let now = Instant::now();
        Self { open: true, since: now, last_bytes: now, silent: false }
    }
}

impl State {
    pub fn push(&mut self, event: LiveEvent) {
        if self.events.len() == EVENTS_MAX {
            self.events.pop_front();
        }
        self.events.push_back(event);
    }

    pub fn marked_on_disk(&mut self, event: &SessionEvent) {
        use Ruling::{Finish, FinishUndone, GivenUp, Refused, Start, StartUndone};
        match *event {
            SessionEvent::Mark { ruling, .. } => match ruling {
                Start { number, .. } => self.open_pass = Some(number),
                Finish { .. } => (self.open_pass, self.marked) = (None, self.marked + 1),
                FinishUndone { number } => {
                    (self.open_pass, self.marked) = (Some(number), self.marked.saturating_sub(1));
                }
                StartUndone { .. } | Refused { .. } | GivenUp { .. } => self.open_pass = None,
                _ => {}
            },
            // The open pass is given up for presses that were lost.
            SessionEvent::MarkLost { .. } => self.open_pass = None,
            _ => {}
        }
    }

    pub fn link(&mut self, role: PortRole) -> Option<&mut LinkState> {
        match role {
            PortRole::Board => self.board.as_mut(),
            PortRole::Receiver => self.receiver.as_mut(),
            PortRole::Bus => self.bus.as_mut(),
        }
    }

    pub fn readiness(&self, clock: &Clock) -> Readiness {
        let (counts, fix) = self.session.latest();
        Readiness {
            board_open: self.board.is_some_and(|link| link.open),
            board_open_s: self.board.map_or(0.0, |link| link.since.elapsed().as_secs_f64()),
            capabilities: self.hello.map(|hello| hello.capabilities),
            counts_age_s: counts.map(|sample| clock.age_s(sample.host_ns)),
            receiver: self.receiver.map(|link| ReceiverReadiness {
                open: link.open,
                fix_age_s: self.fix_seen_ns.map(|seen_ns| clock.age_s(seen_ns)),
                quality: fix.map(|fix| fix.quality),
            }),
            storage_failed: self.trouble.is_some(),
        }
    }
}
