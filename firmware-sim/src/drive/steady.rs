//! Drives without pegs: one steady speed after another, and none at all.

use super::Planner;

/// The terminal is read off this long before the end of a steady speed, seconds.
const LOOK_BEFORE_S: f64 = 1.0;

impl Planner<'_> {
    /// A rest, each speed of the scenario held for a while, a rest.
    pub(super) fn speeds(&mut self) {
        let scenario = self.scenario;
        let a = scenario.acceleration_m_s2;
        self.lead_in();
        self.say(self.now_s, "standing before the first speed".to_owned());
        self.rest(scenario.rest_s);
        for &speed_m_s in &scenario.speed_steps_m_s {
            let doing = match speed_m_s {
                0.0 => "stopping".to_owned(),
                _ => format!("driving at {speed_m_s} m/s"),
            };
            self.say(self.now_s, doing);
            let gain_m_s = speed_m_s - self.at.v_m_s;
            self.phase(gain_m_s.abs() / a, a.copysign(gain_m_s));
            self.at.v_m_s = speed_m_s;
            self.phase(scenario.speed_hold_s, 0.0);
            if speed_m_s > 0.0 && scenario.terminal.is_some() {
                self.look(self.now_s - LOOK_BEFORE_S, None);
                self.say(self.now_s - LOOK_BEFORE_S, format!("read the speed, {speed_m_s} m/s"));
            }
        }
        self.phase(self.at.v_m_s / a, -a);
        self.say(self.now_s, "the job is done; standing".to_owned());
        self.rest(scenario.rest_s);
    }

    /// Standing from the beginning to the end.
    pub(super) fn parked(&mut self) {
        let scenario = self.scenario;
        self.lead_in();
        self.say(self.now_s, "standing; the PTO shaft is the machine's own".to_owned());
        let begin_s = self.now_s;
        for step in &scenario.pto_steps {
            self.say(begin_s + step.from_s, format!("PTO shaft to {} rpm", step.rpm));
        }
        self.rest(scenario.rest_s);
        self.say(self.now_s, "the job is done; standing".to_owned());
    }
}
