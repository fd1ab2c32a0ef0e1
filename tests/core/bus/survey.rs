//! The bus of a simulated tractor against its receiver: delay and scale of each speed.

use trundle_core::capture::Record;
use trundle_core::result::bus_v1::to_json;
use trundle_core::session::Keeps;
use trundle_core::session::bus::BusKey;
use trundle_core::survey::bus::{BusStream, BusSurvey, DelayAgainst, KeyedIn, NoDelay, survey};
use trundle_core::wire::bus::message::{BusSpeed, SelectedSource};
use trundle_show::text::bus::render;
use trundle_sim::{
    BusTractor, Emission, Fault, HandedOn, Keyed, Port, ReceiverClass, Scenario, Truth, record_all,
};
use trundle_tests::{records, replay_keeping};

const UNIT: u8 = 0xF0;

fn scenario(tractor: BusTractor) -> Scenario {
    let scenario = Scenario::named("bus").unwrap();
    Scenario { passes: 4, bus: Some(tractor), ..scenario }
}

fn survey_of(records: &[Record]) -> BusSurvey {
    survey(&replay_keeping(records, Keeps::Bus(0)).trail().unwrap()).unwrap()
}

fn surveyed(scenario: &Scenario, seed: u64) -> (BusSurvey, Truth) {
    let (emissions, truth) = record_all(scenario, seed);
    (survey_of(&records(&emissions, truth.start_utc_ns, None)), truth)
}

fn stream(survey: &BusSurvey, sender: u8, kind: BusSpeed) -> &BusStream {
    let key = BusKey { sender, kind };
    survey.streams.iter().find(|stream| stream.key == key).unwrap()
}

/// Of the ratio's 95 % intervals of all cases here hardly one is missed by half as much again.
#[track_caller]
fn assert_ratio(stream: &BusStream, truth: f64, most: f64) {
    let scale = stream.scale.as_ref().unwrap();
    let off = (scale.ratio.value - truth).abs();
    assert!(off <= 1.5 * scale.half_width, "{scale:?}, not {truth}");
    assert!(scale.half_width <= most, "{scale:?}");
}

#[test]
fn delay_and_scale_of_every_speed_are_found() {
    for (seed, filter_s, delay_s) in [(1, 0.2, 0.04), (2, 0.4, 0.09), (3, 0.0, 0.03)] {
        let tractor = BusTractor { filter_s, delay_s, ..BusTractor::default() };
        let (survey, _) = surveyed(&scenario(tractor), seed);
        assert_eq!(survey.streams.len(), 3);
        for kind in BusSpeed::ALL {
            let stream = stream(&survey, UNIT, kind);
            println!("{seed} {kind:?} {:?}", stream);
            assert_ratio(stream, 1.0, 0.0015);
            let speed = stream.speed_delay.unwrap();
            let distance = stream.distance_delay.unwrap();
            assert_eq!(speed.against, DelayAgainst::Ground);
            let off_s = speed.seconds.value - (filter_s + delay_s);
            assert!(off_s.abs() < 0.03, "{kind:?}: {off_s} off, {speed:?}");
            let off_s = distance.seconds.value - delay_s;
            assert!(off_s.abs() < 0.03, "{kind:?}: {off_s} off, {distance:?}");
        }
    }
}

/// A filter follows for several time constants, longer than a tractor takes from one change of
/// speed to the next: nowhere does it come to rest in between.
#[test]
fn the_delay_behind_a_slow_filter_is_found_in_full() {
    for class in [ReceiverClass::Rtk, ReceiverClass::Corrected] {
        for seed in 21..=24 {
            let (filter_s, delay_s) = (0.5, 0.04);
            let tractor = BusTractor { filter_s, delay_s, ..BusTractor::default() };
            let (survey, _) = surveyed(&scenario(tractor).with_receiver(class), seed);
            for kind in BusSpeed::ALL {
                let delay = stream(&survey, UNIT, kind).speed_delay.unwrap();
                let off_s = delay.seconds.value - (filter_s + delay_s);
                assert!(off_s.abs() < 0.03, "{class:?} {seed} {kind:?}: {off_s} off, {delay:?}");
                assert!(delay.half_width_s < 0.05, "{class:?} {seed} {kind:?}: {delay:?}");
            }
        }
    }
}

