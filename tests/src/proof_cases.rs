//! Proof drives of the simulator: a terminal that is right, or holds one of the usual mistakes.

use crate::{Draws, note, plain_course, replay_with_both, simulate};
use trundle_core::course::tape::CourseSpec;
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::proof::{Cause, Known, Origin, Proof, ProofOptions, Taken, proof};
use trundle_protocol::units::Channel;
use trundle_sim::{BusTractor, Driving, HandedOn, Keyed, Scenario, Simulation, Terminal, Truth};

/// What is in force in the terminal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Case {
    /// The value keyed in.
    Right,
    /// The old one.
    Old,
    /// The radar's value, keyed in for the wheel.
    OtherSensorsValue,
    /// It shows so many times what it should.
    Times(f64),
    /// It goes by the radar, with the standard's value.
    OtherSource,
    /// The wheel's value on other tyres.
    OtherTyres,
    /// The value keyed in, on a tractor that stands on other tyres.
    OnOtherTyres,
    /// It goes by the radar, with the value that is right for it: only the bus shows that.
    OtherSourceRight,
}

/// All that a display can show.
pub const CASES: [Case; 12] = [
    Case::Right,
    Case::Old,
    Case::OtherSensorsValue,
    Case::Times(2.0),
    Case::Times(0.5),
    Case::Times(10.0),
    Case::Times(0.1),
    Case::Times(100.0),
    Case::Times(0.01),
    Case::OtherSource,
    Case::OtherTyres,
    Case::OnOtherTyres,
];

/// What is read off the terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Read {
    /// The distance at both pegs of the passes.
    Distance,
    /// The speed of each steady run, typed at the standstill after it.
    Speed,
    /// The distance on the bus at both pegs, which nobody types.
    Bus,
}

impl Case {
    fn terminal(self, draws: &mut Draws) -> Terminal {
        // Speeds are shown to a per cent or so: what took and is wrong must be further off.
        let least = if self == Self::OnOtherTyres { 0.03 } else { 0.01 };
        let share = least + 0.04 * draws.unit();
        let old = if draws.symmetric() > 0.0 { 1.0 + share } else { 1.0 - share };
        let (sensor, keyed) = match self {
            Self::Right => (Channel::Wheel, Keyed::Right),
            Self::Old | Self::OtherTyres | Self::OnOtherTyres => {
                (Channel::Wheel, Keyed::Times(old))
            }
            Self::OtherSensorsValue => (Channel::Wheel, Keyed::OfOtherSensor),
            Self::Times(times) => (Channel::Wheel, Keyed::Times(times.recip())),
            Self::OtherSource => (Channel::Radar, Keyed::Value(13_000.0)),
            Self::OtherSourceRight => (Channel::Radar, Keyed::Right),
        };
        // One in fifty drives takes the counter through 0.
        let start_m = 10_000.0 * draws.unit();
        Terminal { sensor, keyed, start_m, ..Terminal::default() }
    }

    /// The answer names it.
    #[must_use]
    pub fn is_named(self, proof: &Proof) -> bool {
        let Ok(judged) = &proof.judged else { return false };
        let is = |cause: &Cause| match (self, cause) {
            (Self::Old, Cause::Old)
            | (Self::OtherSensorsValue, Cause::OtherSensorsValue)
            | (Self::OtherSource, Cause::OtherSourceStandard)
            | (Self::OtherSourceRight, Cause::OtherSource)
            | (Self::OtherTyres, Cause::Tyres(_))
            | (Self::OnOtherTyres, Cause::OnTyres(_)) => true,
            (Self::Times(a), Cause::Times(b)) => (a - b).abs() < 1e-9,
            _ => false,
        };
        match self {
            Self::Right => judged.taken == Taken::Took,
            Self::OtherSourceRight => {
                judged.taken == Taken::DidNotTake && judged.mistakes().any(|one| is(&one.cause))
            }
            _ => judged.mistakes().any(|one| is(&one.cause)),
        }
    }

    /// The answer says that all is well, and nothing of the mistake.
    #[must_use]
    pub fn is_called_right(self, proof: &Proof) -> bool {
        let took = proof.judged.as_ref().is_ok_and(|judged| judged.taken == Taken::Took);
        self != Self::Right && took && !self.is_named(proof)
    }
}

/// A drive, and what came of it.
pub struct ProofDrive {
    /// The answer.
    pub proof: Proof,
    /// What really happened.
    pub truth: Truth,
}

