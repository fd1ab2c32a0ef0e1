//! A wet headland: the wheels slip, and differently from place to place.

use super::{Driving, LeverArm, Scenario, SlipZone};

impl Scenario {
    /// Rows driven without stopping, wet at one end; antenna right of the middle and ahead.
    pub(super) fn wet_headland(&mut self) {
        self.driving = Driving::RollingGate;
        self.button = false;
        self.lever_arm = LeverArm { right_m: 0.4, ahead_m: 1.5, height_m: 2.9 };
        self.base_slip = 0.04;
        self.slip_zones = vec![
            SlipZone { from_m: -60.0, to_m: 18.0, slip: 0.14 },
            SlipZone { from_m: 55.0, to_m: 70.0, slip: 0.06 },
        ];
    }
}
