//! The counter board: the firmware's own counting package on a simulated processor.

use crate::clock::BoardClock;
use crate::line::Line;
use crate::prng::Prng;
use crate::scenario::Scenario;
use crate::test_pin::{BenchInput, TestPin};
use crate::world::{Emission, Port};
use trundle_bench::{Start, Stimulus};
use trundle_counter::{Board, Config, Counter};
use trundle_protocol::message::{MarkSource, ResetCause};
use trundle_protocol::units::Channel;

/// Three impulse inputs, implement-in-work (bit 6), pulse per second (bit 7).
const INPUTS: u8 = 0b0100_0111;
const PPS_INPUT: u8 = 0b1000_0000;
/// How long an impulse stands at the input of an image, nanoseconds: short enough that none runs
/// into the next.
const PULSE_NS: u32 = 20_000;

/// What the counting package sees of the processor while it is polled.
struct Pins<'a> {
    line: &'a mut Line,
    now_us: u64,
    buffer_bytes: usize,
    supply_mv: u16,
    blinking: &'a mut bool,
    test_pin: &'a mut TestPin,
    board_us: u64,
}

impl Board for Pins<'_> {
    fn tx_room(&mut self) -> usize {
        self.buffer_bytes.saturating_sub(self.line.waiting_bytes(self.now_us))
    }

    fn tx(&mut self, bytes: &[u8]) {
        self.line.send(self.now_us, bytes);
    }

    fn supply_mv(&mut self) -> u16 {
        self.supply_mv
    }

    fn identify(&mut self, on: bool) {
        *self.blinking = on;
        self.test_pin.identify(on, self.board_us);
    }
}

/// The board with its clock and its line to the host.
pub(crate) struct SimBoard {
    scenario: Scenario,
    board_id: u64,
    random: Prng,
    counter: Counter,
    clock: BoardClock,
    line: Line,
    blinking: bool,
    test_pin: TestPin,
    /// While booting: when that ends.
    boot_until_us: Option<u64>,
    boot_id: u32,
    /// What came to its inputs, by its own time, while somebody listens.
    stimuli: Option<Vec<(u64, Stimulus)>>,
}

impl SimBoard {
    pub(crate) fn new(scenario: &Scenario, seed: u64) -> Self {
        let mut random = Prng::new(seed, "board");
        let board_id = random.bits();
        let clock = BoardClock::new(scenario.timer_start, 0, scenario.board_drift_ppm);
        let cause = ResetCause::PowerOn;
        let boot_id = boot_id(&mut random);
        Self {
            counter: start(scenario, board_id, boot_id, cause, clock.ticks(0)),
            scenario: scenario.clone(),
            board_id,
            random,
            clock,
            line: Line::new(Port::Board, scenario.board_baud, &scenario.faults, seed),
            blinking: false,
            test_pin: TestPin::new(&scenario.bench, seed),
            boot_until_us: None,
            boot_id,
            stimuli: None,
        }
    }

    pub(crate) const fn board_id(&self) -> u64 {
        self.board_id
    }

    /// Where the wire of the test pin is.
    pub(crate) const fn bridged(&self) -> Option<BenchInput> {
        self.test_pin.bridged()
    }

    /// Moves it.
    pub(crate) fn bridge(&mut self, to: Option<BenchInput>) {
        self.test_pin.bridge(to);
    }

    pub(crate) const fn blinking(&self) -> bool {
        self.blinking
    }

    /// What an image is started with that is to take its place.
    pub(crate) const fn start(&self) -> Start {
        Start {
            unique_id: self.board_id,
            timer_start: self.scenario.timer_start,
            supply_mv: self.scenario.supply_mv,
            pulse_ns: PULSE_NS,
            drop_every: 0,
        }
    }

    /// What came to its inputs since the last call, by its own time since its start; the first
    /// call begins to listen.
    pub(crate) fn stimuli(&mut self) -> Vec<(u64, Stimulus)> {
        self.stimuli.replace(Vec::new()).unwrap_or_default()
    }

    /// Its own time, microseconds since its start.
    pub(crate) fn board_us(&self, now_us: u64) -> u64 {
        self.clock.elapsed_us(now_us)
    }

    fn note(&mut self, now_us: u64, stimulus: Stimulus) {
        let at_us = self.clock.elapsed_us(now_us);
        if let Some(stimuli) = self.stimuli.as_mut() {
            stimuli.push((at_us, stimulus));
        }
    }

