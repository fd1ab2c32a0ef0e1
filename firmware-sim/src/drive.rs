//! The driver: how fast along the path, when stopped, when the button is pressed.
//!
//! The whole job is planned before it starts, as phases of constant acceleration. Everything the
//! tractor does is then a function of time alone, which is what lets the satellite receiver look
//! at any instant and lets the simulation be cut into steps of any length.

mod steady;

use crate::faults::Fault;
use crate::path::Layout;
use crate::prng::Prng;
use crate::scenario::{Driving, Scenario};
use trundle_protocol::message::MarkSource;

/// Time from the last rest or mark to the end of the simulation.
const TAIL_S: f64 = 2.0;
/// How long one roll back and forth lasts.
const ROCKING_S: f64 = 1.6;
/// The implement goes in and out of work this far inside the pegs.
const WORK_INSIDE_M: f64 = 2.0;

/// Which end of a pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    Start,
    Finish,
}

/// Something that happens at a planned instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Happening {
    /// The instant that bounds the pass: the press at standstill, or the axle passing the peg.
    Peg { pass: u32, end: End },
    /// The mark input fires.
    Press { pass: u32, end: End, source: MarkSource },
    /// The implement goes in or out of work.
    Working(bool),
    /// The terminal is read off, beside a peg of this pass or on the move.
    Look(Option<u32>),
}

/// Motion along the path at one instant.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Motion {
    pub(crate) s_m: f64,
    pub(crate) v_m_s: f64,
    pub(crate) a_m_s2: f64,
}

#[derive(Clone, Copy, Debug)]
struct Phase {
    from_s: f64,
    start: Motion,
}

#[derive(Clone, Copy, Debug)]
struct Rock {
    from_s: f64,
    amplitude_m: f64,
}

/// The plan of a whole job.
#[derive(Clone, Debug)]
pub(crate) struct Drive {
    phases: Vec<Phase>,
    rocks: Vec<Rock>,
    /// What happens when, in order of time.
    pub(crate) happenings: Vec<(f64, Happening)>,
    /// What the tractor is doing from when on, in order of time.
    pub(crate) activities: Vec<(f64, String)>,
    pub(crate) end_s: f64,
}

/// Builds a plan phase by phase.
struct Planner<'a> {
    scenario: &'a Scenario,
    layout: Layout,
    random: Prng,
    plan: Drive,
    now_s: f64,
    at: Motion,
}

impl Drive {
    /// Plans the job.
    pub(crate) fn plan(scenario: &Scenario, layout: Layout, pegs_m: [f64; 2], seed: u64) -> Self {
        let plan = Self {
            phases: Vec::new(),
            rocks: Vec::new(),
            happenings: Vec::new(),
            activities: Vec::new(),
            end_s: 0.0,
        };
        let random = Prng::new(seed, "driver");
        let at = Motion::default();
        let mut planner = Planner { scenario, layout, random, plan, now_s: 0.0, at };
        match scenario.driving {
            Driving::Standing => planner.standing(pegs_m),
            Driving::RollingGate | Driving::RollingButton => planner.rolling(pegs_m),
            Driving::Speeds => planner.speeds(),
            Driving::Parked => planner.parked(),
            Driving::Circles => planner.circles(),
        }
        planner.at.v_m_s = 0.0;
        planner.phase(0.0, 0.0);
        let mut plan = planner.plan;
        plan.end_s = planner.now_s + TAIL_S;
        plan.happenings.sort_by(|a, b| a.0.total_cmp(&b.0));
        plan
    }

    /// Motion at a time; before the start and after the end the tractor stands.
    pub(crate) fn at(&self, time_s: f64) -> Motion {
        let after = self.phases.partition_point(|phase| phase.from_s <= time_s);
        let phase = self.phases[after.saturating_sub(1)];
        let t = (time_s - phase.from_s).max(0.0);
        let Motion { s_m, v_m_s, a_m_s2 } = phase.start;
        let mut motion =
            Motion { s_m: s_m + t * (v_m_s + 0.5 * a_m_s2 * t), v_m_s: v_m_s + a_m_s2 * t, a_m_s2 };
        for rock in &self.rocks {
            let share = (time_s - rock.from_s) / ROCKING_S;
            if (0.0..1.0).contains(&share) {
                let turn = std::f64::consts::PI * share;
                let (sin, cos) = libm::sincos(turn);
                motion.s_m -= rock.amplitude_m * sin * sin;
                motion.v_m_s -=
                    2.0 * rock.amplitude_m * sin * cos * std::f64::consts::PI / ROCKING_S;
            }
        }
        motion
    }