/// Two passes over a taped course, or three steady speeds, drawn from a seed. The course is as long
/// as the tape's class, its temperature and the pegs allow.
#[must_use]
pub fn scenario(case: Case, read: Read, seed: u64) -> (Scenario, CourseSpec) {
    let mut draws = Draws::new(seed ^ 0x9_000F);
    // Whatever was taped: a whole number of the display's steps would hide their errors.
    let nominal_m = 90.0 + 20.0 * draws.unit();
    let mut course = plain_course(nominal_m);
    course.tape.temperature_c = Some(20.0);
    let tape_m = 0.0203 * draws.symmetric();
    let pegs_m = course.peg_placement_m * (draws.symmetric() + draws.symmetric());
    let warm_m = 2.0 * 11.6e-6 * 100.0 * draws.symmetric();
    let terminal = Some(case.terminal(&mut draws));
    let mut scenario = Scenario { passes: 2, terminal, ..Scenario::default() };
    scenario.course_m = nominal_m + tape_m + pegs_m + warm_m;
    if read == Read::Speed {
        let speeds = [1.4, 2.2, 3.2].map(|usual| usual + 0.3 * draws.symmetric());
        scenario.driving = Driving::Speeds;
        // By speed a value is only told from one that differs by some per cent, whichever sensor it
        // is for: 13000 and the old value are among them.
        (scenario.figure_spread, scenario.wheel_per_100m) = (0.01, 11_600.0);
        scenario.radar_per_100m = 15_500.0;
        scenario.speed_steps_m_s = speeds.iter().flat_map(|speed| [*speed, 0.0]).collect();
        scenario.speed_hold_s = 13.0;
    }
    (scenario, course)
}

/// The scenario with a tractor on whose bus stands what its terminal would hold.
#[must_use]
pub fn with_bus(scenario: Scenario, seed: u64) -> Scenario {
    let truth = truth_before(&scenario, seed);
    let Some(terminal) = truth.terminal else { return scenario };
    let mut draws = Draws::new(seed ^ 0xB05);
    let right = [truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m].map(f64::round);
    let [mut wheel, mut radar] = right;
    let handed_on = if terminal.sensor == Channel::Radar.name() {
        radar = terminal.value_per_100m;
        HandedOn::Ground
    } else {
        wheel = terminal.value_per_100m;
        HandedOn::Wheel
    };
    let bus = BusTractor {
        wheel_keyed: Some(Keyed::Value(wheel)),
        radar_keyed: Some(Keyed::Value(radar)),
        handed_on,
        filter_s: 0.4 * draws.unit(),
        delay_s: 0.01 + 0.3 * draws.unit(),
        distance_start_mm: (4_200_000_000.0 * draws.unit()) as u64,
        ..BusTractor::default()
    };
    Scenario { bus: Some(bus), ..scenario }
}

/// Drive it, type what the terminal shows, and judge it.
#[must_use]
pub fn drive(case: Case, read: Read, seed: u64) -> ProofDrive {
    let (scenario, course) = scenario(case, read, seed);
    let scenario = if read == Read::Bus { with_bus(scenario, seed) } else { scenario };
    let (mut records, truth) = simulate(&scenario, seed, None);
    type_readings(&mut records, &truth, &scenario, read);
    let session = replay_with_both(&records, THINNED_US);
    let course = (read != Read::Speed).then_some(course);
    let options = ProofOptions { course, known: known(case, &truth), ..ProofOptions::default() };
    ProofDrive { proof: proof(&session, false, &options), truth }
}

/// What the technician knows: the value keyed in, those of before, of the other sensor, of other
/// tyres.
#[must_use]
pub fn known(case: Case, truth: &Truth) -> Known {
    let [wheel, radar] =
        [truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m].map(f64::round);
    let in_force = truth.terminal.as_ref().map_or(wheel, |terminal| terminal.value_per_100m);
    let elsewhere = |here: Case, usual: f64| if case == here { in_force } else { usual };
    let tyres = match case {
        Case::OtherTyres => in_force,
        Case::OnOtherTyres => wheel,
        _ => (0.93 * wheel).round(),
    };
    Known { source: Some(Channel::Wheel), values: Vec::new() }
        .with(Origin::Entered, elsewhere(Case::OnOtherTyres, wheel))
        .with(Origin::Old, elsewhere(Case::Old, (1.12 * wheel).round()))
        .with(Origin::OtherSensor, radar)
        .with(Origin::Tyres("Other".to_owned()), tyres)
}

/// The value that a terminal will hold, before anybody drives.
#[must_use]
pub fn truth_before(scenario: &Scenario, seed: u64) -> Truth {
    Simulation::new(scenario, seed).truth()
}

/// Type what was shown, as notes in the records.
pub fn type_readings(
    records: &mut Vec<trundle_core::capture::Record>,
    truth: &Truth,
    scenario: &Scenario,
    read: Read,
) {
    let Some((setup, terminal)) = scenario.terminal.zip(truth.terminal.as_ref()) else { return };
    for shown in &terminal.shown {
        let at_s = shown.sim_us as f64 * 1e-6;
        match (read, shown.pass) {
            (Read::Distance, Some(_)) => {
                let text = shown.distance_text(setup.distance_step_m);
                note(records, at_s + 1.5, &format!("shown distance {text}"));
            }
            (Read::Speed, None) => {
                let text = shown.speed_text(setup.speed_step_km_h);
                // The end of the run, braking, and a moment to type it.
                note(records, at_s + 10.0, &format!("shown speed {text}"));
            }
            _ => {}
        }
    }
}
