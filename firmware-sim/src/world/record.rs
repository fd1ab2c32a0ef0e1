//! Whole jobs at once.

use super::{Emission, Simulation};
use crate::scenario::Scenario;
use crate::truth::{Truth, TruthSample};

/// Simulates the whole job and samples what the wheels and the ground really did, at most
/// `apart_us` apart.
#[must_use]
pub fn record_track(
    scenario: &Scenario,
    seed: u64,
    apart_us: u64,
) -> (Vec<Emission>, Truth, Vec<TruthSample>) {
    let mut simulation = Simulation::new(scenario, seed);
    let mut out = Vec::new();
    let mut track = Vec::new();
    while !simulation.finished() {
        simulation.advance_to((simulation.now_us + apart_us).min(simulation.end_us), &mut out);
        let at_us = simulation.stepped_us;
        let (travelled_m, theoretical_m) = simulation.vehicle.travel_at(at_us as f64);
        let [x_m, y_m, _] = simulation.vehicle.axle_at(at_us as f64 * 1e-6);
        track.push(TruthSample { sim_us: at_us, travelled_m, theoretical_m, x_m, y_m });
    }
    (out, simulation.truth(), track)
}

/// Simulates the whole job at once: everything that came out of both lines, and the truth.
#[must_use]
pub fn record_all(scenario: &Scenario, seed: u64) -> (Vec<Emission>, Truth) {
    let mut simulation = Simulation::new(scenario, seed);
    let mut out = Vec::new();
    simulation.advance_to(simulation.end_us(), &mut out);
    (out, simulation.truth())
}
