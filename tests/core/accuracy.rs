//! The figures against the simulator's truth, over many seeds.

use std::sync::LazyLock;
use trundle_core::stats::budget::{Quantity, cover};
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::on_seeds::on_seeds;
use trundle_tests::{plain_course, seeds, simulated_work};

static SEEDS: LazyLock<u64> = LazyLock::new(|| seeds(12, 100));

/// What was seen of all jobs; a side is a relative error in per cent, and whether it is covered.
#[derive(Default)]
struct Seen {
    tape: Vec<(f64, bool)>,
    satellite: Vec<(f64, bool)>,
    unclean: Vec<(u64, Vec<&'static str>)>,
}

/// One job: by tape, by satellite, and its flags where it is not clean.
fn job(scenario: &Scenario, seed: u64) -> ([(f64, bool); 2], Option<Vec<&'static str>>) {
    let (work, truth) = simulated_work(scenario, seed, &plain_course(scenario.course_m));
    let wheel = work.channels.iter().find(|c| c.name == "wheel").unwrap();
    let judge = |figure: &Option<Quantity>| {
        let figure = figure.as_ref().unwrap();
        let off = figure.value() - truth.wheel_impulses_per_100m;
        let half = cover(figure, &wheel.sources, 0.95).expanded_uncertainty;
        (100.0 * off / truth.wheel_impulses_per_100m, off.abs() <= half)
    };
    let flags = work.all_flags().filter(|f| !f.code.is_remark()).map(|f| f.code.word());
    ([judge(&wheel.tape), judge(&wheel.satellite)], (!work.is_clean()).then(|| flags.collect()))
}

/// Six passes, a receiver with corrections, nothing wrong: by tape within 0.10 %, by satellite
/// within 0.30 % of the truth in 95 of 100 seeds; fewer in a quick run.
#[test]
fn six_clean_passes_with_corrections_come_out_right() {
    let scenario = Scenario::default().with_receiver(ReceiverClass::Corrected);
    let mut seen = Seen::default();
    for (seed, ([tape, satellite], flags)) in
        (0..).zip(on_seeds(0..*SEEDS, |seed| job(&scenario, seed)))
    {
        seen.tape.push(tape);
        seen.satellite.push(satellite);
        seen.unclean.extend(flags.map(|flags| (seed, flags)));
    }
    let within =
        |side: &[(f64, bool)], limit: f64| side.iter().filter(|s| s.0.abs() <= limit).count();
    let covered = |side: &[(f64, bool)]| side.iter().filter(|s| s.1).count();
    let worst = |side: &[(f64, bool)]| side.iter().map(|s| s.0.abs()).fold(0.0, f64::max);
    println!("seeds 0 to {}", *SEEDS - 1);
    for (name, side, limit) in [("tape", &seen.tape, 0.10), ("satellite", &seen.satellite, 0.30)] {
        println!(
            "{name}: within {limit:.2} % {}, worst {:.3} %, interval covers {}",
            within(side, limit),
            worst(side),
            covered(side)
        );
    }
    println!("flagged: {:?}", seen.unclean);
    let share = |of_100: u64| (*SEEDS * of_100 / 100) as usize;
    assert!(within(&seen.tape, 0.10) >= share(95));
    assert!(within(&seen.satellite, 0.30) >= share(95));
    // Honest intervals over 100 seeds: fewer than 88 of 95 expected is less than 1 in 300.
    assert!(covered(&seen.satellite) >= share(88));
    assert!(covered(&seen.tape) >= share(88));
    // A clean job is not to be flagged: one contradiction in some hundred is chance.
    assert!(
        seen.unclean.len() <= (3 * *SEEDS as usize).div_ceil(100),
        "flagged though clean: {:?}",
        seen.unclean
    );
}
