//! Impulses per revolution of the PTO shaft: simulated shafts, and the frequencies that published
//! shaft speeds give.

use serde_json::Value;
use trundle_core::capture::Record;
use trundle_core::cautions;
use trundle_core::result::pto_v1::to_json;
use trundle_core::survey::pto::{
    Found, NoLine, Pto, PtoOptions, PtoRefusal, ReadingRefusal, SetNow, Whole, pto,
};
use trundle_show::text::pto::render;
use trundle_sim::{PtoStep, Scenario};
use trundle_tests::held::{all_written, keeps};
use trundle_tests::{note, replay_with_trail, simulate};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-pto-1.schema.json");
/// Seconds at which the three speeds of the scenario are steady for long enough.
const STEADY_S: [(f64, f64); 3] = [(30.0, 540.0), (60.0, 750.0), (90.0, 1000.0)];

fn scenario(per_rev: u32) -> Scenario {
    let min_edge_interval_us = [200, 200, 500];
    Scenario {
        pto_per_rev: per_rev,
        min_edge_interval_us,
        ..Scenario::named("pto-speeds").unwrap()
    }
}

fn typed(records: &[Record], lines: &[(f64, f64)]) -> Vec<Record> {
    let mut records = records.to_vec();
    lines.iter().for_each(|(at_s, rpm)| note(&mut records, *at_s, &format!("shaft {rpm}")));
    records
}

fn work(records: &[Record], options: PtoOptions) -> Pto {
    let session = replay_with_trail(records, 0);
    let trail = session.trail().unwrap();
    pto(&trail, session.notes(), session.totals().capabilities, options)
}

fn measured(per_rev: u32, seed: u64, lines: &[(f64, f64)], options: PtoOptions) -> Pto {
    work(&typed(&simulate(&scenario(per_rev), seed, None).0, lines), options)
}

fn set(set_now: f64) -> PtoOptions {
    PtoOptions { set_now: Some(set_now), ..PtoOptions::default() }
}

fn found(pto: &Pto) -> &Found {
    pto.found.as_ref().unwrap()
}

/// Frequencies of the signal: ISO 11786:1995, 5.3 as restated in public (6 impulses per
/// revolution), with the shaft speeds 540 and 1000 rpm of ISO 500-1:2014 (types 1 to 3, 2nd hand)
/// and 750; 40 per revolution from memory. Shaft speed over 60 times impulses per revolution.
#[test]
fn rates_are_those_of_the_standard_speeds() {
    for (per_rev, rpm, rate_hz) in [
        (6, 540.0, 54.0),
        (6, 750.0, 75.0),
        (6, 1000.0, 100.0),
        (40, 540.0, 360.0),
        (40, 1000.0, 666.666_667),
    ] {
        let still = Scenario { pto_wander: 0.0, rest_s: 14.0, ..scenario(per_rev) };
        let steps = vec![PtoStep { from_s: 0.0, rpm }];
        let records = simulate(&Scenario { pto_steps: steps, ..still }, 1, None).0;
        let pto = work(&typed(&records, &[(13.0, rpm)]), PtoOptions::default());
        let rate = pto.readings[0].rate.unwrap();
        // The board's clock is off by some 20 parts in a million, one edge time by 1 us.
        assert!((rate.rate_hz / rate_hz - 1.0).abs() < 5e-5, "{rate:?}");
        assert_eq!(found(&pto).whole, Whole::Only(per_rev));
    }
}

#[test]
fn three_speeds_give_the_number_and_a_line_through_zero() {
    for (per_rev, seed) in [(6, 1), (6, 2), (40, 3), (40, 4), (12, 5), (1, 6)] {
        let pto = measured(per_rev, seed, &STEADY_S, PtoOptions::default());
        let found = found(&pto);
        assert_eq!(found.to_enter(), Some(per_rev), "{found:?}");
        let line = found.line.unwrap();
        assert!((line.slope - f64::from(per_rev)).abs() <= line.slope_half_width, "{line:?}");
        assert!(!line.offset_differs && line.reduced_chi_squared.is_some(), "{line:?}");
    }
}

#[test]
fn the_usual_mistakes_are_named() {
    let records = typed(&simulate(&scenario(6), 7, None).0, &STEADY_S);
    for (set_now, verdict, words) in [
        (12.0, SetNow::TwiceTooHigh, "A FACTOR OF TWO TOO HIGH"),
        (3.0, SetNow::HalfTooLow, "A FACTOR OF TWO TOO LOW"),
        (6.0, SetNow::Equal, "this is right"),
        (40.0, SetNow::Other, "WRONG"),
    ] {
        let pto = work(&records, set(set_now));
        assert_eq!(found(&pto).set_now, Some(verdict));
        let text = render(&pto);
        assert!(text.starts_with("PTO: ENTER 6 ") && text.contains(words), "{text}");
    }
}

#[test]
fn the_display_step_is_in_the_interval_and_shared_by_readings_of_one_speed() {
    let step = |display_step_rpm: f64| PtoOptions { display_step_rpm, ..PtoOptions::default() };
    let records = simulate(&scenario(6), 8, None).0;
    let half = |lines: &[(f64, f64)], rpm: f64| {
        found(&work(&typed(&records, lines), step(rpm))).expanded.standard_uncertainty
    };
    let once = [(26.0, 540.0)];
    let thrice = [(22.0, 540.0), (26.0, 540.0), (30.0, 540.0)];
    assert!(half(&once, 1.0) < half(&once, 10.0));
    // Half a step of 10 rpm, rectangular (JCGM 100, 4.3.7): 5/sqrt(3) rpm of 540, times 6.
    let display = 6.0 * 5.0 / 3.0_f64.sqrt() / 540.0;
    assert!(half(&once, 10.0) > display);
    assert!(half(&thrice, 10.0) > display && half(&thrice, 10.0) < half(&once, 10.0));
    // Forty a revolution at one speed and a coarse display: more than one number fits.
    let coarse = measured(40, 9, &[(30.0, 540.0)], step(40.0));
    assert!(matches!(found(&coarse).whole, Whole::Several(low, high) if low < 40 && high > 40));
    assert_eq!(found(&coarse).to_enter(), None);
}

