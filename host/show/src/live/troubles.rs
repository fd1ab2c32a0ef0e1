//! What is wrong now: what began and has not ended.

use crate::words as texts;
use std::collections::BTreeMap;
use trundle_core::capture::PortRole;
use trundle_core::session::SessionEvent;
use trundle_core::session::look::Happened;
use trundle_core::session::marks::Ruling;

/// Kinds of trouble, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Storage,
    BoardGone,
    BoardSilent,
    BoardReset,
    /// The computer slept.
    Slept,
    MarkLost,
    ReceiverGone,
    ReceiverSilent,
}

/// Troubles that go on, with the host time at which they began, nanoseconds.
#[derive(Clone, Debug, Default)]
pub struct Troubles {
    now: BTreeMap<Kind, (u64, String)>,
    /// Troubles begun so far.
    pub begun: u32,
}

impl Troubles {
    /// What happened, at `host_ns`.
    pub fn happened(&mut self, happened: &Happened, host_ns: u64) {
        match happened {
            Happened::StorageFailed(what) => self.begin(Kind::Storage, host_ns, what.clone()),
            Happened::PortLost(role, loss) => {
                self.now.remove(&silent(*role));
                self.begin(gone(*role), host_ns, texts::port_lost(*role, *loss));
            }
            Happened::PortFound(role, _) => {
                self.now.remove(&gone(*role));
            }
            Happened::Silent(role) => self.begin(silent(*role), host_ns, texts::silent(*role)),
            Happened::Answering(role) => {
                self.now.remove(&silent(*role));
            }
            Happened::Session(SessionEvent::BoardReset) => {
                self.begin(Kind::BoardReset, host_ns, texts::BOARD_RESET.to_owned());
            }
            Happened::Session(SessionEvent::Slept { seconds }) => {
                self.begin(Kind::Slept, host_ns, texts::slept(*seconds));
            }
            Happened::Session(SessionEvent::MarkLost { presses }) => {
                self.begin(Kind::MarkLost, host_ns, texts::mark_lost(*presses));
            }
            // A new pass has nothing to do with what spoilt the one before.
            Happened::Session(SessionEvent::Mark { ruling: Ruling::Start { .. }, .. }) => {
                self.now.remove(&Kind::BoardReset);
                self.now.remove(&Kind::Slept);
                self.now.remove(&Kind::MarkLost);
            }
            Happened::Session(_) => {}
        }
    }

    fn begin(&mut self, kind: Kind, host_ns: u64, words: String) {
        if self.now.insert(kind, (host_ns, words)).is_none() {
            self.begun += 1;
        }
    }

    /// Troubles that go on: since when, and in words.
    pub fn list(&self) -> impl Iterator<Item = &(u64, String)> {
        self.now.values()
    }
}

const fn gone(role: PortRole) -> Kind {
    match role {
        PortRole::Board => Kind::BoardGone,
        PortRole::Receiver => Kind::ReceiverGone,
    }
}

const fn silent(role: PortRole) -> Kind {
    match role {
        PortRole::Board => Kind::BoardSilent,
        PortRole::Receiver => Kind::ReceiverSilent,
    }
}
