//! The simulation: tractor, board and receiver, stepped together, bytes out in order of time.
//!
//! Inside, time goes in steps of fixed length on a grid of its own, whatever intervals the caller
//! asks for; within a step everything that happens (edges, marks, epochs, faults) is sorted and
//! handled at its own microsecond. The same scenario and seed therefore give the same bytes on
//! any chunking of [`Simulation::advance_to`].

mod adapter;
mod bench;
mod record;

pub use record::{record_all, record_track};

use crate::board::SimBoard;
use crate::bus_line::BusLine;
use crate::drive::{End, Happening};
use crate::faults::Fault;
use crate::gnss::Gnss;
use crate::line::Line;
use crate::scenario::Scenario;
use crate::sensors::Edge;
use crate::terminal::{Display, KeyedIn};
use crate::truth::{Truth, TruthPass};
use crate::vehicle::Vehicle;
use trundle_protocol::message::MarkSource;
use trundle_protocol::units::Channel;

/// Length of a step. At 5 m/s and 1 m/s² the path inside is straight to less than a micrometre.
const STEP_US: u64 = 2_000;

/// Where bytes come out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Port {
    /// The counter board.
    Board,
    /// The satellite receiver.
    Receiver,
    /// The adapter on the implement bus.
    Bus,
}

/// A chunk of bytes as a serial adapter would hand it over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Emission {
    /// True time at which the last byte is on the wire, microseconds since the start.
    pub sim_us: u64,
    /// Which line.
    pub port: Port,
    /// The bytes, 1 to 64.
    pub bytes: Vec<u8>,
}

#[derive(Clone, Copy, Debug)]
enum Event {
    Edge(Channel, Edge),
    Planned(Happening),
    Epoch,
    Pps,
    Reset { boot_s: f64 },
    Drift { ppm: f64 },
}

/// What stood at the instant that began or ended a pass.
#[derive(Clone, Copy, Debug)]
struct Snapshot {
    at_us: f64,
    travelled_m: f64,
    theoretical_m: f64,
    axle_m: [f64; 3],
    impulses: [u64; 3],
}

/// A simulated job.
pub struct Simulation {
    scenario: Scenario,
    seed: u64,
    vehicle: Vehicle,
    board: SimBoard,
    gnss: Gnss,
    display: Option<Display>,
    receiver_line: Line,
    bus: Option<BusLine>,
    /// End of the last step.
    stepped_us: u64,
    now_us: u64,
    end_us: u64,
    events: Vec<(f64, Event)>,
    /// Teeth that have passed so far.
    passed: [u64; 3],
    begun: Option<Snapshot>,
    /// Mark times by pass and end.
    marks_us: Vec<[Option<u64>; 2]>,
    passes: Vec<TruthPass>,
}

impl Simulation {
    /// A job at its start.
    #[must_use]
    pub fn new(scenario: &Scenario, seed: u64) -> Self {
        let vehicle = Vehicle::new(scenario, seed);
        let end_us = (libm::ceil(vehicle.drive.end_s * 1e6) as u64).next_multiple_of(STEP_US);
        let baud = scenario.receiver.baud;
        let values = (vehicle.wheel_per_m() * 100.0, vehicle.radar_per_m() * 100.0);
        let bus = BusLine::of(scenario, values, seed);
        let display = scenario.terminal.map(|setup| Display::new(setup, &vehicle, seed));
        Self {
            seed,
            bus,
            vehicle,
            board: SimBoard::new(scenario, seed),
            gnss: Gnss::new(scenario, seed),
            display,
            receiver_line: Line::new(Port::Receiver, baud, &scenario.faults, seed),
            stepped_us: 0,
            now_us: 0,
            end_us,
            events: Vec::new(),
            passed: [0; 3],
            begun: None,
            marks_us: vec![[None; 2]; scenario.passes as usize],
            passes: Vec::new(),
            scenario: scenario.clone(),
        }
    }

    /// Simulates up to `sim_us` and appends what came out of both lines, in order of time.
    ///
    /// Steps are finished as a whole, so the last chunks before `sim_us` may come with the next
    /// call. After the end of the job the tractor stands and everything goes on.
    pub fn advance_to(&mut self, sim_us: u64, out: &mut Vec<Emission>) {
        while self.stepped_us + STEP_US <= sim_us {
            self.step();
        }
        self.now_us = self.now_us.max(sim_us);
        loop {
            let next = [
                (self.board.next_us(), Port::Board),
                (self.receiver_line.next_us(), Port::Receiver),
                (self.bus.as_ref().and_then(BusLine::next_us), Port::Bus),
            ];
            // Of equals the first.
            let due = next.into_iter().filter_map(|(us, port)| Some((us?, port)));
            let Some((us, port)) = due.min_by_key(|(us, _)| *us) else { return };
            if us > self.stepped_us {
                return;
            }
            out.extend(match port {
                Port::Board => self.board.take(),
                Port::Receiver => self.receiver_line.take(),
                Port::Bus => self.bus.as_mut().and_then(BusLine::take),
            });
        }
    }

