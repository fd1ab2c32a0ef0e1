//! What somebody wants to try, made a scenario.

use crate::receiver::ReceiverClass;
use crate::scenario::Scenario;

/// A scenario by its name, with what may be chosen besides.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// Name of the scenario.
    pub scenario: String,
    /// Class of receiver; the scenario's own if not given.
    pub receiver: Option<ReceiverClass>,
    /// Passes to drive; the scenario's own if not given.
    pub passes: Option<u32>,
    /// No mark button on the board: whoever measures marks.
    pub no_button: bool,
    /// How long the tractor stands before it begins, seconds of its own time.
    pub lead_in_s: f64,
    /// UTC at its beginning, Unix nanoseconds; the scenario's date if not given.
    pub start_utc_ns: Option<i64>,
}

impl Wish {
    /// What is wished for; `None` if there is no scenario of that name.
    #[must_use]
    pub fn scenario(&self) -> Option<Scenario> {
        let mut scenario = Scenario::named(&self.scenario)?;
        if let Some(class) = self.receiver {
            scenario = scenario.with_receiver(class);
        }
        scenario.passes = self.passes.unwrap_or(scenario.passes);
        scenario.button &= !self.no_button;
        scenario.lead_in_s = self.lead_in_s;
        scenario.start_utc_ns = self.start_utc_ns.unwrap_or(scenario.start_utc_ns);
        Some(scenario)
    }
}

impl Default for Wish {
    /// The plain scenario, as it is, with half a minute to get ready in: a check of the sensors
    /// wants to see the tractor stand for as long.
    fn default() -> Self {
        Self {
            scenario: "plain".to_owned(),
            receiver: None,
            passes: None,
            no_button: false,
            lead_in_s: 30.0,
            start_utc_ns: None,
        }
    }
}
