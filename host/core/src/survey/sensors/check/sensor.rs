//! The lines of wheel sensor and radar: at rest, impulses, low speed.

use super::{CheckLine, Mark};
use crate::survey::sensors::{Aspect, Health, SensorRuling, SensorWarning};
use trundle_protocol::units::Channel;

/// What a line speaks of, and its key and title for wheel and radar.
type Group = (&'static [Aspect], [(&'static str, &'static str); 2]);

/// Lines of both sensors.
const LINES: [Group; 3] = [
    (&[Aspect::Rest], [("wheel_rest", "wheel at rest"), ("radar_rest", "radar at rest")]),
    (
        &[Aspect::Ring, Aspect::Bounce, Aspect::Contact],
        [("wheel_impulses", "wheel impulses"), ("radar_impulses", "radar impulses")],
    ),
    (&[Aspect::Slow], [("wheel_slow", "wheel at low speed"), ("radar_slow", "radar at low speed")]),
];

/// The lines of every sensor.
pub fn lines(sensors: &[Health]) -> Vec<CheckLine> {
    let group = |(of, names): &Group| -> Vec<CheckLine> {
        let one = |health: &Health| {
            let (key, title) = names[usize::from(health.channel != Channel::Wheel)];
            line(key, title, health, of)
        };
        sensors.iter().map(one).collect()
    };
    LINES.iter().flat_map(group).collect()
}

fn line(key: &'static str, title: &'static str, health: &Health, of: &[Aspect]) -> CheckLine {
    let mut findings: Vec<&SensorWarning> = Vec::new();
    let (mut reasons, mut sound): (Vec<&str>, Vec<&str>) = (Vec::new(), Vec::new());
    for ruling in of.iter().filter_map(|&aspect| health.verdict(aspect)) {
        match ruling {
            SensorRuling::Faulty(finding) => findings.push(finding),
            SensorRuling::NotJudged(why) => reasons.push(why),
            SensorRuling::Sound(seen) => sound.push(seen),
        }
    }
    if !findings.is_empty() {
        let what: Vec<String> = findings.iter().map(|finding| finding.what()).collect();
        let next: Vec<&str> = findings.iter().map(|finding| finding.next()).collect();
        let numbers = findings.iter().flat_map(|finding| finding.numbers()).collect();
        return CheckLine::new(key, title, Mark::Fail, what.join("; "))
            .next(next.join(" "))
            .numbers(numbers);
    }
    reasons.dedup();
    if !reasons.is_empty() {
        return CheckLine::new(key, title, Mark::NotSeen, reasons.join("; ")).next(how(of[0]));
    }
    let spread = health.evenness.filter(|_| of.len() > 1);
    let even = spread.map(|even| format!("spread {:.1} %", 100.0 * even.spread));
    let what: Vec<&str> = sound.into_iter().chain(even.as_deref()).collect();
    CheckLine::new(key, title, Mark::Pass, what.join("; "))
}

/// How to let it be seen.
const fn how(aspect: Aspect) -> &'static str {
    match aspect {
        Aspect::Rest => "Let the tractor stand for half a minute with the engine running.",
        Aspect::Slow => "Stop and drive off twice while it records.",
        _ => "Drive at a steady speed for half a minute while it records.",
    }
}
