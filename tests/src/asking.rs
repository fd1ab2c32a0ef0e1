//! A simulated job in which somebody asks the board for edge times, as `trundle check` does.

use crate::records;
use trundle::ports::probe::{command_bytes, hello_request};
use trundle_core::capture::Record;
use trundle_protocol::message::{AskEdgeTrain, ToBoard};
use trundle_protocol::units::{Channel, Fixed16};
use trundle_sim::{Emission, Scenario, Simulation, Truth};

/// How the board is asked.
#[derive(Clone, Copy, Debug)]
pub struct Asking {
    /// Simulated time from one request to the next, microseconds.
    pub every_us: u64,
    /// Intervals asked for.
    pub intervals: u16,
}

impl Default for Asking {
    /// Wheel and radar in turn. A request that comes while a train is under way is refused, so
    /// there is time for one at 190 impulses per second.
    fn default() -> Self {
        Self { every_us: 1_600_000, intervals: 256 }
    }
}

/// Everything that comes out of both lines while wheel and radar are asked for in turn.
#[must_use]
pub fn record_asking(scenario: &Scenario, seed: u64, asking: Asking) -> (Vec<Emission>, Truth) {
    let mut simulation = Simulation::new(scenario, seed);
    let mut out = Vec::new();
    let mut request = 0_u8;
    // A board that is up already is asked who it is.
    simulation.advance_to(100_000, &mut out);
    simulation.board_input(&hello_request(1));
    while !simulation.finished() {
        let next_us = (simulation.now_us() + asking.every_us).min(simulation.end_us());
        simulation.advance_to(next_us, &mut out);
        request = request.wrapping_add(1);
        let channel = if request % 2 == 1 { Channel::Wheel } else { Channel::Radar };
        let ask = AskEdgeTrain { request, channel, intervals: Fixed16(asking.intervals) };
        simulation.board_input(&command_bytes(&ToBoard::AskEdgeTrain(ask)));
    }
    (out, simulation.truth())
}

/// The records of such a job, and its truth.
#[must_use]
pub fn simulate_asking(scenario: &Scenario, seed: u64) -> (Vec<Record>, Truth) {
    let (emissions, truth) = record_asking(scenario, seed, Asking::default());
    (records(&emissions, truth.start_utc_ns, None), truth)
}
