//! Sensors with one fault each, simulated, and whether the judge names it.

use crate::asking::simulate_asking;
use crate::{Draws, replay_with_trail};
use trundle_core::survey::ride::rides;
use trundle_core::survey::sensors::{Health, SensorWarning, judge_with};
use trundle_protocol::units::Channel;
use trundle_sim::{Fault, ReceiverClass, Scenario};

/// What is made to be wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ill {
    /// Nothing.
    Nothing,
    /// One tooth of a ring with this many.
    MissingTooth(u32),
    /// One edge too many once a turn of a ring with this many teeth.
    ExtraEdge(u32),
    /// This share of the edges bounces.
    Bounce(f64),
    /// The wheel sensor is silent below this many km/h.
    SilentBelow(f64),
    /// The radar counts this often a second at rest.
    CountsAtRest(f64),
    /// This share of the wheel's edges is missed, one by one.
    MissedEdges(f64),
    /// The wheel's contact breaks with this probability at each edge, for a fifth of a second.
    Breaks(f64),
}

/// A fault, and whether a job goes with a receiver.
#[derive(Clone, Copy, Debug)]
pub struct Case {
    /// Its name.
    pub name: &'static str,
    /// The fault.
    pub ill: Ill,
    /// A receiver is there.
    pub receiver: bool,
}

/// All cases.
#[must_use]
pub fn cases() -> Vec<Case> {
    let case = |name, ill| Case { name, ill, receiver: true };
    let blind = |name, ill| Case { name, ill, receiver: false };
    vec![
        case("healthy", Ill::Nothing),
        case("one missing tooth of 6", Ill::MissingTooth(6)),
        case("one missing tooth of 40", Ill::MissingTooth(40)),
        case("one missing tooth of 60", Ill::MissingTooth(60)),
        case("one extra edge a turn of 6", Ill::ExtraEdge(6)),
        case("one extra edge a turn of 60", Ill::ExtraEdge(60)),
        case("2 % random bounce", Ill::Bounce(0.02)),
        case("silent below 1.5 km/h", Ill::SilentBelow(1.5)),
        case("radar counts at rest", Ill::CountsAtRest(2.0)),
        case("1 % missed edges", Ill::MissedEdges(0.01)),
        case("contact that breaks", Ill::Breaks(0.003)),
        blind("healthy, no receiver", Ill::Nothing),
        blind("silent below 1.5 km/h, no receiver", Ill::SilentBelow(1.5)),
        blind("radar counts at rest, no receiver", Ill::CountsAtRest(2.0)),
    ]
}

/// A short job of this case: one pass of 60 m, with rests.
#[must_use]
pub fn scenario(case: &Case, seed: u64) -> Scenario {
    let mut draws = Draws::new(seed ^ 0x5E45_0125);
    let class = ReceiverClass::ALL[draws.below(3)];
    let mut s = Scenario::default().with_receiver(class);
    s.name = "short".to_owned();
    (s.passes, s.course_m, s.rest_s) = (1, 60.0, 14.0);
    s.cruise_m_s = 1.6 + 1.2 * draws.unit();
    s.tooth_error = 0.03 * draws.unit();
    s.wheel_teeth = [6, 40, 60][draws.below(3)];
    s.pto_rpm = 0.0;
    match case.ill {
        Ill::Nothing => {}
        Ill::MissingTooth(teeth) => {
            s.wheel_teeth = teeth;
            s.missing_tooth = Some(draws.below(teeth as usize) as u32);
        }
        Ill::ExtraEdge(teeth) => {
            s.wheel_teeth = teeth;
            s.extra_tooth = Some(draws.below(teeth as usize) as u32);
        }
        Ill::Bounce(probability) => {
            s.faults.push(Fault::Bounce { channel: Channel::Wheel, probability });
        }
        Ill::SilentBelow(km_h) => s.wheel_least_m_s = km_h / 3.6,
        Ill::CountsAtRest(hz) => s.radar_standstill_hz = hz,
        Ill::MissedEdges(probability) => {
            s.faults.push(Fault::DroppedEdges { channel: Channel::Wheel, probability });
        }
        Ill::Breaks(probability) => {
            let channel = Channel::Wheel;
            s.faults.push(Fault::BreakingContact { channel, probability, lasts_s: 0.2 });
        }
    }
    if !case.receiver {
        s.faults.push(Fault::ReceiverSilent { from_s: 0.0, to_s: 1e6 });
    }
    s
}

/// Simulate and judge.
#[must_use]
pub fn run(case: &Case, seed: u64) -> Vec<Health> {
    let (records, _) = simulate_asking(&scenario(case, seed), seed);
    let trail = replay_with_trail(&records, 0).trail();
    let trail = trail.expect("the session keeps a trail");
    judge_with(&trail, &rides(&trail))
}

/// What is wrong with a sensor.
pub fn findings(sensor: &Health) -> impl Iterator<Item = &SensorWarning> {
    sensor.aspects.iter().filter_map(|(_, ruling)| ruling.finding())
}

/// The fault is named, and nothing else is; a healthy sensor is judged in full and not accused.
///
/// # Errors
/// What was found instead.
pub fn named(case: &Case, sensors: &[Health]) -> Result<(), String> {
    let found: Vec<(Channel, &SensorWarning)> =
        sensors.iter().flat_map(|s| findings(s).map(|finding| (s.channel, finding))).collect();
    let right = match (case.ill, found.as_slice()) {
        (Ill::Nothing, []) => sensors.iter().all(Health::healthy),
        (Ill::Nothing, _) => false,
        (ill, [(channel, finding)]) => matches(ill, *channel, finding),
        _ => false,
    };
    if right { Ok(()) } else { Err(format!("{sensors:#?}")) }
}

fn matches(ill: Ill, channel: Channel, finding: &SensorWarning) -> bool {
    match (ill, channel, finding) {
        (Ill::MissingTooth(is), Channel::Wheel, SensorWarning::MissingTooth { teeth, .. })
        | (Ill::ExtraEdge(is), Channel::Wheel, SensorWarning::ExtraEdge { teeth, .. }) => {
            is == *teeth
        }
        (Ill::Bounce(is), Channel::Wheel, SensorWarning::Bounce { extra, of, .. }) => {
            near(f64::from(*extra) / f64::from(*of), is, 0.5)
        }
        (Ill::SilentBelow(km_h), Channel::Wheel, SensorWarning::DropOut { speed_m_s, .. }) => {
            speed_m_s.is_none_or(|speed| near(speed, km_h / 3.6, 0.35))
        }
        (Ill::CountsAtRest(hz), Channel::Radar, SensorWarning::NoiseAtRest { counts, seconds }) => {
            near(counts / seconds, hz, 0.6)
        }
        (
            Ill::MissedEdges(is),
            Channel::Wheel,
            SensorWarning::BrokenContact { missing, of, .. },
        ) => near(f64::from(*missing) / f64::from(*of), is, 0.8),
        (Ill::Breaks(_), Channel::Wheel, SensorWarning::BrokenContact { missing, places, .. }) => {
            *missing as usize > 5 * places
        }
        _ => false,
    }
}

/// Within this share of what it should be.
fn near(found: f64, is: f64, share: f64) -> bool {
    (found - is).abs() <= share * is
}
