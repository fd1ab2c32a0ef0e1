//! What the bench is given is all that came to the simulated board's inputs: a counter fed with
//! nothing else counts the same.

use trundle_bench::Stimulus;
use trundle_counter::{Config, Counter};
use trundle_protocol::Deframer;
use trundle_protocol::message::{Counts, ToHost};
use trundle_protocol::units::Channel;
use trundle_sim::{Emission, Port, Scenario, Simulation};

fn last_counts(emissions: &[Emission]) -> Counts {
    let (mut last, mut deframer) = (None, Deframer::<ToHost>::new());
    for emission in emissions.iter().filter(|emission| emission.port == Port::Board) {
        deframer.push_slice(&emission.bytes, |frame| {
            if let Ok(ToHost::Counts(counts)) = frame {
                last = Some(counts);
            }
        });
    }
    last.unwrap()
}

#[test]
fn a_counter_fed_with_the_stimuli_counts_what_the_board_counts() {
    let mut scenario = Scenario { passes: 1, ..Scenario::default() };
    // A clock that is off and wraps on the way, and an input that bounces.
    (scenario.board_drift_ppm, scenario.timer_start) = (40.0, u32::MAX - 9_000_000);
    scenario.min_edge_interval_us = [200, 0, 0];
    let mut simulation = Simulation::new(&scenario, 11);
    let start = simulation.bench_start();
    let min_edge_interval_us = scenario.min_edge_interval_us;
    let config = Config { min_edge_interval_us, ..Config::default() };
    let mut counter = Counter::new(config, start.timer_start);
    assert!(simulation.stimuli().is_empty());
    let (mut emissions, mut marks, mut latest_us) = (Vec::new(), 0, 0);
    while !simulation.finished() {
        simulation.advance_to(simulation.now_us() + 50_000, &mut emissions);
        for (at_us, stimulus) in simulation.stimuli() {
            assert!(at_us >= latest_us, "{stimulus:?} at {at_us} after {latest_us}");
            latest_us = at_us;
            let ticks = start.timer_start.wrapping_add(at_us as u32);
            match stimulus {
                Stimulus::Edge(channel) => counter.on_edge(channel, ticks),
                Stimulus::Mark(_) => marks += 1,
                Stimulus::Pps => counter.on_pps(ticks),
                Stimulus::Working(in_work) => counter.on_working(in_work, ticks),
                other => panic!("no input: {other:?}"),
            }
        }
        assert!(simulation.board_us() >= latest_us);
    }
    // The rest is long over by then: nothing moves any more but the PTO shaft.
    let board = last_counts(&emissions);
    for channel in [Channel::Wheel, Channel::Radar] {
        let counted = board.channels[channel.index()].impulses.0;
        assert!(counted > 10_000 && counter.impulses(channel) == counted, "{channel:?} {counted}");
    }
    assert_eq!(marks, 2);
}
