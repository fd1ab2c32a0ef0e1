//! The test pin of the simulated board: its signal reaches the input it is bridged to, whole.

use trundle_bench::Bridge;
use trundle_counter::test_signal::LENGTH_US;
use trundle_protocol::message::{Counts, Identify, MarkSource, ToBoard, ToHost};
use trundle_protocol::units::Channel;
use trundle_protocol::{Deframer, WireMessage as _};
use trundle_sim::{BenchFault, BenchInput, Port, Scenario, Simulation};

/// The last counts of a board that gave its signal once, and the marks it sent.
fn given(bridge: &str, faults: &[&str], drift_ppm: f64) -> (Counts, usize) {
    let mut scenario = Scenario::named("bench").unwrap();
    scenario.bench.bridge = vec![BenchInput::from_word(bridge).unwrap()];
    scenario.bench.faults = faults.iter().map(|it| BenchFault::from_words(it).unwrap()).collect();
    scenario.min_edge_interval_us = [0; 3];
    scenario.board_drift_ppm = drift_ppm;
    let mut simulation = Simulation::new(&scenario, 5);
    let mut out = Vec::new();
    simulation.advance_to(100_000, &mut out);
    let identify = ToBoard::Identify(Identify { request: 1, seconds: 60 });
    simulation.board_input(identify.frame().as_bytes());
    simulation.advance_to(100_000 + LENGTH_US + 500_000, &mut out);
    let mut deframer: Deframer<ToHost> = Deframer::new();
    let (mut last, mut marks) = (Counts::default(), 0);
    for emission in out.iter().filter(|emission| emission.port == Port::Board) {
        deframer.push_slice(&emission.bytes, |message| match message.unwrap() {
            ToHost::Counts(counts) => last = counts,
            ToHost::Mark(_) => marks += 1,
            _ => {}
        });
    }
    (last, marks)
}

fn impulses(counts: &Counts) -> [u64; 3] {
    counts.channels.map(|channel| channel.impulses.0)
}

#[test]
fn every_edge_arrives_at_the_bridged_input_and_nowhere_else() {
    // 500, 5 000, 20 000, 200 with three spikes each, 3; whatever the clock does against the truth.
    for ppm in [-700.0, 0.0, 18.0, 700.0] {
        let (counts, marks) = given("radar", &[], ppm);
        assert_eq!((impulses(&counts), marks), ([0, 26_303, 0], 0), "{ppm}");
        assert_eq!(counts.working.changes.0, 0);
    }
    let (counts, marks) = given("gate", &[], 18.0);
    assert_eq!(impulses(&counts), [0; 3]);
    assert!(marks >= 3, "{marks}");
    let (counts, _) = given("implement", &[], 18.0);
    assert_eq!((impulses(&counts), counts.working.changes.0), ([0; 3], 2 * 26_303));
}

#[test]
fn the_wire_is_where_an_image_has_to_have_it_too() {
    let mut scenario = Scenario::named("bench").unwrap();
    scenario.bench.bridge =
        ["pto", "gate"].map(|word| BenchInput::from_word(word).unwrap()).to_vec();
    let mut simulation = Simulation::new(&scenario, 5);
    let mut out = Vec::new();
    let wire = |simulation: &Simulation| simulation.bridged().map(BenchInput::of_image);
    assert_eq!(wire(&simulation), Some(Bridge::Impulses(Channel::Pto)));
    let mut at_us = 100_000;
    for (seconds, lasts_us) in [(60, LENGTH_US), (0, 100_000)] {
        simulation.advance_to(at_us, &mut out);
        assert_eq!(wire(&simulation), Some(Bridge::Impulses(Channel::Pto)), "{at_us}");
        let identify = ToBoard::Identify(Identify { request: 1, seconds });
        simulation.board_input(identify.frame().as_bytes());
        at_us += lasts_us;
    }
    simulation.advance_to(at_us, &mut out);
    assert_eq!(wire(&simulation), Some(Bridge::Mark(MarkSource::Gate)));
}

#[test]
fn faults_of_soldering_do_what_their_names_say() {
    assert_eq!(impulses(&given("wheel", &["dead:wheel"], 0.0).0), [0; 3]);
    assert_eq!(impulses(&given("wheel", &["dead:radar"], 0.0).0), [26_303, 0, 0]);
    assert_eq!(impulses(&given("wheel", &["joined:wheel:pto"], 0.0).0), [26_303, 0, 26_303]);
    assert_eq!(impulses(&given("radar", &["swapped:wheel:radar"], 0.0).0), [26_303, 0, 0]);
    let dropped = 26_303 - impulses(&given("pto", &["drops:pto"], 0.0).0)[2];
    assert!((5..80).contains(&dropped), "about one of a thousand: {dropped}");
    assert!(BenchFault::from_words("dead:horn").is_none());
    assert!(BenchFault::from_words("joined:wheel").is_none());
    assert!(BenchFault::from_words("dead:wheel:radar").is_none());
}