    /// Bytes from the host to the board, arriving now.
    pub fn board_input(&mut self, bytes: &[u8]) {
        self.board.receive(self.stepped_us, bytes);
    }

    /// Simulated time asked for last, microseconds since the start.
    #[must_use]
    pub const fn now_us(&self) -> u64 {
        self.now_us
    }

    /// The job has come to its end.
    #[must_use]
    pub const fn finished(&self) -> bool {
        self.now_us >= self.end_us
    }

    /// When the job ends, microseconds since the start.
    #[must_use]
    pub const fn end_us(&self) -> u64 {
        self.end_us
    }

    /// UTC at simulated time 0, Unix nanoseconds.
    #[must_use]
    pub const fn start_utc_ns(&self) -> i64 {
        self.scenario.start_utc_ns
    }

    /// Identity of the board.
    #[must_use]
    pub const fn board_id(&self) -> u64 {
        self.board.board_id()
    }

    /// The board blinks to show which one it is.
    #[must_use]
    pub const fn board_blinks(&self) -> bool {
        self.board.blinking()
    }

    /// What the tractor is doing, in words.
    #[must_use]
    pub fn activity(&self) -> String {
        let now_s = self.now_us as f64 * 1e-6;
        let activities = &self.vehicle.drive.activities;
        let after = activities.partition_point(|(from_s, _)| *from_s <= now_s);
        activities.get(after.saturating_sub(1)).map_or_else(String::new, |(_, text)| text.clone())
    }

    /// What the terminal shows now, in words, where there is one.
    #[must_use]
    pub fn shown(&self) -> Option<String> {
        self.display.as_ref().map(|display| display.words(self.stepped_us))
    }

    /// What was keyed into the terminal and what was in force before, where there is one.
    #[must_use]
    pub fn keyed_in(&self) -> Option<KeyedIn> {
        self.display.as_ref().map(Display::keyed_in)
    }

    /// What really happened so far.
    #[must_use]
    pub fn truth(&self) -> Truth {
        let course_m = self.vehicle.course_m();
        let slope = self.scenario.slope;
        Truth {
            scenario: self.scenario.name.clone(),
            seed: self.seed,
            start_utc_ns: self.scenario.start_utc_ns,
            end_us: self.end_us,
            wheel_impulses_per_100m: self.vehicle.wheel_per_m() * 100.0,
            radar_impulses_per_100m: self.vehicle.radar_per_m() * 100.0,
            pto_per_rev: self.scenario.pto_per_rev,
            pto_rpm: self.scenario.pto_rpm,
            course_m,
            height_difference_m: course_m * slope / libm::sqrt(1.0 + slope * slope),
            slope,
            heading_deg: self.scenario.heading_deg,
            lever_arm: self.scenario.lever_arm,
            tag_lag_s: self.scenario.receiver.tag_lag_s,
            board_drift_ppm: self.scenario.board_drift_ppm,
            board_id: self.board.board_id(),
            terminal: self.display.as_ref().map(Display::truth),
            passes: self.passes.clone(),
        }
    }

    fn step(&mut self) {
        let (from_us, to_us) = (self.stepped_us, self.stepped_us + STEP_US);
        // Bounces may have been left over from the step before.
        let events = &mut self.events;
        self.vehicle.step(from_us, to_us, &mut |at_us, channel, edge| {
            events.push((at_us, Event::Edge(channel, edge)));
        });
        let planned = self.vehicle.happenings(from_us, to_us);
        events.extend(planned.map(|(at_us, what)| (at_us, Event::Planned(what))));
        self.regular(from_us, to_us);
        self.faults(from_us, to_us);
        self.events.sort_by(|a, b| a.0.total_cmp(&b.0));
        let due = self.events.partition_point(|(at_us, _)| *at_us < to_us as f64);
        let later = self.events.split_off(due);
        for (at_us, event) in std::mem::replace(&mut self.events, later) {
            self.handle(at_us, event);
        }
        self.board.run_until(to_us - 1);
        self.bus(from_us, to_us);
        self.stepped_us = to_us;
    }

