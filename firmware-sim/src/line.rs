//! A serial line: bytes leave one after another at the pace of its speed, and may be damaged.

use crate::faults::Fault;
use crate::prng::Prng;
use crate::world::{Emission, Port};
use std::collections::VecDeque;

/// Longest chunk handed over at once, as a USB serial adapter would.
const CHUNK_BYTES: usize = 64;

/// One direction of a serial line.
#[derive(Clone, Debug)]
pub(crate) struct Line {
    port: Port,
    /// Time of one byte: start bit, eight data bits, stop bit.
    byte_us: f64,
    /// When the last byte given so far is out.
    free_us: f64,
    on_the_way: VecDeque<Emission>,
    silences_us: Vec<(u64, u64)>,
    damage: f64,
    random: Prng,
}

impl Line {
    pub(crate) fn new(port: Port, baud: u32, faults: &[Fault], seed: u64) -> Self {
        let mut silences_us = Vec::new();
        let mut damage = 0.0;
        for fault in faults {
            match (port, *fault) {
                (Port::Board, Fault::BoardSilent { from_s, to_s })
                | (Port::Receiver, Fault::ReceiverSilent { from_s, to_s })
                | (Port::Bus, Fault::BusSilent { from_s, to_s }) => {
                    silences_us.push(((from_s * 1e6) as u64, (to_s * 1e6) as u64));
                }
                (_, Fault::ByteDamage { port: on, rate }) if on == port => damage = rate,
                _ => {}
            }
        }
        let name = match port {
            Port::Board => "board line",
            Port::Receiver => "receiver line",
            Port::Bus => "bus line",
        };
        Self {
            port,
            byte_us: 10e6 / f64::from(baud.max(1)),
            free_us: 0.0,
            on_the_way: VecDeque::new(),
            silences_us,
            damage,
            random: Prng::new(seed, name),
        }
    }

    /// Bytes given but not yet out.
    pub(crate) fn waiting_bytes(&self, now_us: u64) -> usize {
        libm::ceil((self.free_us - now_us as f64).max(0.0) / self.byte_us) as usize
    }

    /// Gives bytes to the line; they start when those before them are out.
    pub(crate) fn send(&mut self, now_us: u64, bytes: &[u8]) {
        self.free_us = self.free_us.max(now_us as f64);
        for chunk in bytes.chunks(CHUNK_BYTES) {
            self.free_us += self.byte_us * chunk.len() as f64;
            let sim_us = libm::ceil(self.free_us) as u64;
            let silent = |&(from, to): &(u64, u64)| (from..to).contains(&sim_us);
            if self.silences_us.iter().any(silent) {
                continue;
            }
            let mut bytes = chunk.to_vec();
            for byte in &mut bytes {
                if self.random.chance(self.damage) {
                    *byte ^= 1 << (self.random.bits() % 8);
                }
            }
            self.on_the_way.push_back(Emission { sim_us, port: self.port, bytes });
        }
    }

    /// The sender died: what is not out yet never comes.
    pub(crate) fn cut(&mut self, now_us: u64) {
        while self.on_the_way.back().is_some_and(|emission| emission.sim_us > now_us) {
            self.on_the_way.pop_back();
        }
        self.free_us = now_us as f64;
    }

    /// When the next chunk is out.
    pub(crate) fn next_us(&self) -> Option<u64> {
        self.on_the_way.front().map(|emission| emission.sim_us)
    }

    pub(crate) fn take(&mut self) -> Option<Emission> {
        self.on_the_way.pop_front()
    }
}