/// Without a stop there are fewer changes of speed, and smaller ones.
#[test]
fn drives_without_a_stop_give_the_same_delay_and_scale_less_surely() {
    for (seed, filter_s) in [(25, 0.5), (26, 0.2), (27, 0.4)] {
        let delay_s = 0.06;
        let tractor = BusTractor { filter_s, delay_s, ..BusTractor::default() };
        let mut rolling = scenario(tractor);
        rolling.driving = trundle_sim::Driving::RollingGate;
        let (survey, _) = surveyed(&rolling, seed);
        for kind in BusSpeed::ALL {
            let stream = stream(&survey, UNIT, kind);
            println!("{seed} {kind:?} {:?} {:?}", stream.speed_delay, stream.scale);
            assert_ratio(stream, 1.0, 0.003);
            let Ok(delay) = stream.speed_delay else { continue };
            let off_s = delay.seconds.value - (filter_s + delay_s);
            assert!(off_s.abs() < 0.03, "{seed} {kind:?}: {off_s} off, {delay:?}");
        }
    }
}

/// Messages and fixes come at the same rate here, so that they always lie alike.
#[test]
fn millimetre_steps_draw_no_delay_of_a_distance() {
    for seed in 1..=3 {
        let tractor = BusTractor { foreign_hz: 0, ..BusTractor::default() };
        let delay_s = tractor.delay_s;
        let (survey, _) = surveyed(&scenario(tractor), seed);
        for kind in BusSpeed::ALL {
            let delay = stream(&survey, UNIT, kind).distance_delay.unwrap();
            let off_s = delay.seconds.value - delay_s;
            assert!(off_s.abs() < 0.01, "{seed} {kind:?}: {off_s} off, {delay:?}");
        }
    }
}

#[test]
fn a_value_that_is_wrong_shows_in_the_ratio_and_the_right_one_follows() {
    for (seed, share) in [(4, 2.0), (5, 0.5), (6, 1.021), (7, 0.1)] {
        let mut scenario = scenario(BusTractor::default());
        let (_, truth) = record_all(&scenario, seed);
        let right = truth.wheel_impulses_per_100m;
        let keyed = KeyedIn { wheel: Some(share * right), ground: None };
        scenario.bus.as_mut().unwrap().wheel_keyed = keyed.wheel.map(Keyed::Value);
        let (survey, _) = surveyed(&scenario, seed);
        let wheel = stream(&survey, UNIT, BusSpeed::Wheel);
        assert_ratio(wheel, 1.0 / share, 0.0015 / share);
        assert_ratio(stream(&survey, UNIT, BusSpeed::Ground), 1.0, 0.0015);
        let value = keyed.right_value(wheel).unwrap();
        assert!((value.value / right - 1.0).abs() < 0.003, "{value:?}, not {right}");
    }
}

#[test]
fn what_is_handed_on_is_told_and_two_senders_are_two() {
    let second = Some((0x17, 1.06));
    let tractor = BusTractor { handed_on: HandedOn::Ground, second, ..BusTractor::default() };
    let (survey, _) = surveyed(&scenario(tractor), 8);
    assert_eq!(survey.streams.len(), 4);
    let sources = &stream(&survey, UNIT, BusSpeed::Selected).sources;
    assert_eq!((sources.len(), sources[0].0), (1, SelectedSource::Ground));
    assert_ratio(stream(&survey, UNIT, BusSpeed::Wheel), 1.0, 0.0015);
    assert_ratio(stream(&survey, 0x17, BusSpeed::Wheel), 1.06, 0.0016);
}

