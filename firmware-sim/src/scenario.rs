//! What is simulated: every number of the tractor, the sensors, the receiver and the faults.
//!
//! This is the only place with numbers; the rest of the simulator takes them from here. The
//! tractor, the field and the faults are invented.

mod bench;
mod faulty;
mod headland;
mod names;
mod proof;
mod steady;

pub use steady::PtoStep;

use crate::bus::BusTractor;
use crate::faults::Fault;
use crate::receiver::{Receiver, ReceiverClass};
use crate::terminal::Terminal;
use crate::test_pin::BenchSetup;

/// Where the antenna sits against the middle of the rear axle.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct LeverArm {
    /// To the right of the middle of the axle, metres.
    pub right_m: f64,
    /// Ahead of the axle, metres.
    pub ahead_m: f64,
    /// Above the ground, metres.
    pub height_m: f64,
}

/// How the pegs are passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Driving {
    /// Stopped beside both pegs; marks given at standstill by the button.
    Standing,
    /// Never stopping; a light gate gives the marks as the axle passes the pegs.
    RollingGate,
    /// Never stopping; the driver presses the button as the axle passes the pegs.
    RollingButton,
    /// Straight ahead, one steady speed after another; no pegs, no marks.
    Speeds,
    /// Standing all the time; the PTO shaft turns as `pto_steps` say.
    Parked,
    /// No pegs: straight, as many full circles to the left as there are passes, straight, as many
    /// to the right, straight.
    Circles,
}

/// A stretch of the course on which the wheels slip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlipZone {
    /// Horizontal metres from the start peg (of the outward direction).
    pub from_m: f64,
    /// Where it ends.
    pub to_m: f64,
    /// 1 - actual / theoretical travel.
    pub slip: f64,
}

