//! What is wrong now: what began and has not ended.

use crate::words as texts;
use std::collections::BTreeMap;
use trundle_core::capture::PortRole;
use trundle_core::fitness::Loss;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;

/// Kinds of trouble, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum TroubleKind {
    /// The capture can no longer be written.
    Storage,
    /// The capture is not where it was.
    CaptureMoved,
    /// The board is disconnected.
    BoardGone,
    /// The board sends nothing.
    BoardSilent,
    /// The board restarted.
    BoardReset,
    /// The computer slept.
    Slept,
    /// A press of the board's button was lost.
    MarkLost,
    /// The receiver is disconnected.
    ReceiverGone,
    /// The receiver sends nothing.
    ReceiverSilent,
    /// The adapter of the bus is disconnected.
    BusGone,
    /// The adapter of the bus sends nothing.
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

    /// Troubles that go on: since when, of which kind, and in words.
    pub fn list(&self) -> impl Iterator<Item = (u64, TroubleKind, &str)> {
        self.now.iter().map(|(kind, (since, words))| (*since, *kind, words.as_str()))
    }
}

impl TroubleKind {
    /// All of them, in their order.
    pub const ALL: [Self; 11] = [
        Self::Storage,
        Self::CaptureMoved,
        Self::BoardGone,
        Self::BoardSilent,
        Self::BoardReset,
        Self::Slept,
        Self::MarkLost,
        Self::ReceiverGone,
        Self::ReceiverSilent,
        Self::BusGone,
        Self::BusSilent,
    ];

    /// A word for it, which names its entry in the handbook.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Storage => "storage",
            Self::CaptureMoved => "capture-moved",
            Self::BoardGone => "board-disconnected",
            Self::BoardSilent => "board-silent",
            Self::BoardReset => "board-restarted",
            Self::Slept => "computer-slept",
            Self::MarkLost => "mark-lost",
            Self::ReceiverGone => "receiver-disconnected",
            Self::ReceiverSilent => "receiver-silent",
            Self::BusGone => "bus-disconnected",
            Self::BusSilent => "bus-silent",
        }
    }

    /// All that a screen may say of it, with an example's numbers.
    #[must_use]
    pub fn says(self) -> Vec<String> {
        self.begun_by().iter().filter_map(texts::wrong).collect()
    }

    /// What can begin it.
    fn begun_by(self) -> Vec<LiveEvent> {
        let silent = |role| vec![LiveEvent::NotAnswering { role }];
        match self {
            Self::Storage => vec![LiveEvent::Failed(texts::book::STORAGE.to_owned())],
            Self::CaptureMoved => vec![LiveEvent::CaptureMoved { in_place: false }],
            Self::BoardGone => lost(PortRole::Board),
            Self::ReceiverGone => lost(PortRole::Receiver),
            Self::BusGone => lost(PortRole::Bus),
            Self::BoardSilent => silent(PortRole::Board),
            Self::ReceiverSilent => silent(PortRole::Receiver),
            Self::BusSilent => silent(PortRole::Bus),
            Self::BoardReset => vec![LiveEvent::Seen(SessionEvent::BoardReset)],
            Self::Slept => vec![LiveEvent::Seen(SessionEvent::Slept { seconds: 60.0 })],
            Self::MarkLost => {
                vec![LiveEvent::Acknowledged(SessionEvent::MarkLost { presses: 1 })]
            }
        }
    }
}

/// A port lost for each reason that there is.
fn lost(role: PortRole) -> Vec<LiveEvent> {
    let all = [Loss::Gone, Loss::Unreadable, Loss::Foreign];
    all.map(|loss| LiveEvent::PortLost { role, loss, detail: String::new() }).into()
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