/// Fault row: the ignition is switched off and on, the distance wraps, values are not available,
/// bytes are damaged, the bus is silent.
#[test]
fn faults_of_the_bus_bend_no_scale() {
    let tractor = BusTractor {
        ignition_s: vec![95.0],
        distance_start_mm: 0xFAFF_FFFF - 30_000,
        no_data_s: Some((150.0, 156.0)),
        ..BusTractor::default()
    };
    let mut scenario = scenario(tractor);
    scenario.faults = vec![
        Fault::ByteDamage { port: Port::Bus, rate: 5e-4 },
        Fault::BusSilent { from_s: 60.0, to_s: 64.0 },
    ];
    let (survey, _) = surveyed(&scenario, 9);
    let wheel = stream(&survey, UNIT, BusSpeed::Wheel);
    assert_eq!(wheel.restarts, 1);
    assert!(wheel.with_speed < wheel.messages, "{wheel:?}");
    assert_ratio(wheel, 1.0, 0.002);
}

#[test]
fn every_survey_keeps_to_its_schema() {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../../../host/schemas/trundle-bus-1.schema.json"))
            .unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let second = Some((0x17, 0.93));
    let (given, _) = surveyed(&scenario(BusTractor { second, ..BusTractor::default() }), 14);
    let mut standing = scenario(BusTractor::default());
    standing.driving = trundle_sim::Driving::Parked;
    let (refused, _) = surveyed(&standing, 15);
    let keyed = KeyedIn { wheel: Some(13_000.0), ground: None };
    for survey in [Some(&given), Some(&refused), None] {
        let json = serde_json::from_str(&to_json(survey, &keyed)).unwrap();
        let faults: Vec<String> = validator.iter_errors(&json).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{faults:?}");
        let text = render(survey, &keyed);
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    }
}

fn without_board(emissions: &[Emission]) -> Vec<Emission> {
    emissions.iter().filter(|emission| emission.port != Port::Board).cloned().collect()
}

#[test]
fn bus_and_receiver_alone_give_the_scale_and_the_delay_against_the_receiver() {
    let (emissions, truth) = record_all(&scenario(BusTractor::default()), 10);
    let with = survey_of(&records(&emissions, truth.start_utc_ns, None));
    let alone = survey_of(&records(&without_board(&emissions), truth.start_utc_ns, None));
    assert_eq!(alone.receiver_delay_s, None);
    let receiver_s = with.receiver_delay_s.unwrap().value;
    for kind in BusSpeed::ALL {
        let (a, b) = (stream(&with, UNIT, kind), stream(&alone, UNIT, kind));
        assert_ratio(b, 1.0, 0.0015);
        let (a, b) = (a.speed_delay.unwrap(), b.speed_delay.unwrap());
        assert_eq!((a.against, b.against), (DelayAgainst::Ground, DelayAgainst::Receiver));
        let off_s = a.seconds.value - receiver_s - b.seconds.value;
        assert!(off_s.abs() < 0.01, "{kind:?}: {off_s}");
    }
}

#[test]
fn a_tractor_that_stands_or_a_poor_receiver_gives_no_false_certainty() {
    let mut standing = scenario(BusTractor::default());
    standing.driving = trundle_sim::Driving::Parked;
    let (survey, _) = surveyed(&standing, 11);
    let wheel = stream(&survey, UNIT, BusSpeed::Wheel);
    assert!(wheel.scale.is_err() && matches!(wheel.speed_delay, Err(NoDelay::Ride(_))));
    let poor = scenario(BusTractor::default()).with_receiver(ReceiverClass::Standalone);
    let (survey, _) = surveyed(&poor, 12);
    assert_ratio(stream(&survey, UNIT, BusSpeed::Wheel), 1.0, 0.02);
}

/// 2,000 frames a second beside the control unit's, as a full bus carries them.
#[test]
fn a_full_bus_gives_the_same_as_a_quiet_one() {
    let of = |foreign_hz| {
        let mut scenario = scenario(BusTractor { foreign_hz, ..BusTractor::default() });
        scenario.passes = 2;
        surveyed(&scenario, 13).0
    };
    let (quiet, full) = (of(0), of(2_000));
    for kind in BusSpeed::ALL {
        let [a, b] = [&quiet, &full].map(|survey| stream(survey, UNIT, kind));
        let [a_ratio, b_ratio] = [a, b].map(|stream| stream.scale.as_ref().unwrap().ratio.value);
        assert!((a_ratio - b_ratio).abs() < 2e-4, "{kind:?}: {a_ratio} {b_ratio}");
    }
}
