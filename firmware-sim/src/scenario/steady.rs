//! Jobs without pegs: speeds one after another, on the ground and at the PTO shaft.

use super::{Driving, Scenario};

/// From when on the PTO shaft turns how fast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PtoStep {
    /// Seconds from the end of the lead-in.
    pub from_s: f64,
    /// Revolutions per minute.
    pub rpm: f64,
}

/// Time the shaft takes from one speed to the next, seconds.
const PTO_RUN_UP_S: f64 = 3.0;

impl Scenario {
    /// Steady speeds from creeping to the road, rising, then some again after a stop.
    pub(super) fn steps_of_speed(&mut self) {
        (self.driving, self.passes, self.rest_s) = (Driving::Speeds, 0, 30.0);
        self.speed_steps_m_s =
            vec![0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 1.6, 2.4, 3.4, 4.5, 0.0, 3.0, 1.3, 0.3];
    }

    /// What a check of the sensors wants to see: standing, rolling slowly, standing, at working
    /// speed, standing; half a minute each.
    pub(super) fn steps_of_check(&mut self) {
        (self.driving, self.passes, self.rest_s) = (Driving::Speeds, 0, 30.0);
        (self.speed_steps_m_s, self.speed_hold_s) = (vec![0.5, 0.0, 2.2], 30.0);
    }

    /// Standing, the shaft at three speeds, half a minute each.
    pub(super) fn steps_of_pto(&mut self) {
        (self.driving, self.passes, self.rest_s) = (Driving::Parked, 0, 105.0);
        self.pto_rpm = 0.0;
        self.pto_steps = [(10.0, 540.0), (40.0, 750.0), (70.0, 1000.0), (100.0, 0.0)]
            .map(|(from_s, rpm)| PtoStep { from_s, rpm })
            .to_vec();
    }

    /// Passes that the path is laid out for: none makes it straight for ever.
    pub(crate) fn passes_of_path(&self) -> u32 {
        match self.driving {
            Driving::Speeds | Driving::Parked => 0,
            Driving::Standing
            | Driving::RollingGate
            | Driving::RollingButton
            | Driving::Circles => self.passes,
        }
    }

    /// Speed that the PTO shaft is to have at a time, revolutions per minute.
    pub(crate) fn pto_rpm_at(&self, time_s: f64) -> f64 {
        let since_s = time_s - self.lead_in_s;
        self.pto_steps
            .iter()
            .take_while(|step| step.from_s <= since_s)
            .fold(self.pto_rpm, |rpm, step| {
                rpm + (step.rpm - rpm) * ((since_s - step.from_s) / PTO_RUN_UP_S).min(1.0)
            })
    }
}
