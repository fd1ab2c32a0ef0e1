//! Simulated days on which things go wrong: a whole job each, with faults drawn from a seed, and
//! the simulator's truth to judge the result by.
//!
//! Faults come in the first half of the job, most of them for a while only, so that the last
//! passes show whether everything is well again afterwards.

mod judge;
mod kinds;
mod line;
mod mixed;

pub use judge::{Lived, WRONG_U, Worth};
pub use kinds::{KINDS, Kind};
pub use line::{Harm, spoil};

use crate::{Draws, HOST_START_NS, plain_course, records, replay, work_session};
use mixed::Again;
use trundle_core::capture::{Entry, HostMark, HostMarkAction, Record, WallClock};
use trundle_core::course::tape::CourseSpec;
use trundle_protocol::units::Channel;
use trundle_sim::{Driving, Fault, Port, ReceiverClass, Scenario, Simulation, Truth, record_all};

/// How often the wall clock is noted, seconds.
const WALL_S: f64 = 10.0;

/// A day before it is lived.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Its seed.
    pub seed: u64,
    /// What goes wrong.
    pub kinds: Vec<Kind>,
    scenario: Scenario,
    course: CourseSpec,
    harms: Vec<(Port, (u64, u64), Harm)>,
    wall_step: Option<(f64, f64)>,
    /// Pass and end of a press that is lost.
    lost_press: Option<(usize, usize)>,
    press_twice: Option<usize>,
    press_inside: Option<usize>,
    /// The board restarts in this pass, whose finish is not pressed any more.
    starts_over: Option<usize>,
    /// When the receiver's clock is set, microseconds, and by how many seconds.
    receiver_time: Option<(u64, i64)>,
    again: Option<Again>,
    /// From when to when each plug is in the other's place, microseconds.
    swapped_us: Option<(u64, u64)>,
    cut_us: Option<u64>,
    /// It is taken back again.
    noticed: bool,
    /// Everything that goes wrong has gone when the last passes begin.
    passes_over: bool,
}

