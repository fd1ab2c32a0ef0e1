//! The tractor on its way: travelled path, wheel slip, and the edges its sensors give.

use crate::drive::{Drive, Happening};
use crate::faults::Fault;
use crate::path::{Layout, Path};
use crate::prng::{Markov, Prng};
use crate::scenario::{Driving, Scenario};
use crate::sensors::{Edge, Input, Shape};
use trundle_protocol::units::Channel;

/// How often the slow noise of radar and PTO is drawn again, microseconds.
const NOISE_STEP_US: u64 = 20_000;

/// Sharper than this the wheels turn a corner, 1/metre.
const TURNING_PER_M: f64 = 0.05;

/// The tractor between two instants.
#[derive(Clone, Debug)]
pub(crate) struct Vehicle {
    scenario: Scenario,
    layout: Layout,
    course_m: f64,
    pub(crate) path: Path,
    pub(crate) drive: Drive,
    wheel_per_m: f64,
    radar_per_m: f64,
    inputs: [Input; 3],
    radar_gain: Markov,
    pto_speed: Markov,
    radar_now: f64,
    pto_now: f64,
    random: Prng,
    s_m: f64,
    /// Times and travelled paths at both ends of the last step.
    span_us: (f64, f64),
    travelled_m: (f64, f64),
    theoretical_m: (f64, f64),
}

impl Vehicle {
    pub(crate) fn new(scenario: &Scenario, seed: u64) -> Self {
        let mut random = Prng::new(seed, "tractor");
        let mut vary = |nominal: f64| nominal * (1.0 + random.within(scenario.figure_spread));
        let wheel_per_m = vary(scenario.wheel_per_100m) / 100.0;
        let radar_per_m = vary(scenario.radar_per_100m) / 100.0;
        let flat = 1.0 / libm::sqrt(1.0 + scenario.slope * scenario.slope);
        let pegs_m: [f64; 2] = std::array::from_fn(|_| random.within(scenario.peg_error_m) * flat);
        let layout = Layout {
            course_m: scenario.horizontal_course_m(),
            run_out_m: scenario.run_out_needed_m(),
            turn_radius_m: scenario.turn_radius_m,
            weave_amplitude_m: scenario.weave_amplitude_m,
            weave_length_m: scenario.weave_length_m,
            passes: scenario.passes_of_path(),
        };
        let wheel = Shape {
            teeth: scenario.wheel_teeth,
            error: scenario.tooth_error,
            missing: scenario.missing_tooth,
            extra: scenario.extra_tooth,
        };
        let radar = Shape { teeth: 1, ..Shape::default() };
        let pto = Shape { teeth: scenario.pto_per_rev, ..Shape::default() };
        let inputs = [(Channel::Wheel, wheel), (Channel::Radar, radar), (Channel::Pto, pto)]
            .map(|(channel, shape)| Input::new(channel, shape, &scenario.faults, seed));
        let mut line = Prng::new(seed, "line");
        let path = match scenario.driving {
            Driving::Circles => Path::circles(layout),
            _ => Path::new(layout, || scenario.line_error_m * line.normal()),
        };
        let drive = Drive::plan(scenario, layout, pegs_m, seed);
        let s_m = drive.at(0.0).s_m;
        Self {
            layout,
            course_m: scenario.course_m + (pegs_m[1] - pegs_m[0]) / flat,
            path,
            drive,
            wheel_per_m,
            radar_per_m,
            inputs,
            radar_gain: Markov::new(&mut random),
            pto_speed: Markov::new(&mut random),
            radar_now: 1.0,
            pto_now: 1.0,
            random,
            s_m,
            span_us: (0.0, 0.0),
            travelled_m: (0.0, 0.0),
            theoretical_m: (0.0, 0.0),
            scenario: scenario.clone(),
        }
    }

    /// Wheel impulses for each metre of slope path at zero slip.
    pub(crate) fn wheel_per_m(&self) -> f64 {
        self.wheel_per_m * self.inputs[0].impulses_per_pitch()
    }

    pub(crate) fn radar_per_m(&self) -> f64 {
        self.radar_per_m
    }

    /// Actual and theoretical travel at a time inside the last step.
    pub(crate) fn travel_at(&self, time_us: f64) -> (f64, f64) {
        let (from, to) = self.span_us;
        let share = if to > from { (time_us - from) / (to - from) } else { 1.0 };
        let between = |(a, b): (f64, f64)| a + (b - a) * share;
        (between(self.travelled_m), between(self.theoretical_m))
    }

    /// Place of the axle on the ground at a time: along, across and up, metres.
    pub(crate) fn axle_at(&self, time_s: f64) -> [f64; 3] {
        let pose = self.path.at(self.drive.at(time_s).s_m);
        [pose.x_m, pose.y_m, self.scenario.slope * pose.x_m]
    }

    /// Slope distance from peg to peg.
    pub(crate) fn course_m(&self) -> f64 {
        self.course_m
    }