#[test]
fn an_unsteady_shaft_is_refused_with_its_numbers() {
    // The shaft runs up from 540 to 750 rpm from second 40 to 43.
    let pto = measured(6, 10, &[(44.0, 750.0), (60.0, 750.0)], PtoOptions::default());
    let Err(ReadingRefusal::NotSteady { lowest_hz, highest_hz }) = pto.readings[0].rate else {
        panic!("{:?}", pto.readings[0])
    };
    assert!((53.0..56.0).contains(&lowest_hz) && (74.0..77.0).contains(&highest_hz));
    assert_eq!(found(&pto).to_enter(), Some(6), "the other reading is used");
    let alone = measured(6, 10, &[(44.0, 750.0)], PtoOptions::default());
    assert_eq!(alone.found, Err(PtoRefusal::NoneUsable { typed: 1 }));
    assert!(render(&alone).contains("was not steady"), "{}", render(&alone));
    // Before the shaft turned, and before there were enough counts.
    let early = measured(6, 10, &[(9.0, 540.0), (3.0, 540.0)], PtoOptions::default());
    let refusals: Vec<_> = early.readings.iter().map(|reading| reading.rate.err()).collect();
    assert_eq!(
        refusals,
        [Some(ReadingRefusal::CountsMissing), Some(ReadingRefusal::NoImpulses)],
        "sorted by the time they were typed"
    );
}

#[test]
fn impulses_faster_than_the_board_takes_are_not_counted_as_something_else() {
    // 40 a revolution at 1000 rpm come every 1.5 ms; this board wants 2 ms between them.
    let slow = Scenario { min_edge_interval_us: [200, 200, 2_000], ..scenario(40) };
    let pto = work(&typed(&simulate(&slow, 16, None).0, &STEADY_S), PtoOptions::default());
    assert!(matches!(pto.readings[2].rate, Err(ReadingRefusal::EdgesRefused { .. })), "{pto:?}");
    assert_eq!(found(&pto).to_enter(), Some(40), "by the other two");
}

#[test]
fn one_reading_gives_a_ratio_and_says_that_there_is_no_offset() {
    let one = measured(6, 11, &STEADY_S[..1], PtoOptions::default());
    assert_eq!(found(&one).line, Err(NoLine::OneSpeed));
    assert_eq!(found(&one).to_enter(), Some(6));
    assert!(render(&one).contains("one shaft speed only"), "{}", render(&one));
    let two = measured(6, 11, &STEADY_S[..2], PtoOptions::default());
    let line = found(&two).line.unwrap();
    assert!(line.reduced_chi_squared.is_none() && !line.offset_differs, "{line:?}");
}

#[test]
fn a_wrongly_typed_speed_is_noticed() {
    let lines = [(30.0, 540.0), (60.0, 750.0), (90.0, 540.0)];
    let pto = measured(6, 12, &lines, PtoOptions::default());
    assert_eq!(found(&pto).to_enter(), None);
    assert!(render(&pto).starts_with("PTO: NOT CLEAR"), "{}", render(&pto));
}

#[test]
fn without_sensor_or_shaft_it_says_that_it_is_not_needed() {
    let standing = Scenario { pto_steps: Vec::new(), rest_s: 20.0, ..scenario(6) };
    let records = simulate(&standing, 13, None).0;
    let still = work(&records, PtoOptions::default());
    assert_eq!(still.found, Err(PtoRefusal::NoImpulses));
    let session = replay_with_trail(&records, 0);
    let none = pto(&session.trail().unwrap(), &[], Some(0b011), PtoOptions::default());
    assert_eq!(none.found, Err(PtoRefusal::NoSensor));
    for pto in [&still, &none] {
        assert!(render(pto).starts_with("PTO: NOT NEEDED"), "{}", render(pto));
    }
    let nothing = work(&[], PtoOptions::default());
    assert_eq!(nothing.found, Err(PtoRefusal::NoCounts));
    let untyped = measured(6, 13, &[], PtoOptions::default());
    assert_eq!(untyped.found, Err(PtoRefusal::NoReadings));
}

/// Each kind of result once.
fn results() -> Vec<Pto> {
    let plain = PtoOptions::default();
    vec![
        measured(6, 14, &STEADY_S, set(12.0)),
        measured(6, 14, &STEADY_S[..1], plain),
        measured(40, 14, &[(30.0, 540.0)], PtoOptions { display_step_rpm: 40.0, ..plain }),
        measured(6, 14, &[(30.0, 600.0)], plain),
        measured(6, 14, &[(44.0, 750.0)], plain),
        measured(6, 14, &[], plain),
    ]
}

#[test]
fn results_keep_to_their_schema() {
    let all: Vec<Value> =
        results().iter().map(|pto| serde_json::from_str(&to_json(pto)).unwrap()).collect();
    keeps(SCHEMA, &all);
    all_written(SCHEMA, &all);
}

#[test]
fn the_text_keeps_to_the_terminal_and_carries_the_cautions() {
    for text in results().iter().map(render) {
        assert!(text.starts_with("PTO: ") && text.ends_with('\n'), "{text}");
        assert!(cautions::PTO.iter().all(|caution| text.contains(caution)), "{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
            assert_eq!(line.trim_end(), line, "blanks at the end");
        }
    }
}
