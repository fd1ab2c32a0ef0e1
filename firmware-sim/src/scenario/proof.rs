//! Jobs with an implement's terminal: the value keyed in is right, or one of the usual mistakes.

use super::Scenario;
use crate::terminal::{Keyed, Terminal};

impl Scenario {
    /// Two passes, and a terminal with the value that the name says; `None` for an unknown name.
    pub(super) fn proof(name: &str) -> Option<Self> {
        let keyed = match name {
            "proof" => Keyed::Right,
            "proof-old" => Keyed::Times(1.027),
            "proof-doubled" => Keyed::Times(2.0),
            "proof-other-sensor" => Keyed::OfOtherSensor,
            _ => return None,
        };
        let terminal = Some(Terminal { keyed, ..Terminal::default() });
        Some(Self { passes: 2, terminal, ..Self::default() })
    }
}