    /// Epochs of the receiver and its pulse per second, on the grid of UTC.
    fn regular(&mut self, from_us: u64, to_us: u64) {
        let receiver = &self.scenario.receiver;
        let mut grid = |period_us: u64, event: Event| {
            let start_us = self.scenario.start_utc_ns.div_euclid(1_000);
            // Both are small against 2^63: periods are at most a second.
            let phase_us = start_us.rem_euclid(period_us as i64) as u64;
            let at_us = (from_us + phase_us).next_multiple_of(period_us) - phase_us;
            if at_us < to_us {
                self.events.push((at_us as f64, event));
            }
        };
        grid(1_000_000 / u64::from(receiver.rate_hz.clamp(1, 100)), Event::Epoch);
        if self.scenario.pps {
            grid(1_000_000, Event::Pps);
        }
    }

    fn faults(&mut self, from_us: u64, to_us: u64) {
        for fault in &self.scenario.faults {
            let (at_s, event) = match *fault {
                Fault::BoardReset { at_s, boot_s } => (at_s, Event::Reset { boot_s }),
                Fault::DriftStep { at_s, ppm } => (at_s, Event::Drift { ppm }),
                _ => continue,
            };
            let at_us = at_s * 1e6;
            if (from_us as f64..to_us as f64).contains(&at_us) {
                self.events.push((at_us, event));
            }
        }
    }

    fn handle(&mut self, at_us: f64, event: Event) {
        let now_us = libm::floor(at_us) as u64;
        match event {
            Event::Edge(channel, edge) => {
                if edge != Edge::Bounce {
                    self.passed[channel.index()] += 1;
                }
                if edge != Edge::Missed {
                    self.board.edge(now_us, channel);
                }
                if let (Edge::Seen, Some(display)) = (edge, &mut self.display) {
                    display.edge(at_us, channel);
                }
            }
            Event::Planned(what) => self.planned(at_us, now_us, what),
            Event::Epoch => {
                let utc_ns = self.scenario.start_utc_ns + now_us as i64 * 1_000;
                let fix = self.gnss.epoch(&self.vehicle, now_us, utc_ns);
                let ready_us = now_us + (self.scenario.receiver.latency_s * 1e6) as u64;
                self.receiver_line.send(ready_us, &self.gnss.text(&fix));
            }
            Event::Pps => self.board.pps(now_us),
            Event::Reset { boot_s } => self.board.reset(now_us, boot_s),
            Event::Drift { ppm } => self.board.set_drift(now_us, ppm),
        }
    }

    fn planned(&mut self, at_us: f64, now_us: u64, what: Happening) {
        match what {
            Happening::Peg { pass, end } => {
                let (travelled_m, theoretical_m) = self.vehicle.travel_at(at_us);
                let axle_m = self.vehicle.axle_at(at_us * 1e-6);
                let impulses = self.passed;
                let here = Snapshot { at_us, travelled_m, theoretical_m, axle_m, impulses };
                match end {
                    End::Start => self.begun = Some(here),
                    End::Finish => {
                        if let Some(begun) = self.begun.take() {
                            self.passes.push(pass_between(pass, begun, here));
                        }
                        self.note_marks(pass);
                    }
                }
            }
            Happening::Press { pass, end, source } => self.press(now_us, pass, end, source),
            Happening::Working(on) => self.board.working(now_us, on),
            Happening::Look(pass) => {
                if let Some(display) = &mut self.display {
                    display.look(now_us, pass);
                }
            }
        }
    }

    fn press(&mut self, now_us: u64, pass: u32, end: End, source: MarkSource) {
        if self.scenario.button {
            self.board.mark(now_us, source);
            self.marks_us[pass as usize - 1][usize::from(end == End::Finish)] = Some(now_us);
            // On rolling passes a press may come before or after the peg.
            self.note_marks(pass);
        }
    }

    fn note_marks(&mut self, pass: u32) {
        if let Some(done) = self.passes.get_mut(pass as usize - 1) {
            [done.start_mark_us, done.finish_mark_us] = self.marks_us[pass as usize - 1];
        }
    }
}

fn pass_between(number: u32, begun: Snapshot, ended: Snapshot) -> TruthPass {
    let travelled_m = ended.travelled_m - begun.travelled_m;
    let theoretical_m = ended.theoretical_m - begun.theoretical_m;
    let apart: [f64; 3] = std::array::from_fn(|axis| ended.axle_m[axis] - begun.axle_m[axis]);
    TruthPass {
        number,
        direction: if number % 2 == 1 { "out" } else { "back" },
        start_us: libm::floor(begun.at_us) as u64,
        finish_us: libm::floor(ended.at_us) as u64,
        start_mark_us: None,
        finish_mark_us: None,
        wheel_path_m: travelled_m,
        chord_m: libm::sqrt(apart.iter().map(|d| d * d).sum()),
        impulses: std::array::from_fn(|channel| ended.impulses[channel] - begun.impulses[channel]),
        slip: 1.0 - travelled_m / theoretical_m,
    }
}