    /// Power fails for a moment: counts and what waits on the line are lost.
    pub(crate) fn reset(&mut self, now_us: u64, boot_s: f64) {
        self.line.cut(now_us);
        self.boot_until_us = Some(now_us + (boot_s * 1e6) as u64);
        self.blinking = false;
        self.test_pin.stop();
    }

    pub(crate) fn set_drift(&mut self, now_us: u64, ppm: f64) {
        self.clock.set_drift(now_us, ppm);
    }

    /// Does what the firmware's main loop has to do up to a time. Returns whether it runs.
    pub(crate) fn run_until(&mut self, now_us: u64) -> bool {
        if let Some(until_us) = self.boot_until_us {
            if now_us < until_us {
                return false;
            }
            // A processor's timer starts from nothing, wherever it was set before.
            self.boot_until_us = None;
            self.clock = BoardClock::new(0, until_us, self.scenario.board_drift_ppm);
            self.boot_id = boot_id(&mut self.random);
            let cause = ResetCause::BrownOut;
            self.counter = start(&self.scenario, self.board_id, self.boot_id, cause, 0);
        }
        loop {
            let poll_us = self.counter.poll_at_us();
            if let Some(change_us) = self.test_pin.next_us().filter(|us| *us < poll_us) {
                if self.clock.true_us_at(change_us) > now_us {
                    return true;
                }
                let clock = &self.clock;
                self.test_pin.step(&mut self.counter, |board_us| clock.ticks_at(board_us));
                continue;
            }
            let due_us = self.clock.true_us_at(poll_us);
            if due_us > now_us {
                return true;
            }
            self.poll(due_us);
            if self.counter.poll_at_us() <= poll_us {
                return true;
            }
        }
    }

    fn poll(&mut self, at_us: u64) {
        let mut pins = Pins {
            line: &mut self.line,
            now_us: at_us,
            buffer_bytes: self.scenario.board_buffer_bytes,
            supply_mv: self.scenario.supply_mv,
            blinking: &mut self.blinking,
            test_pin: &mut self.test_pin,
            board_us: self.clock.elapsed_us(at_us),
        };
        self.counter.poll(self.clock.ticks(at_us), &mut pins);
    }

    pub(crate) fn edge(&mut self, now_us: u64, channel: Channel) {
        self.note(now_us, Stimulus::Edge(channel));
        if self.run_until(now_us) {
            self.counter.on_edge(channel, self.clock.ticks(now_us));
        }
    }

    pub(crate) fn mark(&mut self, now_us: u64, source: MarkSource) {
        self.note(now_us, Stimulus::Mark(source));
        if self.run_until(now_us) {
            self.counter.on_mark(source, self.clock.ticks(now_us));
            self.poll(now_us);
        }
    }

    pub(crate) fn pps(&mut self, now_us: u64) {
        self.note(now_us, Stimulus::Pps);
        if self.run_until(now_us) {
            self.counter.on_pps(self.clock.ticks(now_us));
        }
    }

    pub(crate) fn working(&mut self, now_us: u64, in_work: bool) {
        self.note(now_us, Stimulus::Working(in_work));
        if self.run_until(now_us) {
            self.counter.on_working(in_work, self.clock.ticks(now_us));
        }
    }

    /// Bytes from the host; lost while the board boots.
    pub(crate) fn receive(&mut self, now_us: u64, bytes: &[u8]) {
        if self.run_until(now_us) {
            let heard: Vec<u8> = bytes.iter().flat_map(|&byte| self.test_pin.heard(byte)).collect();
            for byte in heard {
                self.counter.receive(byte);
                // The main loop comes round between any two bytes of the line.
                self.poll(now_us);
            }
        }
    }

    pub(crate) fn next_us(&self) -> Option<u64> {
        self.line.next_us()
    }

    pub(crate) fn take(&mut self) -> Option<Emission> {
        self.line.take()
    }
}

/// A number that differs at every start; 0 is left out so that "none" stays tellable.
fn boot_id(random: &mut Prng) -> u32 {
    (random.bits() >> 32) as u32 | 1
}

fn start(
    scenario: &Scenario,
    board_id: u64,
    boot_id: u32,
    reset_cause: ResetCause,
    ticks: u32,
) -> Counter {
    let config = Config {
        board_id,
        boot_id,
        firmware: scenario.bench.firmware,
        reset_cause,
        capabilities: INPUTS | if scenario.pps { PPS_INPUT } else { 0 },
        report_period_us: scenario.report_period_us,
        min_edge_interval_us: scenario.min_edge_interval_us,
    };
    Counter::new(config, ticks)
}
