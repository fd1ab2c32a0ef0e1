//! The implement bus of a simulation: what moves on it, and what its adapter is sent.

use super::Simulation;
use crate::bus::Moved;
use crate::bus_line::BusLine;

impl Simulation {
    /// Bytes from the host to the bus adapter, arriving now.
    pub fn adapter_input(&mut self, bytes: &[u8]) {
        let now_us = self.stepped_us;
        self.bus.iter_mut().for_each(|bus| bus.receive(now_us, bytes));
    }

    /// The adapter has just been plugged in: its channel is closed.
    pub fn adapter_plugged(&mut self) {
        self.bus.iter_mut().for_each(BusLine::power_on);
    }

    /// Every command that the adapter was sent; what no CR has ended yet is the last.
    #[must_use]
    pub fn adapter_commands(&self) -> Vec<String> {
        self.bus.as_ref().map(BusLine::commands).unwrap_or_default()
    }

    pub(super) fn bus(&mut self, from_us: u64, to_us: u64) {
        let (ground_m, wheel_m) = self.vehicle.travel_at(to_us as f64);
        let rpm = self.scenario.pto_rpm_at(from_us as f64 * 1e-6);
        if let Some(bus) = &mut self.bus {
            bus.step((from_us, to_us), Moved { wheel_m, ground_m }, rpm);
        }
    }
}