/// The parameters of one simulated job.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// Its name; written into the truth.
    pub name: String,
    /// The satellite receiver.
    pub receiver: Receiver,
    /// Passes driven, alternately out and back.
    pub passes: u32,
    /// How the pegs are passed.
    pub driving: Driving,
    /// Speed on the course, metres per second.
    pub cruise_m_s: f64,
    /// The speeds of [`Driving::Speeds`], metres per second; 0 is a stop.
    pub speed_steps_m_s: Vec<f64>,
    /// How long each of them is held, seconds.
    pub speed_hold_s: f64,
    /// Greatest speed while turning, metres per second.
    pub turn_m_s: f64,
    /// Acceleration and braking, metres per second squared.
    pub acceleration_m_s2: f64,
    /// Time at standstill beside each peg, seconds.
    pub rest_s: f64,
    /// Rest before the first pass, so that another program can be connected, seconds.
    pub lead_in_s: f64,
    /// When in the rest the button is pressed, as a share of the rest.
    pub mark_at_share: f64,
    /// Nominal slope length from peg to peg, metres.
    pub course_m: f64,
    /// Each peg stands off its nominal place by up to this much (uniform half-width), metres.
    pub peg_error_m: f64,
    /// Each stop misses the peg by up to this much (uniform half-width), metres.
    pub stop_error_m: f64,
    /// Delay of a button press after the axle passed the peg on a rolling pass: mean, seconds.
    pub reaction_mean_s: f64,
    /// Its standard deviation, seconds.
    pub reaction_sd_s: f64,
    /// Straight beyond each peg before the turn, metres; lengthened when speed demands it.
    pub run_out_m: f64,
    /// Radius of the arcs of the turn, metres.
    pub turn_radius_m: f64,
    /// Amplitude of the weave across the course, metres.
    pub weave_amplitude_m: f64,
    /// Length of one weave, metres.
    pub weave_length_m: f64,
    /// Standard deviation with which each pass misses the line, metres.
    pub line_error_m: f64,
    /// Further wheel slip while turning sharper than a radius of 20 m.
    pub turn_slip: f64,
    /// Rise per horizontal metre along the outward direction.
    pub slope: f64,
    /// Standard deviation of roll and of pitch from unevenness, degrees.
    pub sway_deg: f64,
    /// Length over which roll and pitch forget themselves, metres.
    pub sway_length_m: f64,
    /// Place of the antenna.
    pub lever_arm: LeverArm,
    /// Geodetic latitude of the nominal start peg, degrees.
    pub latitude_deg: f64,
    /// Longitude of the nominal start peg, degrees.
    pub longitude_deg: f64,
    /// Ellipsoidal height of the ground there, metres.
    pub ellipsoidal_height_m: f64,
    /// Geoid separation printed by the receiver, metres.
    pub geoid_separation_m: f64,
    /// Direction of the course, degrees clockwise from true north.
    pub heading_deg: f64,
    /// UTC at the start, Unix nanoseconds.
    pub start_utc_ns: i64,
    /// Wheel impulses per 100 m at zero slip before the seed's variation.
    pub wheel_per_100m: f64,
    /// Radar impulses per 100 m before the seed's variation.
    pub radar_per_100m: f64,
    /// Half-width of the seed's variation of both, as a share.
    pub figure_spread: f64,
    /// Teeth of the wheel's impulse ring.
    pub wheel_teeth: u32,
    /// Standard deviation of the tooth positions, as a share of the pitch.
    pub tooth_error: f64,
    /// A tooth that is missing from the ring.
    pub missing_tooth: Option<u32>,
    /// An extra impulse half a pitch after this tooth.
    pub extra_tooth: Option<u32>,
    /// Wheel slip everywhere.
    pub base_slip: f64,
    /// Further slip for each metre per second squared of acceleration, s²/m.
    pub slip_per_m_s2: f64,
    /// Further slip on stretches of the course.
    pub slip_zones: Vec<SlipZone>,
    /// Below this speed the wheel sensor is silent, metres per second.
    pub wheel_least_m_s: f64,
    /// Standard deviation of the radar's momentary gain, as a share.
    pub radar_jitter: f64,
    /// Its time constant, seconds.
    pub radar_jitter_s: f64,
    /// Below this speed the radar is silent, metres per second.
    pub radar_least_m_s: f64,
    /// Impulses per second the radar makes at standstill.
    pub radar_standstill_hz: f64,
    /// PTO impulses per revolution.
    pub pto_per_rev: u32,
    /// PTO speed, revolutions per minute; 0: standing.
    pub pto_rpm: f64,
    /// PTO speeds one after another, rising in time; `pto_rpm` holds before the first.
    pub pto_steps: Vec<PtoStep>,
    /// Standard deviation of the PTO speed, as a share.
    pub pto_wander: f64,
    /// The implement's terminal, where one is looked at.
    pub terminal: Option<Terminal>,
    /// The implement is put to work on the course.
    pub implement: bool,
    /// A mark button (or gate) is wired to the board.
    pub button: bool,
    /// The receiver's pulse per second is wired to the board.
    pub pps: bool,
    /// The board's clock gains this much, parts per million.
    pub board_drift_ppm: f64,
    /// Reading of the board's 32-bit timer at the start.
    pub timer_start: u32,
    /// Report period of the board, microseconds.
    pub report_period_us: u32,
    /// Least edge interval of each input, microseconds.
    pub min_edge_interval_us: [u32; 3],
    /// Speed of the board's line, bits per second.
    pub board_baud: u32,
    /// Bytes the board can hold for sending.
    pub board_buffer_bytes: usize,
    /// Supply voltage of the board, millivolts.
    pub supply_mv: u16,
    /// A control unit on the implement bus, and an adapter that listens there.
    pub bus: Option<BusTractor>,
    /// What the board's test pin is bridged to, and what is wrong with the board.
    pub bench: BenchSetup,
    /// What goes wrong.
    pub faults: Vec<Fault>,
}

/// 2026-05-01T08:00:00Z.
const START_UTC_NS: i64 = 1_777_622_400_000_000_000;

/// Open sea: an invented field lies in nobody's parish.
const LONGITUDE_DEG: f64 = -30.1;

