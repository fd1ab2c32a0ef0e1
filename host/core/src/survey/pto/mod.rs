//! Impulses per revolution of the PTO shaft, from shaft speeds that the technician reads off the
//! tractor's display and the impulse rates that the board counted meanwhile.
//!
//! ISO 11786 is restated in public as 6 impulses per revolution; 40 is met too (from memory), so
//! neither is assumed here.

mod found;
mod reading;
mod refusal;

pub use found::{Found, NoLine, PtoLine, SetNow, Whole};
pub use reading::{Reading, SteadyRate, note_of, note_out};
pub use refusal::{PtoRefusal, ReadingRefusal};

use crate::session::trail::{Spell, Trail};
use trundle_protocol::units::Channel;

/// The rate is that of this long before the typed line, seconds: long enough for a display that
/// lags, short enough to be held from the seat.
pub const WINDOW_S: f64 = 6.0;
/// The window ends this long before the line was received, seconds: it takes that long to type, and
/// what is under the finger then may already move the throttle.
pub const ENDS_BEFORE_S: f64 = 0.5;
/// Single seconds of a steady window lie within this share of their mean. A governor holds well
/// within it; common practice, no source.
pub const STEADY_SHARE: f64 = 0.02;
/// Last step of the tractor's shaft speed display, revolutions per minute, where none is stated;
/// common practice, no source.
pub const DISPLAY_STEP_RPM: f64 = 10.0;

/// How to work it out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PtoOptions {
    /// Last step of the tractor's display, revolutions per minute.
    pub display_step_rpm: f64,
    /// That step was stated, not assumed.
    pub step_given: bool,
    /// What is set in the implement's terminal, impulses per revolution.
    pub set_now: Option<f64>,
}

impl Default for PtoOptions {
    fn default() -> Self {
        Self { display_step_rpm: DISPLAY_STEP_RPM, step_given: false, set_now: None }
    }
}

/// Everything that came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Pto {
    /// How it was calculated.
    pub options: PtoOptions,
    /// The typed speeds, in order.
    pub readings: Vec<Reading>,
    /// Impulses per revolution, or why there are none.
    pub found: Result<Found, PtoRefusal>,
}

/// Work a trail out. `capabilities`: the inputs the board says it has, where it did.
#[must_use]
pub fn pto(
    trail: &Trail,
    notes: &[(u64, String)],
    capabilities: Option<u8>,
    options: PtoOptions,
) -> Pto {
    let readings = reading::readings(trail, notes);
    let none = PtoRefusal::NoneUsable { typed: readings.len() };
    let found = fit_to_work(trail, capabilities, &readings)
        .and_then(|()| found::find(&readings, &options).ok_or(none));
    Pto { options, readings, found }
}

fn fit_to_work(
    trail: &Trail,
    capabilities: Option<u8>,
    readings: &[Reading],
) -> Result<(), PtoRefusal> {
    let channel = Channel::Pto.index();
    if capabilities.is_some_and(|inputs| inputs & (1 << channel) == 0) {
        return Err(PtoRefusal::NoSensor);
    }
    if trail.spells.iter().all(|spell| spell.counts.is_empty()) {
        return Err(PtoRefusal::NoCounts);
    }
    let turned = |spell: &Spell| {
        let (first, last) = (spell.counts.first(), spell.counts.last());
        first.zip(last).is_some_and(|(a, b)| b.impulses[channel] > a.impulses[channel])
    };
    if !trail.spells.iter().any(turned) {
        return Err(PtoRefusal::NoImpulses);
    }
    if readings.is_empty() { Err(PtoRefusal::NoReadings) } else { Ok(()) }
}
