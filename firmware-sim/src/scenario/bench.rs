//! A board on the bench: no tractor, no sensors, its test pin bridged to one input after another.

use super::{Driving, Scenario};
use crate::test_pin::BenchInput;

impl Scenario {
    /// Nothing moves, and the supply is that of the computer: the board does not measure it.
    pub(super) fn on_bench(&mut self) {
        (self.driving, self.passes, self.rest_s) = (Driving::Parked, 0, 3_600.0);
        (self.pto_rpm, self.radar_standstill_hz) = (0.0, 0.0);
        (self.implement, self.supply_mv) = (false, 0);
        self.bench.bridge = BenchInput::ALL.to_vec();
    }
}
