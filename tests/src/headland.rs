//! A wet headland, simulated: rows with turns of 7 m radius, slip that differs from place to place.

use crate::Draws;
use trundle_core::session::trail::{THINNED_US, Trail};
use trundle_core::survey::ride::axle::Mounting;
use trundle_core::survey::slip::{Section, Slip, SlipOptions, SlipRefusal, ZeroSlip, slip};
use trundle_sim::{ReceiverClass, Scenario, Truth, TruthSample, record_track};

/// The antenna of these headlands: 0.4 m right of the middle, 1.5 m ahead of the rear axle.
pub const MOUNTING: Mounting =
    Mounting { right_m: 0.4, u_right_m: 0.01, ahead_m: 1.5, u_ahead_m: 0.02 };

/// Six rows driven without stopping, wet at one end.
#[must_use]
pub fn headland(class: ReceiverClass) -> Scenario {
    let scenario = Scenario::named("wet-headland").expect("a scenario of the simulator");
    scenario.with_receiver(class)
}

/// A simulated headland with what really happened.
pub struct Driven {
    /// All samples.
    pub trail: Trail,
    /// The truth.
    pub truth: Truth,
    /// What wheels and ground did, every 20 ms.
    pub track: Vec<TruthSample>,
}

/// Simulate.
#[must_use]
pub fn drive(scenario: &Scenario, seed: u64) -> Driven {
    let (emissions, truth, track) = record_track(scenario, seed, 20_000);
    let records = crate::records(&emissions, truth.start_utc_ns, None);
    let session = crate::replay_with_trail(&records, THINNED_US);
    let trail = session.trail().expect("a trail was asked for");
    Driven { trail, truth, track }
}

impl Driven {
    /// Work slip with what a technician would know: figure and mounting, each off by chance as
    /// much as its stated doubt allows.
    ///
    /// # Errors
    /// As [`slip`].
    pub fn slip(&self) -> Result<Slip, SlipRefusal> {
        let mut draws = Draws::new(self.truth.seed ^ 0x51_19);
        let right_m = MOUNTING.right_m + MOUNTING.u_right_m * draws.normal();
        let ahead_m = MOUNTING.ahead_m + MOUNTING.u_ahead_m * draws.normal();
        let mut zero_slip = self.zero_slip();
        zero_slip.per_100m += zero_slip.standard_uncertainty * draws.normal();
        self.slip_with(zero_slip, Some(Mounting { right_m, ahead_m, ..MOUNTING }))
    }

    /// Work slip with a figure and a mounting given.
    ///
    /// # Errors
    /// As [`slip`].
    pub fn slip_with(
        &self,
        zero: ZeroSlip,
        mounting: Option<Mounting>,
    ) -> Result<Slip, SlipRefusal> {
        let options = SlipOptions { zero_slip: Some(zero), mounting, ..SlipOptions::default() };
        slip(&self.trail, &options)
    }

    /// The true figure, known to 0.05 %.
    #[must_use]
    pub fn zero_slip(&self) -> ZeroSlip {
        let per_100m = self.truth.wheel_impulses_per_100m;
        ZeroSlip { per_100m, standard_uncertainty: 5e-4 * per_100m }
    }

    /// True slip over a window.
    #[must_use]
    pub fn true_slip(&self, window: &Section) -> f64 {
        let (a, b) = (self.at(window.board_s.0), self.at(window.board_s.1));
        1.0 - (b.0 - a.0) / (b.1 - a.1)
    }

    /// Actual and theoretical travel at a board instant.
    fn at(&self, board_s: f64) -> (f64, f64) {
        let sim_us = board_s * 1e6 / (1.0 + self.truth.board_drift_ppm * 1e-6);
        let after = self.track.partition_point(|s| (s.sim_us as f64) <= sim_us).max(1);
        let a = self.track[after - 1];
        let Some(b) = self.track.get(after) else { return (a.travelled_m, a.theoretical_m) };
        let share = (sim_us - a.sim_us as f64) / (b.sim_us - a.sim_us) as f64;
        let between = |x: f64, y: f64| x + share * (y - x);
        (between(a.travelled_m, b.travelled_m), between(a.theoretical_m, b.theoretical_m))
    }
}
