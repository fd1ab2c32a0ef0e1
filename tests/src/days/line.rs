//! What a bad line does to bytes, for a while: applied to what the simulator sent.

use crate::Draws;
use trundle_sim::{Emission, Port};

/// One kind of harm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Harm {
    /// Each byte lost with this probability.
    Lose(f64),
    /// One bit of each byte turned over with this probability.
    Flip(f64),
    /// Each byte doubled with this probability.
    Double(f64),
    /// A zero put in before each byte with this probability.
    Zeros(f64),
    /// Nothing comes, and then all at once.
    Stall,
    /// Bytes come in bunches, this many microseconds apart.
    Bunch(u64),
    /// Nothing comes, and it is gone.
    Silence,
}

/// Do harm to one line between two times, microseconds.
pub fn spoil(
    emissions: &mut Vec<Emission>,
    port: Port,
    (from_us, to_us): (u64, u64),
    harm: Harm,
    draws: &mut Draws,
) {
    let hit = |e: &Emission| e.port == port && (from_us..to_us).contains(&e.sim_us);
    for emission in emissions.iter_mut().filter(|emission| hit(emission)) {
        match harm {
            Harm::Stall => emission.sim_us = to_us,
            Harm::Bunch(apart_us) => {
                emission.sim_us = emission.sim_us.next_multiple_of(apart_us).min(to_us);
            }
            Harm::Silence => emission.bytes.clear(),
            _ => emission.bytes = bytes(&emission.bytes, harm, draws),
        }
    }
    emissions.retain(|emission| !emission.bytes.is_empty());
    // Stable: bytes of one line keep their order.
    emissions.sort_by_key(|emission| emission.sim_us);
}

fn bytes(before: &[u8], harm: Harm, draws: &mut Draws) -> Vec<u8> {
    let mut out = Vec::with_capacity(before.len() + 2);
    for &byte in before {
        match harm {
            Harm::Lose(rate) if draws.unit() < rate => {}
            Harm::Flip(rate) if draws.unit() < rate => out.push(byte ^ 1 << draws.below(8)),
            Harm::Double(rate) if draws.unit() < rate => out.extend([byte, byte]),
            Harm::Zeros(rate) if draws.unit() < rate => out.extend([0, byte]),
            _ => out.push(byte),
        }
    }
    out
}
