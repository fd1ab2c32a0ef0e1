//! Restarts beside presses, sentences that come again, plugs swapped, a receiver's clock set.

use super::{Kind, Plan};
use crate::Draws;
use crate::receiver_clock::set_clock_of;
use trundle_sim::{Emission, Fault, Port, record_all};

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

impl Plan {
    /// Restarts of the board beside presses, and what the receiver's line does.
    pub(super) fn at_the_lines(
        &mut self,
        kind: Kind,
        at_us: (u64, u64),
        pass: usize,
        draws: &mut Draws,
    ) {
        let truth = || record_all(&self.scenario, self.seed).1;
        let (from_us, long_to_us) = at_us;
        match kind {
            Kind::ResetAtPress => {
                let pass = &truth().passes[pass];
                let mark_us = [pass.start_mark_us, pass.finish_mark_us][draws.below(2)];
                let at_s = mark_us.unwrap_or(pass.start_us) as f64 * 1e-6;
                let boot_s = 0.05 + 2.0 * draws.unit();
                let at_s = (at_s - 1.5 * boot_s * draws.unit()).max(1.0);
                self.scenario.faults.push(Fault::BoardReset { at_s, boot_s });
            }
            Kind::StartsOver => {
                let driven = &truth().passes[pass];
                let way_us = (driven.finish_us - driven.start_us) as f64;
                let at_s = (driven.start_us as f64 + way_us * (0.1 + 0.8 * draws.unit())) * 1e-6;
                let boot_s = 0.05 + 2.0 * draws.unit();
                self.scenario.faults.push(Fault::BoardReset { at_s, boot_s });
                self.starts_over = Some(pass);
                // All marks are given at the host, so that one can be left out.
                self.scenario.button = false;
                self.passes_over = false;
            }
            Kind::ReceiverTime => {
                self.receiver_time = Some((from_us, [-18, -13, -1, 1, 13, 18][draws.below(6)]));
            }
            Kind::SentencesAgain => {
                // Right after a mark, where the position of a peg is taken, or anywhere.
                let pass = &truth().passes[pass];
                let peg_us = [pass.start_us, pass.finish_us][draws.below(2)];
                let near_us = peg_us + (25e6 * draws.unit()) as u64;
                let at_us = if draws.below(3) == 0 { from_us } else { near_us };
                self.again = Some(Again::new(at_us, draws));
            }
            Kind::PlugsSwapped => self.swapped_us = Some((from_us, long_to_us)),
            Kind::CaptureCut => {
                self.cut_us = Some(2 * from_us);
                self.passes_over = false;
            }
            _ => {}
        }
    }

    pub(super) fn on_the_lines(&self, emissions: &mut Vec<Emission>) {
        if let Some((from_us, by_s)) = self.receiver_time {
            set_clock_of(emissions, from_us, by_s);
        }
        if let Some(again) = &self.again {
            again.put_in(emissions);
        }
        if let Some((from_us, to_us)) = self.swapped_us {
            let hit = |e: &&mut Emission| (from_us..to_us).contains(&e.sim_us);
            for emission in emissions.iter_mut().filter(hit) {
                emission.port = match emission.port {
                    Port::Board => Port::Receiver,
                    Port::Receiver => Port::Board,
                    Port::Bus => Port::Bus,
                };
            }
        }
    }
}
