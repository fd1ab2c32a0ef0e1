//! Faults of sensors are named with the right numbers, and sound sensors are left alone.
//!
//! A few seeds of each case here; `sensor-sweep` runs hundreds.
//!
//! Outside source: Gustafsson, Rotational speed sensors: limitations, pre-processing and automotive
//! applications, IEEE Instrumentation & Measurement Magazine 13(2), 2010, 16 to 23 (one missing
//! tooth of z: mean count -100/z %, one doubled interval a turn).

use trundle_core::survey::ride::rides;
use trundle_core::survey::sensors::pattern::count_effect_percent;
use trundle_core::survey::sensors::{Aspect, Health, SensorRuling, SensorWarning, judge_with};
use trundle_sim::Scenario;
use trundle_tests::asking::simulate_asking;
use trundle_tests::sensor_cases::{Case, Ill, cases, findings, named, run, scenario};
use trundle_tests::{replay_with_trail, simulate};

/// Seeds of each case: these tests are run at every change.
const SEEDS: u64 = 4;

fn healthy() -> Case {
    cases()[0]
}

#[test]
fn every_fault_is_named_and_sound_sensors_are_left_alone() {
    for case in cases() {
        for seed in 1000..1000 + SEEDS {
            if let Err(found) = named(&case, &run(&case, seed)) {
                panic!("{}, seed {seed}: {found}", case.name);
            }
        }
    }
}

#[test]
fn tooth_arithmetic_is_that_of_the_literature() {
    // Gustafsson 2010: z = 60, 40, 6.
    for (teeth, percent) in [(60, 1.667), (40, 2.5), (6, 16.67)] {
        assert!((count_effect_percent(teeth, false) + percent).abs() < 0.005, "{teeth}");
        assert!((count_effect_percent(teeth, true) - percent).abs() < 0.005, "{teeth}");
    }
}

/// The counts of the simulated ring change by what the arithmetic says.
#[test]
fn the_counts_of_a_ring_follow_the_arithmetic() {
    for teeth in [6, 40, 60] {
        let count = |ill| {
            let case = Case { name: "", ill, receiver: true };
            let mut scenario = scenario(&case, 5);
            scenario.wheel_teeth = teeth;
            scenario.stop_error_m = 0.0;
            simulate(&scenario, 5, None).1.wheel_impulses_per_100m
        };
        let sound = count(Ill::Nothing);
        for (ill, extra) in [(Ill::MissingTooth(teeth), false), (Ill::ExtraEdge(teeth), true)] {
            let percent = 100.0 * (count(ill) / sound - 1.0);
            let expected = count_effect_percent(teeth, extra);
            assert!((percent - expected).abs() < 1e-6, "{teeth}: {percent}, {expected}");
        }
    }
}

fn wheel(sensors: &[Health]) -> &Health {
    &sensors[0]
}

fn judged(scenario: &Scenario, seed: u64, asking: bool) -> Vec<Health> {
    let (records, _) =
        if asking { simulate_asking(scenario, seed) } else { simulate(scenario, seed, None) };
    let trail = replay_with_trail(&records, 0).trail().unwrap();
    judge_with(&trail, &rides(&trail))
}

#[test]
fn what_was_not_seen_is_not_judged_and_never_sound() {
    // No edge times: no word on what comes back once a turn.
    let without = judged(&scenario(&healthy(), 3), 3, false);
    let ring = wheel(&without).verdict(Aspect::Ring).unwrap();
    assert!(matches!(ring, SensorRuling::NotJudged(why) if why.contains("it takes")), "{ring:?}");
    assert!(!wheel(&without).healthy());
    // Never at rest for ten seconds.
    let hasty = Scenario { rest_s: 4.0, ..scenario(&healthy(), 3) };
    let hasty = judged(&hasty, 3, true);
    let rest = wheel(&hasty).verdict(Aspect::Rest).unwrap();
    assert!(matches!(rest, SensorRuling::NotJudged(why) if why.contains("standstill")), "{rest:?}");
    // Nothing at all.
    let trail = replay_with_trail(&[], 0).trail().unwrap();
    for sensor in judge_with(&trail, &rides(&trail)) {
        assert!(
            sensor.aspects.iter().all(|(_, is)| matches!(is, SensorRuling::NotJudged(_))),
            "{sensor:?}"
        );
    }
}

#[test]
fn without_edge_times_the_counts_tell_of_bounce_and_of_missing_impulses() {
    let case = |ill| Case { name: "", ill, receiver: true };
    let bounce = judged(&scenario(&case(Ill::Bounce(0.02)), 8), 8, false);
    let found: Vec<&SensorWarning> = findings(wheel(&bounce)).collect();
    assert!(matches!(found[..], [SensorWarning::Bounce { after_us: None, .. }]), "{found:?}");
    let missed = judged(&scenario(&case(Ill::MissedEdges(0.01)), 8), 8, false);
    let found: Vec<&SensorWarning> = findings(wheel(&missed)).collect();
    assert!(matches!(found[..], [SensorWarning::Uneven { .. }]), "{found:?}");
}

#[test]
fn the_ring_of_a_sound_sensor_shows_its_teeth() {
    for teeth in [40, 60] {
        let ring = Scenario { wheel_teeth: teeth, tooth_error: 0.02, ..scenario(&healthy(), 4) };
        let sensors = judged(&ring, 4, true);
        let even = wheel(&sensors).evenness.unwrap();
        assert_eq!(even.teeth, Some(teeth));
        // Two neighbouring places make an interval: 0.02 times the root of two.
        assert!((even.spread - 0.028).abs() < 0.008, "{even:?}");
        assert!(even.noise.unwrap() < even.spread, "{even:?}");
    }
}

/// Every finding and every reason speaks to a person, and its numbers are finite.
#[test]
fn findings_have_words_numbers_and_advice() {
    for case in cases().iter().filter(|case| case.ill != Ill::Nothing) {
        for sensor in run(case, 77) {
            for finding in findings(&sensor) {
                assert!(finding.what().chars().any(|c| c.is_ascii_digit()), "{finding:?}");
                assert!(finding.next().ends_with('.'), "{finding:?}");
                assert!(finding.numbers().iter().all(|(_, value)| value.is_finite()));
            }
        }
    }
}