impl Plan {
    /// The day of a number: each kind in turn, and on every third day a second one.
    #[must_use]
    pub fn new(day: u64, seed: u64) -> Self {
        let mut draws = Draws::new(seed ^ day.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let class = ReceiverClass::ALL[draws.below(3)];
        let mut s = Scenario::default().with_receiver(class);
        "day".clone_into(&mut s.name);
        s.cruise_m_s = 1.8 + 0.8 * draws.unit();
        s.heading_deg = 360.0 * draws.unit();
        s.slope = 0.01 * draws.symmetric();
        s.peg_error_m = 0.002;
        if draws.below(6) == 0 {
            s.driving = Driving::RollingGate;
        }
        let first = KINDS[(day % KINDS.len() as u64) as usize].0;
        let mut kinds = vec![first];
        let other = KINDS[draws.below(KINDS.len())].0;
        if first != Kind::Nothing
            && other != Kind::Nothing
            && other != first
            && day.is_multiple_of(3)
        {
            kinds.push(other);
        }
        let seed = draws.bits();
        let end_s = Simulation::new(&s, seed).end_us() as f64 * 1e-6;
        let mut plan = Self {
            seed,
            kinds: kinds.clone(),
            scenario: s,
            course: plain_course(100.0),
            harms: Vec::new(),
            wall_step: None,
            lost_press: None,
            press_twice: None,
            press_inside: None,
            starts_over: None,
            receiver_time: None,
            again: None,
            swapped_us: None,
            cut_us: None,
            noticed: false,
            passes_over: true,
        };
        for kind in kinds {
            plan.add(kind, end_s, &mut draws);
        }
        plan
    }

    fn add(&mut self, kind: Kind, end_s: f64, draws: &mut Draws) {
        let from_s = 20.0 + (0.4 * end_s - 20.0) * draws.unit();
        let mut lasting = |least_s: f64, most_s: f64| {
            let most_s = most_s.min(0.55 * end_s - from_s);
            (from_s, from_s + least_s + (most_s - least_s).max(0.0) * draws.unit())
        };
        let short = lasting(0.5, 8.0);
        let long = lasting(20.0, 150.0);
        let port = [Port::Board, Port::Receiver][draws.below(2)];
        let pass = 1 + draws.below(3) as u32;
        let rate = 10_f64.powf(-4.0 + 2.5 * draws.unit());
        let us = |(from_s, to_s): (f64, f64)| ((from_s * 1e6) as u64, (to_s * 1e6) as u64);
        let mut line = |span, port, harm| self.harms.push((port, us(span), harm));
        match kind {
            Kind::Nothing => {}
            Kind::BytesLost => line(long, port, Harm::Lose(rate)),
            Kind::BitsFlipped => line(long, port, Harm::Flip(rate)),
            Kind::BytesDoubled => line(long, port, Harm::Double(rate)),
            Kind::ZerosPutIn => line(long, port, Harm::Zeros(rate)),
            Kind::LineStalled => line(short, port, Harm::Stall),
            Kind::LineBunched => {
                line(long, port, Harm::Bunch(20_000 + draws.below(180_000) as u64));
            }
            Kind::BoardSilent => line(short, Port::Board, Harm::Silence),
            Kind::ReceiverSilent => line(short, Port::Receiver, Harm::Silence),
            Kind::PressLost => {
                let lost = (pass as usize - 1, draws.below(2));
                // Nothing tells that there was a press before the first that was seen.
                self.passes_over &= lost != (0, 0);
                self.lost_press = Some(lost);
            }
            Kind::PressInBetween => {
                self.press_inside = Some(pass as usize - 1);
                // One that nobody takes back leaves starts and finishes out of step.
                self.noticed = draws.below(2) == 0;
                self.passes_over &= self.noticed;
            }
            Kind::PressTwice => self.press_twice = Some(pass as usize - 1),
            Kind::WallClockStep => {
                let step_s = 10_f64.powf(4.0 * draws.unit()) * draws.symmetric().signum();
                self.wall_step = Some((from_s, step_s));
            }
            Kind::WrongTape => {
                let typed_m = [10.0, 50.0, 98.0, 99.0, 101.0, 102.0, 110.0, 1000.0];
                self.course = plain_course(typed_m[draws.below(typed_m.len())]);
                self.passes_over = false;
            }
            Kind::ResetAtPress
            | Kind::StartsOver
            | Kind::ReceiverTime
            | Kind::SentencesAgain
            | Kind::PlugsSwapped
            | Kind::CaptureCut => self.at_the_lines(kind, us(long), pass as usize - 1, draws),
            _ => self.at_the_tractor(kind, short, long, pass, draws),
        }
    }

    /// Faults that the simulator itself knows.
    fn at_the_tractor(
        &mut self,
        kind: Kind,
        (from_s, to_s): (f64, f64),
        long: (f64, f64),
        pass: u32,
        draws: &mut Draws,
    ) {
        let wheel = Channel::Wheel;
        let share = 10_f64.powf(-3.0 + 2.5 * draws.unit());
        let spell = |channel, missed, false_after| {
            let (from_s, to_s) = long;
            Fault::EdgeSpell { channel, from_s, to_s, missed, false_after }
        };
        let faults = &mut self.scenario.faults;
        match kind {
            Kind::BoardReset => {
                faults.push(Fault::BoardReset { at_s: from_s, boot_s: 0.05 + 2.0 * draws.unit() });
            }
            Kind::EdgesMissed => faults.push(spell(wheel, share, 0.0)),
            Kind::EdgesFalse => faults.push(spell(wheel, 0.0, share)),
            Kind::RadarMissed => faults.push(spell(Channel::Radar, share, 0.0)),
            Kind::Bounce => {
                self.passes_over = false;
                faults.push(Fault::Bounce { channel: wheel, probability: share });
            }
            Kind::ContactBreaks => {
                self.passes_over = false;
                let (probability, lasts_s) = (0.001 * draws.unit(), 0.02 + 0.3 * draws.unit());
                faults.push(Fault::BreakingContact { channel: wheel, probability, lasts_s });
            }
            Kind::NoFix => faults.push(Fault::Quality { from_s, to_s, quality: 0 }),
            Kind::FixFrozen => faults.push(Fault::FrozenFix { from_s, to_s }),
            Kind::FixJump => {
                let far_m = 10_f64.powf(-1.0 + 3.0 * draws.unit());
                let (sin, cos) = (std::f64::consts::TAU * draws.unit()).sin_cos();
                faults.push(Fault::FixJump { from_s, to_s, by_m: [far_m * cos, far_m * sin] });
            }
            Kind::QualityFlaps => {
                let mut at_s = long.0;
                while at_s < long.1 {
                    let next_s = at_s + 1.0 + 10.0 * draws.unit();
                    let quality = [1, 2, 4, 5][draws.below(4)];
                    faults.push(Fault::Quality { from_s: at_s, to_s: next_s, quality });
                    at_s = next_s;
                }
            }
            Kind::WrongPeg => {
                // Along the course lie other pegs: of sections, of a course of other length.
                let off_m = [-50.0, -20.0, -10.0, -5.0, -2.0, -1.0, -0.5, 0.5, 1.0, 2.0, 4.0];
                // A gate stands where it stands.
                self.scenario.driving = Driving::Standing;
                let off_m = off_m[draws.below(off_m.len())];
                faults.push(Fault::WrongPeg { pass, off_m });
            }
            Kind::SlipInOnePass => {
                faults.push(Fault::PassSlip { pass, slip: 0.002 + 0.08 * draws.unit() });
            }
            Kind::Rocking => {
                faults.push(Fault::Rocking { pass, amplitude_m: 0.02 + 0.2 * draws.unit() });
            }
            Kind::BoardClockStep => {
                faults.push(Fault::DriftStep { at_s: from_s, ppm: 200.0 * draws.symmetric() });
            }
            _ => {}
        }
    }

    /// The same day without anything that goes wrong.
    #[must_use]
    pub fn sound(&self) -> Self {
        let mut sound = self.clone();
        sound.kinds = vec![Kind::Nothing];
        sound.scenario.faults.clear();
        sound.harms.clear();
        sound.course = plain_course(100.0);
        (sound.lost_press, sound.press_twice, sound.press_inside) = (None, None, None);
        (sound.starts_over, sound.receiver_time, sound.again) = (None, None, None);
        (sound.swapped_us, sound.cut_us) = (None, None);
        sound.scenario.button = true;
        sound.wall_step = None;
        sound
    }

    /// Live it.
    #[must_use]
    pub fn live(&self) -> Lived {
        let (mut emissions, truth) = record_all(&self.scenario, self.seed);
        let mut draws = Draws::new(self.seed);
        let mut harms = self.harms.clone();
        if let Some((pass, end)) = self.lost_press {
            let pass = &truth.passes[pass];
            let at_us = [pass.start_mark_us, pass.finish_mark_us][end].unwrap_or(pass.start_us);
            harms.push((Port::Board, (at_us, at_us + 60_000), Harm::Silence));
        }
        for (port, span_us, harm) in harms {
            spoil(&mut emissions, port, span_us, harm, &mut draws);
        }
        self.on_the_lines(&mut emissions);
        let mut records = records(&emissions, truth.start_utc_ns, None);
        if let Some(cut_us) = self.cut_us {
            records.retain(|record| record.host_ns < HOST_START_NS + cut_us * 1000);
        }
        for (at_s, action) in self.typed(&truth, &mut draws) {
            let host_ns = host_ns(at_s);
            let mark = HostMark { key: host_ns, action, text: String::new() };
            put(&mut records, host_ns, Entry::HostMark(mark));
        }
        self.note_wall(&mut records, &truth);
        let session = replay(&records);
        let receiver_set_s = self.receiver_time.map_or(0, |(_, by_s)| by_s);
        Lived { work: work_session(&session, Some(&self.course)), truth, receiver_set_s }
    }

    /// What is pressed at the host, and when, seconds.
    fn typed(&self, truth: &Truth, draws: &mut Draws) -> Vec<(f64, HostMarkAction)> {
        let mut typed = Vec::new();
        if let Some(over) = self.starts_over {
            for (number, pass) in truth.passes.iter().enumerate() {
                typed.push((pass.start_us as f64 * 1e-6, HostMarkAction::Mark));
                if number != over {
                    typed.push((pass.finish_us as f64 * 1e-6, HostMarkAction::Mark));
                }
            }
        }
        if let Some(pass) = self.press_inside {
            let pass = &truth.passes[pass];
            let driven_us = (pass.finish_us - pass.start_us) as f64;
            let at_s = (pass.start_us as f64 + driven_us * (0.2 + 0.6 * draws.unit())) * 1e-6;
            typed.push((at_s, HostMarkAction::Mark));
            if self.noticed {
                typed.push((at_s + 1.0 + 2.0 * draws.unit(), HostMarkAction::Undo));
            }
        }
        if let Some(pass) = self.press_twice {
            let pass = &truth.passes[pass];
            let at_us = pass.finish_mark_us.unwrap_or(pass.finish_us);
            typed.push((at_us as f64 * 1e-6 + 0.05 + 0.3 * draws.unit(), HostMarkAction::Mark));
        }
        typed
    }

    fn note_wall(&self, records: &mut Vec<Record>, truth: &Truth) {
        let end_s = truth.end_us as f64 * 1e-6;
        let mut at_s = 0.0;
        while at_s < end_s {
            let step = self.wall_step.filter(|(from_s, _)| at_s >= *from_s);
            let wall_s = at_s + step.map_or(0.0, |(_, step_s)| step_s);
            let utc_ns = truth.start_utc_ns + (wall_s * 1e9) as i64;
            put(records, host_ns(at_s), Entry::WallClock(WallClock { utc_ns }));
            at_s += WALL_S;
        }
    }

    /// The last two passes lie after everything that went wrong; no press fell into the moment
    /// in which the board was off, and none at the host stood in for one that its line lost.
    #[must_use]
    pub fn recovers(&self, truth: &Truth) -> bool {
        let missed = |fault: &Fault| {
            let Fault::BoardReset { at_s, boot_s } = *fault else { return false };
            let off_us = (at_s - 0.1) * 1e6..(at_s + boot_s + 0.1) * 1e6;
            let marks = truth.passes.iter().flat_map(|p| [p.start_mark_us, p.finish_mark_us]);
            marks.flatten().any(|at_us| off_us.contains(&(at_us as f64)))
        };
        let stood_in = self.press_twice.is_some()
            && (self.lost_press.is_some() || self.harms.iter().any(|h| h.0 == Port::Board));
        self.passes_over && !stood_in && !self.scenario.faults.iter().any(missed)
    }
}

fn host_ns(sim_s: f64) -> u64 {
    HOST_START_NS + (sim_s * 1e9) as u64
}

fn put(records: &mut Vec<Record>, host_ns: u64, entry: Entry) {
    let at = records.partition_point(|record| record.host_ns < host_ns).max(1);
    records.insert(at, Record { host_ns, entry });
}
