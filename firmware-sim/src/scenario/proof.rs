//! Jobs with an implement's terminal: the value keyed in is right, or one of the usual mistakes.

use super::Scenario;
use crate::bus::BusTractor;
use crate::terminal::{Keyed, OLD, Terminal};

/// Standstill beside each peg, seconds: long enough to mark, read the display and type it.
const REST_S: f64 = 25.0;

impl Scenario {
    /// Two passes, and a terminal with the value that the name says; `None` for an unknown name. On
    /// a bus the control unit has the same value, and hands on what it makes of it.
    pub(super) fn proof(name: &str) -> Option<Self> {
        let (keyed, on_bus) = match name {
            "proof" => (Keyed::Right, false),
            "proof-old" => (OLD, false),
            "proof-doubled" => (Keyed::Times(2.0), false),
            "proof-other-sensor" => (Keyed::OfOtherSensor, false),
            "proof-bus" => (Keyed::Right, true),
            "proof-bus-old" => (OLD, true),
            _ => return None,
        };
        let tractor = || BusTractor { wheel_keyed: Some(keyed), ..BusTractor::default() };
        Some(Self {
            name: name.to_owned(),
            passes: 2,
            rest_s: REST_S,
            terminal: Some(Terminal { keyed, ..Terminal::default() }),
            bus: on_bus.then(tractor),
            ..Self::default()
        })
    }
}
