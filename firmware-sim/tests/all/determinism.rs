//! Same scenario, same seed: same bytes, in whatever pieces they are asked for.

use trundle_sim::{Emission, Scenario, Simulation, record_all};

fn short(name: &str) -> Scenario {
    Scenario { passes: 2, ..Scenario::named(name).unwrap() }
}

#[test]
fn same_seed_same_bytes_and_other_seed_other_bytes() {
    for name in Scenario::names() {
        let (one, truth) = record_all(&short(name), 11);
        let (two, again) = record_all(&short(name), 11);
        assert!(one == two && truth == again, "{name} is not deterministic");
    }
    assert_ne!(record_all(&short("plain"), 11).0, record_all(&short("plain"), 12).0);
}

#[test]
fn any_chunking_gives_the_same_emissions() {
    let scenario = short("bounce");
    let (whole, truth) = record_all(&scenario, 21);
    for stride_us in [1_u64, 977, 2_000, 33_333, 5_000_000] {
        let mut simulation = Simulation::new(&scenario, 21);
        let mut out: Vec<Emission> = Vec::new();
        let mut now_us = 0;
        // The finest stride is kept to a part of the job: the rest would be the same again.
        let until_us = simulation.end_us().min(stride_us.saturating_mul(2_000_000));
        while now_us < until_us {
            now_us = (now_us + stride_us).min(until_us);
            simulation.advance_to(now_us, &mut out);
        }
        assert_eq!(out, whole[..out.len()], "stride {stride_us}");
        if until_us == simulation.end_us() {
            assert!(simulation.finished());
            assert_eq!((out.len(), simulation.truth()), (whole.len(), truth.clone()));
        }
        assert!(!out.is_empty(), "stride {stride_us}");
    }
}

#[test]
fn emissions_come_in_order_of_time_and_in_small_chunks() {
    let (out, truth) = record_all(&short("plain"), 31);
    assert!(out.is_sorted_by_key(|emission| emission.sim_us));
    assert!(out.iter().all(|emission| (1..=64).contains(&emission.bytes.len())));
    assert!(out.last().unwrap().sim_us <= truth.end_us);
}

#[test]
fn a_fault_on_one_line_leaves_the_other_as_it_was() {
    let of_receiver = |scenario: &Scenario| {
        let (out, _) = record_all(scenario, 41);
        out.into_iter().filter(|e| e.port == trundle_sim::Port::Receiver).collect::<Vec<_>>()
    };
    let plain = short("plain");
    let mut noisy = plain.clone();
    noisy
        .faults
        .push(trundle_sim::Fault::ByteDamage { port: trundle_sim::Port::Board, rate: 1e-2 });
    assert_eq!(of_receiver(&plain), of_receiver(&noisy));
}
