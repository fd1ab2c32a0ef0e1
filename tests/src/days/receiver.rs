//! Old sentences of the receiver that come again.

use crate::Draws;
use trundle_sim::{Emission, Port};

/// How old sentences come again.
#[derive(Clone, Copy, Debug)]
pub struct Again {
    at_us: u64,
    /// From when they are, before that.
    back_us: u64,
    lasts_us: u64,
    /// As fast as they came at first, or all at once.
    paced: bool,
    /// In place of what comes at that time, or besides.
    instead: bool,
}

impl Again {
    /// Drawn, to come at a time.
    pub fn new(at_us: u64, draws: &mut Draws) -> Self {
        let back_s = 1.0 + 180.0 * draws.unit().powi(2);
        let lasts_s = (0.2 + 20.0 * draws.unit()).min(back_s);
        Self {
            at_us,
            back_us: (back_s * 1e6) as u64,
            lasts_us: (lasts_s * 1e6) as u64,
            paced: draws.below(2) == 0,
            instead: draws.below(2) == 0,
        }
    }

    /// Put them in, whole sentences between whole sentences where the lines were cut that way.
    pub fn put_in(&self, emissions: &mut Vec<Emission>) {
        let from_us = self.at_us.saturating_sub(self.back_us);
        let of_receiver = |e: &&Emission| e.port == Port::Receiver;
        let old = |e: &&Emission| (from_us..from_us + self.lasts_us).contains(&e.sim_us);
        let mut again: Vec<Emission> =
            emissions.iter().filter(of_receiver).filter(old).cloned().collect();
        for emission in &mut again {
            let later_us = if self.paced { emission.sim_us - from_us } else { 0 };
            emission.sim_us = self.at_us + later_us;
        }
        let until_us = again.last().map_or(self.at_us, |e| e.sim_us);
        if self.instead {
            let now = |e: &Emission| (self.at_us..=until_us).contains(&e.sim_us);
            emissions.retain(|e| e.port != Port::Receiver || !now(e));
        }
        emissions.append(&mut again);
        emissions.sort_by_key(|emission| emission.sim_us);
    }
}