    /// Moves on from one time to the next and reports each edge.
    pub(crate) fn step(
        &mut self,
        from_us: u64,
        to_us: u64,
        tell: &mut impl FnMut(f64, Channel, Edge),
    ) {
        let (from, span) = (from_us as f64, (to_us - from_us) as f64);
        if from_us.is_multiple_of(NOISE_STEP_US) {
            self.draw_noise();
        }
        let motion = self.drive.at(to_us as f64 * 1e-6);
        let ds = motion.s_m - self.s_m;
        let (travelled, theoretical) = if ds.abs() > 0.0 {
            self.travel(0.5 * (motion.s_m + self.s_m), ds.abs(), motion.a_m_s2)
        } else {
            (0.0, 0.0)
        };
        self.s_m = motion.s_m;
        self.span_us = (from, to_us as f64);
        self.travelled_m = (self.travelled_m.1, self.travelled_m.1 + travelled);
        self.theoretical_m = (self.theoretical_m.1, self.theoretical_m.1 + theoretical);
        let [wheel, radar, pto] = &mut self.inputs;
        // Some sensors give a voltage that falls with the speed, and none that counts below one.
        let heard = theoretical >= self.scenario.wheel_least_m_s * span * 1e-6;
        wheel.turn(theoretical * self.wheel_per_m, from, span, &mut |at, edge| match edge {
            Edge::Bounce if !heard => {}
            edge => tell(at, Channel::Wheel, if heard { edge } else { Edge::Missed }),
        });
        let mut tell_radar = |at: f64, edge: Edge| tell(at, Channel::Radar, edge);
        if travelled > self.scenario.radar_least_m_s * span * 1e-6 {
            let impulses = travelled * self.radar_per_m * self.radar_now;
            radar.turn(impulses, from, span, &mut tell_radar);
        } else if self.random.chance(self.scenario.radar_standstill_hz * span * 1e-6) {
            radar.stray(from + span * self.random.unit(), &mut tell_radar);
        }
        let per_us =
            self.scenario.pto_rpm_at(from * 1e-6) / 60e6 * f64::from(self.scenario.pto_per_rev);
        pto.turn(per_us * self.pto_now * span, from, span, &mut |at, edge| {
            tell(at, Channel::Pto, edge);
        });
    }

    fn draw_noise(&mut self) {
        let (scenario, step_s) = (&self.scenario, NOISE_STEP_US as f64 * 1e-6);
        let gain = self.radar_gain.advance(step_s, scenario.radar_jitter_s, &mut self.random);
        self.radar_now = (1.0 + scenario.radar_jitter * gain).max(0.0);
        // The governor of the engine lets the shaft wander over seconds.
        let speed = self.pto_speed.advance(step_s, 4.0, &mut self.random);
        self.pto_now = (1.0 + scenario.pto_wander * speed).max(0.0);
    }

    /// Actual and theoretical travel over a step of `ds_m` about `s_m`.
    fn travel(&self, s_m: f64, ds_m: f64, a_m_s2: f64) -> (f64, f64) {
        let pose = self.path.at(s_m);
        let rise = self.scenario.slope * libm::cos(pose.heading_rad);
        let travelled = ds_m * pose.stretch * libm::sqrt(1.0 + rise * rise);
        let turning = pose.curvature_per_m.abs() > TURNING_PER_M;
        let more = if turning { self.scenario.turn_slip } else { 0.0 };
        let slip = more + self.slip(s_m, pose.x_m, a_m_s2);
        (travelled, travelled / (1.0 - slip))
    }

    fn slip(&self, s_m: f64, x_m: f64, a_m_s2: f64) -> f64 {
        let mut slip = self.scenario.base_slip + self.scenario.slip_per_m_s2 * a_m_s2;
        for zone in &self.scenario.slip_zones {
            if (zone.from_m..zone.to_m).contains(&x_m) {
                slip += zone.slip;
            }
        }
        for fault in &self.scenario.faults {
            if let Fault::PassSlip { pass, slip: more } = *fault {
                let start_m = self.layout.start_peg_s_m(pass.saturating_sub(1));
                if (start_m..start_m + self.layout.course_m).contains(&s_m) {
                    slip += more;
                }
            }
        }
        slip.clamp(-0.5, 0.95)
    }

    /// What is planned from `from_us` up to but without `to_us`.
    pub(crate) fn happenings(
        &self,
        from_us: u64,
        to_us: u64,
    ) -> impl Iterator<Item = (f64, Happening)> + '_ {
        let all = &self.drive.happenings;
        let first = all.partition_point(|(at_s, _)| at_s * 1e6 < from_us as f64);
        let end_us = to_us as f64;
        all[first..]
            .iter()
            .map(|&(at_s, what)| (at_s * 1e6, what))
            .take_while(move |(at_us, _)| *at_us < end_us)
    }
}
