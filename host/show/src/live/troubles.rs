//! What is wrong now: what began and has not ended.

use crate::words as texts;
use std::collections::BTreeMap;
use trundle_core::capture::PortRole;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;

/// Kinds of trouble, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum TroubleKind {
    Storage,
    CaptureMoved,
    BoardGone,
    BoardSilent,
    BoardReset,
    /// The computer slept.
    Slept,
    MarkLost,
    ReceiverGone,
    ReceiverSilent,
    BusGone,
    BusSilent,
}

/// Troubles that go on, with the host time at which they began, nanoseconds.
#[derive(Clone, Debug, Default)]
pub struct Troubles {
    now: BTreeMap<TroubleKind, (u64, String)>,
    /// Troubles begun so far.
    pub begun: u32,
}

impl Troubles {
    /// What happened, at `host_ns`.
    pub fn happened(&mut self, happened: &LiveEvent, host_ns: u64) {
        match happened {
            LiveEvent::PortLost { role, .. } | LiveEvent::AnsweringAgain { role } => {
                self.now.remove(&silent(*role));
            }
            LiveEvent::PortFound { role, .. } => {
                self.now.remove(&gone(*role));
            }
            LiveEvent::CaptureMoved { in_place: true } => {
                self.now.remove(&TroubleKind::CaptureMoved);
                return;
            }
            // A new pass has nothing to do with what spoilt the one before.
            LiveEvent::Acknowledged(SessionEvent::Mark {
                ruling: Ruling::Start { .. }, ..
            }) => {
                for kind in [TroubleKind::BoardReset, TroubleKind::Slept, TroubleKind::MarkLost] {
                    self.now.remove(&kind);
                }
            }
            _ => {}
        }
        let kind = match happened {
            LiveEvent::Failed(_) => TroubleKind::Storage,
            LiveEvent::PortLost { role, .. } => gone(*role),
            LiveEvent::NotAnswering { role } => silent(*role),
            LiveEvent::CaptureMoved { .. } => TroubleKind::CaptureMoved,
            LiveEvent::Seen(SessionEvent::BoardReset) => TroubleKind::BoardReset,
            LiveEvent::Seen(SessionEvent::Slept { .. }) => TroubleKind::Slept,
            LiveEvent::Acknowledged(SessionEvent::MarkLost { .. }) => TroubleKind::MarkLost,
            _ => return,
        };
        let words = texts::wrong(happened).unwrap_or_default();
        if self.now.insert(kind, (host_ns, words)).is_none() {
            self.begun += 1;
        }
    }

    /// Troubles that go on: since when, and in words.
    pub fn list(&self) -> impl Iterator<Item = &(u64, String)> {
        self.now.values()
    }
}

const fn gone(role: PortRole) -> TroubleKind {
    match role {
        PortRole::Board => TroubleKind::BoardGone,
        PortRole::Receiver => TroubleKind::ReceiverGone,
        PortRole::Bus => TroubleKind::BusGone,
    }
}

const fn silent(role: PortRole) -> TroubleKind {
    match role {
        PortRole::Board => TroubleKind::BoardSilent,
        PortRole::Receiver => TroubleKind::ReceiverSilent,
        PortRole::Bus => TroubleKind::BusSilent,
    }
}
