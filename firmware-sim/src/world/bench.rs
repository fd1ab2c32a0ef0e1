//! What a bench sees of the board: what is to be played to an image in its place, and the wire of
//! its test pin.

use super::Simulation;
use crate::test_pin::BenchInput;
use trundle_bench::{Start, Stimulus};

impl Simulation {
    /// What the bench begins with for an image that is to take the simulated board's place.
    #[must_use]
    pub const fn bench_start(&self) -> Start {
        self.board.start()
    }

    /// What came to the board's inputs since the last call, by the board's microseconds since its
    /// start; the first call begins to listen.
    pub fn stimuli(&mut self) -> Vec<(u64, Stimulus)> {
        self.board.stimuli()
    }

    /// The board's time up to which all stimuli are known, microseconds since its start.
    #[must_use]
    pub fn board_us(&self) -> u64 {
        self.board.board_us(self.stepped_us)
    }

    /// The input that the board's test pin is bridged to.
    #[must_use]
    pub const fn bridged(&self) -> Option<BenchInput> {
        self.board.bridged()
    }

    /// Bridges the board's test pin to an input, or to none.
    pub fn bridge(&mut self, to: Option<BenchInput>) {
        self.board.bridge(to);
    }
}
