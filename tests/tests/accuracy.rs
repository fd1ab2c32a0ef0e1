//! The figures against the simulator's truth, over many seeds.
#![allow(clippy::unwrap_used, missing_docs)]

use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::{plain_course, simulated_work};

#[test]
fn explore() {
    let class: ReceiverClass = match std::env::var("CLASS").as_deref() {
        Ok("rtk") => ReceiverClass::Rtk,
        Ok("standalone") => ReceiverClass::Standalone,
        _ => ReceiverClass::Corrected,
    };
    let scenario = Scenario::default().with_receiver(class);
    let n: u64 = std::env::var("N").ok().and_then(|v| v.parse().ok()).unwrap_or(20);
    for seed in 0..n {
        let (work, truth) = simulated_work(&scenario, seed, &plain_course(scenario.course_m));
        let wheel = &work.channels[0];
        let error = |q: &Option<trundle::budget::Quantity>| {
            q.as_ref().map_or((f64::NAN, f64::NAN), |q| {
                (
                    100.0 * (q.value() / truth.wheel_impulses_per_100m - 1.0),
                    100.0 * q.standard_uncertainty() / q.value(),
                )
            })
        };
        println!(
            "{seed:>3} tape {:+.4?} sat {:+.4?} comb {:+.4?} lag {:?} flags {:?}",
            error(&wheel.tape),
            error(&wheel.satellite),
            error(&wheel.combined),
            work.clock.map(|c| (c.lag_s, c.standard_uncertainty_s)),
            work.all_flags().map(|f| f.code.word()).collect::<Vec<_>>()
        );
        if seed == 0 {
            println!("{}", trundle::report::text::render(&work));
        }
    }
}