    /// When the tractor comes to a distance along the path on its way forward.
    pub(crate) fn time_at(&self, s_m: f64) -> f64 {
        let after = self.phases.partition_point(|phase| phase.start.s_m <= s_m);
        let Phase { from_s, start } = self.phases[after.saturating_sub(1)];
        let d = s_m - start.s_m;
        // The root of d = v t + a t²/2 in the form that does not cancel for small a.
        let root = libm::sqrt((start.v_m_s * start.v_m_s + 2.0 * start.a_m_s2 * d).max(0.0));
        if start.v_m_s + root > 0.0 { from_s + 2.0 * d / (start.v_m_s + root) } else { from_s }
    }
}

impl Planner<'_> {
    fn phase(&mut self, duration_s: f64, a_m_s2: f64) {
        self.at.a_m_s2 = a_m_s2;
        self.plan.phases.push(Phase { from_s: self.now_s, start: self.at });
        self.at.s_m += duration_s * (self.at.v_m_s + 0.5 * a_m_s2 * duration_s);
        self.at.v_m_s += a_m_s2 * duration_s;
        self.now_s += duration_s;
    }

    fn rest(&mut self, duration_s: f64) {
        self.at.v_m_s = 0.0;
        self.phase(duration_s, 0.0);
    }

    /// Drives to `s_m` at up to `cruise_m_s`, arriving with `end_m_s`.
    fn go(&mut self, s_m: f64, cruise_m_s: f64, end_m_s: f64) {
        let a = self.scenario.acceleration_m_s2;
        let (v0, distance) = (self.at.v_m_s, s_m - self.at.s_m);
        let reachable = libm::sqrt(a * distance + 0.5 * (v0 * v0 + end_m_s * end_m_s));
        let top = cruise_m_s.min(reachable);
        let first_m = (top * top - v0 * v0).abs() / (2.0 * a);
        let last_m = (top * top - end_m_s * end_m_s).abs() / (2.0 * a);
        let hold_m = (distance - first_m - last_m).max(0.0);
        self.phase((top - v0).abs() / a, if top < v0 { -a } else { a });
        self.at.v_m_s = top;
        self.phase(hold_m / top, 0.0);
        self.phase((top - end_m_s).abs() / a, if end_m_s < top { -a } else { a });
        // Rounding is thrown away here, so that it does not add up over the passes.
        self.at.s_m = s_m;
        self.at.v_m_s = end_m_s;
    }

    fn say(&mut self, from_s: f64, text: String) {
        self.plan.activities.push((from_s, text));
    }

    /// Along the path, the pegs of the pass `index` (from 0), their misplacement included.
    fn pegs(&self, index: u32, pegs_m: [f64; 2]) -> [f64; 2] {
        let start = self.layout.start_peg_s_m(index);
        let finish = start + self.layout.course_m;
        if index.is_multiple_of(2) {
            [start + pegs_m[0], finish + pegs_m[1]]
        } else {
            [start - pegs_m[1], finish - pegs_m[0]]
        }
    }

    /// How far beyond the finish peg the tractor stops in error.
    fn wrong_peg_m(&self, number: u32) -> f64 {
        let off = |fault: &Fault| match *fault {
            Fault::WrongPeg { pass, off_m } if pass == number => Some(off_m),
            _ => None,
        };
        self.scenario.faults.iter().find_map(off).unwrap_or_default()
    }

    fn title(&self, index: u32) -> String {
        let way = if index.is_multiple_of(2) { "out" } else { "back" };
        format!("pass {} of {}, {way}", index + 1, self.scenario.passes)
    }

    fn happens(&mut self, at_s: f64, what: Happening) {
        self.plan.happenings.push((at_s, what));
    }

    fn look(&mut self, at_s: f64, pass: Option<u32>) {
        if self.scenario.terminal.is_some() {
            self.happens(at_s, Happening::Look(pass));
        }
    }

    fn working(&mut self, pegs: [f64; 2]) {
        if self.scenario.implement {
            let on_s = self.plan.time_at(pegs[0] + WORK_INSIDE_M);
            let off_s = self.plan.time_at(pegs[1] - WORK_INSIDE_M);
            self.happens(on_s, Happening::Working(true));
            self.happens(off_s, Happening::Working(false));
        }
    }

    /// A rest beside a peg with the mark in it.
    fn stand(&mut self, index: u32, end: End) {
        let rest_s = self.scenario.rest_s;
        let mark_s = self.now_s + self.scenario.mark_at_share * rest_s;
        let (title, pass) = (self.title(index), index + 1);
        let peg = if end == End::Start { "start" } else { "finish" };
        self.say(self.now_s, format!("{title}: standing beside the {peg} peg"));
        let invite_s = self.now_s + 0.4 * self.scenario.mark_at_share * rest_s;
        self.say(invite_s, format!("{title}: standing beside the {peg} peg, mark now"));
        self.happens(mark_s, Happening::Peg { pass, end });
        self.happens(mark_s, Happening::Press { pass, end, source: MarkSource::Button });
        self.look(mark_s, Some(pass));
        for fault in &self.scenario.faults {
            if let Fault::Rocking { pass: rocked, amplitude_m } = *fault
                && rocked == pass
                && end == End::Finish
            {
                self.plan.rocks.push(Rock { from_s: self.now_s + 0.5, amplitude_m });
            }
        }
        self.rest(rest_s);
    }

    /// Stand until the other program had time to find the ports.
    fn lead_in(&mut self) {
        if self.scenario.lead_in_s > 0.0 {
            self.say(0.0, "standing; it sets off soon".to_owned());
            self.rest(self.scenario.lead_in_s);
        }
    }

    fn standing(&mut self, pegs_m: [f64; 2]) {
        let (miss_m, cruise) = (self.scenario.stop_error_m, self.scenario.cruise_m_s);
        self.at.s_m = self.pegs(0, pegs_m)[0] + self.random.within(miss_m);
        self.lead_in();
        for index in 0..self.scenario.passes {
            let pegs = self.pegs(index, pegs_m);
            self.stand(index, End::Start);
            self.say(self.now_s, format!("{}: driving", self.title(index)));
            let stop_m = pegs[1] + self.random.within(miss_m) + self.wrong_peg_m(index + 1);
            self.go(stop_m, cruise, 0.0);
            self.working(pegs);
            self.look(self.plan.time_at(f64::midpoint(pegs[0], pegs[1])), None);
            self.stand(index, End::Finish);
            if index + 1 < self.scenario.passes {
                self.say(self.now_s, "turning".to_owned());
                let next_m = self.pegs(index + 1, pegs_m)[0] + self.random.within(miss_m);
                self.go(next_m, self.scenario.turn_m_s.min(cruise), 0.0);
            }
        }
        self.say(self.now_s, "the job is done; standing".to_owned());
    }

    fn rolling(&mut self, pegs_m: [f64; 2]) {
        let cruise = self.scenario.cruise_m_s;
        let turn = self.scenario.turn_m_s.min(cruise);
        self.lead_in();
        self.say(self.now_s, "standing before the first run-in".to_owned());
        self.rest(self.scenario.rest_s);
        for index in 0..self.scenario.passes {
            let pegs = self.pegs(index, pegs_m);
            self.say(self.now_s, format!("{}: running in", self.title(index)));
            self.go(pegs[0], cruise, cruise);
            self.say(self.now_s, format!("{}: driving", self.title(index)));
            self.go(pegs[1], cruise, cruise);
            let after_s = self.now_s;
            let last = index + 1 == self.scenario.passes;
            let run_out_m = pegs[1] + self.layout.run_out_m;
            self.say(after_s, format!("{}: running out", self.title(index)));
            self.go(run_out_m - 2.0, cruise, if last { 0.0 } else { turn });
            for (end, peg_m) in [(End::Start, pegs[0]), (End::Finish, pegs[1])] {
                self.rolling_mark(index + 1, end, peg_m);
            }
            self.working(pegs);
            if !last {
                self.say(self.now_s, "turning".to_owned());
                self.go(run_out_m + self.layout.bulb_m(), turn, turn);
            }
        }
        self.say(self.now_s, "the job is done; standing".to_owned());
        self.rest(self.scenario.rest_s);
    }

    /// Along a path of circles without stopping; no pegs, no marks.
    fn circles(&mut self) {
        self.lead_in();
        self.say(self.now_s, "standing before the circles".to_owned());
        self.rest(self.scenario.rest_s);
        let lap_m = (self.layout.circles_m() - self.layout.course_m) / 2.0;
        for side in ["left", "right"] {
            self.say(self.now_s, format!("driving circles to the {side}"));
            let turn = self.scenario.turn_m_s.min(self.scenario.cruise_m_s);
            self.go(self.at.s_m + self.layout.course_m, self.scenario.cruise_m_s, turn);
            self.go(self.at.s_m + lap_m - self.layout.course_m, turn, turn);
        }
        self.go(self.layout.circles_m(), self.scenario.cruise_m_s, 0.0);
        self.say(self.now_s, "the circles are done; standing".to_owned());
        self.rest(self.scenario.rest_s);
    }

    fn rolling_mark(&mut self, pass: u32, end: End, peg_m: f64) {
        let at_s = self.plan.time_at(peg_m);
        self.happens(at_s, Happening::Peg { pass, end });
        let (late_s, source) = if self.scenario.driving == Driving::RollingGate {
            (0.0, MarkSource::Gate)
        } else {
            let sd = self.scenario.reaction_sd_s;
            (self.scenario.reaction_mean_s + sd * self.random.normal(), MarkSource::Button)
        };
        self.happens(at_s + late_s, Happening::Press { pass, end, source });
    }
}

