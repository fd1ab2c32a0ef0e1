//! The board's clock against satellite time: by pulses exactly, by sentences within what is said.

use crate::check::check_of;
use trundle_core::fitness::board_clock::{ClockBy, LIMIT_PPM, rate};
use trundle_core::survey::sensors::check::Mark;
use trundle_sim::{Scenario, record_all};
use trundle_tests::{records, replay_with_trail, seeds};

fn standing(ppm: f64, pps: bool, seconds: f64) -> Scenario {
    let driving = trundle_sim::Driving::Parked;
    let board_drift_ppm = ppm;
    Scenario { driving, passes: 0, rest_s: seconds, board_drift_ppm, pps, ..Scenario::default() }
}

fn trail_of(scenario: &Scenario, seed: u64) -> trundle_core::session::trail::Trail {
    let (emissions, truth) = record_all(scenario, seed);
    replay_with_trail(&records(&emissions, truth.start_utc_ns, None), 0).trail().unwrap()
}

#[test]
fn with_pulses_the_rate_is_exact_within_seconds() {
    for ppm in [-500.0, -31.0, 0.0, 18.0, 499.0] {
        let found = rate(&trail_of(&standing(ppm, true, 40.0), 3)).unwrap();
        assert_eq!(found.by, ClockBy::Pulses);
        assert!((found.ppm - ppm).abs() <= found.u95_ppm, "{ppm}: {found:?}");
        assert!(found.u95_ppm < 0.2, "{found:?}");
        assert_eq!(found.is_sound(), Some(ppm.abs() < LIMIT_PPM));
    }
}

#[test]
fn by_sentences_the_rate_is_within_its_uncertainty() {
    let (mut misses, mut tried) = (Vec::new(), 0);
    for seed in 0..seeds(4, 60) {
        for ppm in [-800.0, -60.0, 18.0, 500.0] {
            let found = rate(&trail_of(&standing(ppm, false, 240.0), seed)).unwrap();
            assert_eq!(found.by, ClockBy::Sentences);
            tried += 1;
            if (found.ppm - ppm).abs() > found.u95_ppm {
                misses.push((seed, ppm, found));
            }
            assert!(found.u95_ppm < 60.0, "{found:?}");
            // No resonator passes, and no crystal is accused.
            assert_ne!(found.is_sound(), Some(ppm.abs() > LIMIT_PPM), "seed {seed}: {found:?}");
        }
    }
    assert!(misses.len() * 20 <= tried, "{} of {tried}: {misses:#?}", misses.len());
}

#[test]
fn the_check_says_it_and_flags_a_resonator() {
    let line = |scenario: &Scenario| {
        let (emissions, truth) = record_all(scenario, 5);
        let check = check_of(&records(&emissions, truth.start_utc_ns, None));
        check.lines.into_iter().find(|line| line.key == "board_clock")
    };
    let crystal = line(&standing(25.0, true, 60.0)).unwrap();
    assert!(crystal.mark == Mark::Pass && crystal.what.contains("25.0 ppm fast"), "{crystal:?}");
    let resonator = line(&standing(-500.0, false, 300.0)).unwrap();
    assert!(resonator.mark == Mark::Fail && resonator.what.contains("ppm slow"), "{resonator:?}");
    assert!(resonator.next.contains("Counts do not suffer"), "{resonator:?}");
    assert_eq!(line(&standing(25.0, false, 30.0)), None, "half a minute shows nothing of it");
    let rough = line(&standing(95.0, false, 70.0)).unwrap();
    assert!(rough.mark == Mark::NotSeen && rough.optional, "{rough:?}");
}
