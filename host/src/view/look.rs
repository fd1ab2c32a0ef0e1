//! What happened since the last look, as a screen takes it.

use crate::capture::PortRole;
use crate::fitness::Loss;
use crate::session::SessionEvent;

/// What happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Happened {
    /// A mark that is on the disk, or something seen that nobody asked for.
    Session(SessionEvent),
    /// A port is lost; it is looked for.
    PortLost(PortRole, Loss),
    /// It is back; where, when that is another place than before.
    PortFound(PortRole, Option<String>),
    /// A port is open, and nothing comes.
    Silent(PortRole),
    /// Something comes again.
    Answering(PortRole),
    /// Nothing more is recorded; what happened, in one sentence.
    StorageFailed(String),
}
