//! Old sentences of the receiver come again, beside a peg and under way: they are told, or change
//! nothing.

use trundle_core::figure::PassSummary;
use trundle_sim::{Emission, Port, ReceiverClass, Scenario, record_all};
use trundle_tests::{assert_not_misled, plain_course, records, replay, work_session};

/// Put the receiver's bytes of a stretch in again, later: at once or as fast as they came.
fn again(
    emissions: &[Emission],
    from_us: u64,
    lasts_us: u64,
    at_us: u64,
    paced: bool,
) -> Vec<Emission> {
    let old = |e: &&Emission| {
        e.port == Port::Receiver && (from_us..from_us + lasts_us).contains(&e.sim_us)
    };
    let later = |e: &Emission| Emission {
        sim_us: at_us + if paced { e.sim_us - from_us } else { 0 },
        ..e.clone()
    };
    let mut all: Vec<Emission> = emissions.to_vec();
    all.extend(emissions.iter().filter(old).map(later));
    all.sort_by_key(|emission| emission.sim_us);
    all
}

#[test]
fn old_sentences_that_come_again_shorten_no_pass_unsaid() {
    let scenario = Scenario { passes: 4, ..Scenario::default() }.with_receiver(ReceiverClass::Rtk);
    let (emissions, truth) = record_all(&scenario, 5);
    let work = |emissions: &[Emission]| {
        let records = records(emissions, truth.start_utc_ns, None);
        work_session(&replay(&records), Some(&plain_course(100.0)))
    };
    let length = |pass: &PassSummary| Some(pass.measured.as_ref()?.satellite.as_ref()?.joined);
    let finish_us = truth.passes[1].finish_us;
    let middle_us = u64::midpoint(truth.passes[1].start_us, finish_us);
    for (at_us, back_s, lasts_s, paced) in [
        (finish_us + 17_000_000, 20, 4, false),
        (finish_us + 18_000_000, 25, 10, false),
        (finish_us + 19_000_000, 30, 3, true),
        (finish_us + 4_000_000, 12, 6, false),
        (finish_us + 4_000_000, 12, 6, true),
        (middle_us, 15, 8, false),
        (middle_us, 90, 8, true),
    ] {
        let from_us = at_us - back_s * 1_000_000;
        let spoilt = again(&emissions, from_us, lasts_s * 1_000_000, at_us, paced);
        let work = work(&spoilt);
        let at = format!("{back_s} s old, for {lasts_s} s, paced {paced}, at {at_us}");
        for (pass, truth) in work.passes.iter().zip(&truth.passes) {
            let Some(by_satellite) = length(pass).filter(|_| pass.state() == "valid") else {
                continue;
            };
            let off_m = (by_satellite.length_m - truth.chord_m).abs();
            let allowed_m = 6.0 * by_satellite.standard_uncertainty_m + 0.005;
            assert!(off_m <= allowed_m, "{at}: pass {} off by {off_m}", pass.number);
        }
        assert_not_misled(&work, &truth, &at);
    }
}