#[cfg(test)]
mod tests {
    use super::{Drive, End, Happening};
    use crate::path::Layout;
    use crate::scenario::{Driving, Scenario};

    fn plan(scenario: &Scenario) -> (Drive, Layout) {
        let layout = Layout {
            course_m: 100.0,
            run_out_m: scenario.run_out_needed_m(),
            turn_radius_m: 7.0,
            weave_amplitude_m: 0.0,
            weave_length_m: 20.0,
            passes: scenario.passes,
        };
        (Drive::plan(scenario, layout, [0.0, 0.0], 3), layout)
    }

    #[test]
    fn motion_is_continuous_and_never_backwards() {
        for driving in [Driving::Standing, Driving::RollingGate] {
            let (drive, _) = plan(&Scenario { driving, ..Scenario::default() });
            let (mut t, mut before) = (0.0, drive.at(0.0));
            while t < drive.end_s {
                t += 0.01;
                let now = drive.at(t);
                assert!(now.s_m >= before.s_m - 1e-9 && now.s_m - before.s_m < 0.03, "at {t}");
                assert!((now.v_m_s - before.v_m_s).abs() < 0.01, "at {t}: {now:?}");
                before = now;
            }
        }
    }

    #[test]
    fn standing_marks_are_at_rest_beside_the_pegs_and_rolling_ones_on_them() {
        for driving in [Driving::Standing, Driving::RollingGate] {
            let scenario = Scenario { driving, ..Scenario::default() };
            let (drive, layout) = plan(&scenario);
            let mut seen = 0;
            for (at_s, what) in &drive.happenings {
                let Happening::Peg { pass, end } = *what else { continue };
                let past = if end == End::Finish { 100.0 } else { 0.0 };
                let miss_m = drive.at(*at_s).s_m - layout.start_peg_s_m(pass - 1) - past;
                let allowed_m = if driving == Driving::Standing { 0.03 } else { 1e-6 };
                assert!(miss_m.abs() <= allowed_m, "pass {pass} missed by {miss_m}");
                assert_eq!(drive.at(*at_s).v_m_s < 1e-9, driving == Driving::Standing);
                seen += 1;
            }
            assert_eq!(seen, 12);
        }
    }
}