impl Default for Scenario {
    fn default() -> Self {
        Self {
            name: "plain".to_owned(),
            receiver: Receiver::of_class(ReceiverClass::Rtk),
            passes: 6,
            driving: Driving::Standing,
            cruise_m_s: 2.2,
            speed_steps_m_s: Vec::new(),
            speed_hold_s: 12.0,
            turn_m_s: 1.8,
            acceleration_m_s2: 0.7,
            rest_s: 10.0,
            lead_in_s: 0.0,
            mark_at_share: 0.6,
            course_m: 100.0,
            peg_error_m: 0.0,
            stop_error_m: 0.03,
            reaction_mean_s: 0.05,
            reaction_sd_s: 0.08,
            run_out_m: 12.0,
            turn_radius_m: 7.0,
            weave_amplitude_m: 0.02,
            weave_length_m: 20.0,
            line_error_m: 0.0,
            turn_slip: 0.0,
            slope: 0.004,
            sway_deg: 0.2,
            sway_length_m: 1.5,
            lever_arm: LeverArm { right_m: 0.12, ahead_m: 0.85, height_m: 2.9 },
            latitude_deg: 52.2,
            longitude_deg: LONGITUDE_DEG,
            ellipsoidal_height_m: 62.0,
            geoid_separation_m: 45.9,
            heading_deg: 57.0,
            start_utc_ns: START_UTC_NS,
            wheel_per_100m: 13_004.6,
            radar_per_100m: 13_061.3,
            figure_spread: 0.03,
            wheel_teeth: 60,
            tooth_error: 0.02,
            missing_tooth: None,
            extra_tooth: None,
            base_slip: 0.0,
            slip_per_m_s2: 0.001,
            slip_zones: Vec::new(),
            wheel_least_m_s: 0.0,
            radar_jitter: 0.004,
            radar_jitter_s: 0.1,
            radar_least_m_s: 0.05,
            radar_standstill_hz: 0.1,
            pto_per_rev: 6,
            pto_rpm: 540.0,
            pto_steps: Vec::new(),
            pto_wander: 0.003,
            terminal: None,
            implement: true,
            button: true,
            pps: false,
            board_drift_ppm: 18.0,
            timer_start: 0,
            report_period_us: 20_000,
            min_edge_interval_us: [200, 200, 2_000],
            board_baud: 115_200,
            board_buffer_bytes: 1_024,
            supply_mv: 12_600,
            bus: None,
            bench: BenchSetup::default(),
            faults: Vec::new(),
        }
    }
}

impl Scenario {
    /// The scenario of a name, or `None` if there is none.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        if let Some(proof) = Self::proof(name) {
            return Some(proof);
        }
        let mut s = Self { name: name.to_owned(), ..Self::default() };
        match name {
            "plain" => {}
            "corrected" => s.receiver = Receiver::of_class(ReceiverClass::Corrected),
            "standalone" => s.receiver = Receiver::of_class(ReceiverClass::Standalone),
            "rolling-gate" => s.driving = Driving::RollingGate,
            "rolling-button" => s.driving = Driving::RollingButton,
            "weaving" => s.weave_amplitude_m = 0.35,
            "slope" => s.slope = 0.045,
            "wide-antenna" => {
                s.lever_arm = LeverArm { right_m: -0.65, ahead_m: 2.1, height_m: 3.2 };
                s.sway_deg = 0.8;
            }
            "field" => {
                s.base_slip = 0.06;
                s.slip_zones = vec![SlipZone { from_m: 35.0, to_m: 60.0, slip: 0.12 }];
                s.weave_amplitude_m = 0.1;
            }
            "wet-headland" => s.wet_headland(),
            "timer-wrap" => s.timer_start = u32::MAX - 35_000_000,
            "no-button" => s.button = false,
            "pps" => s.pps = true,
            "circles" => {
                s.driving = Driving::Circles;
                s.passes = 4;
            }
            "missing-tooth" => s.missing_tooth = Some(17),
            "speed-steps" => s.steps_of_speed(),
            "check" => s.steps_of_check(),
            "pto-speeds" => s.steps_of_pto(),
            "bench" => s.on_bench(),
            "bus" => s.bus = Some(BusTractor::default()),
            "bus-full" => s.bus = Some(BusTractor::full()),
            _ => s.faults = Self::faults_of(name)?,
        }
        Some(s)
    }

    /// The same scenario with another class of receiver.
    #[must_use]
    pub fn with_receiver(mut self, class: ReceiverClass) -> Self {
        self.receiver = Receiver::of_class(class);
        self
    }

    /// Horizontal distance between the nominal places of the pegs.
    pub(crate) fn horizontal_course_m(&self) -> f64 {
        self.course_m / libm::sqrt(1.0 + self.slope * self.slope)
    }

    /// Straight beyond each peg, long enough to brake from the speed on the course.
    pub(crate) fn run_out_needed_m(&self) -> f64 {
        let braking_m = self.cruise_m_s * self.cruise_m_s / (2.0 * self.acceleration_m_s2);
        self.run_out_m.max(braking_m + 6.0)
    }
}
