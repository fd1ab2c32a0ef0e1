//! A recording of the bus in can-utils' form beside the receiver's sentences, made a capture.

use trundle_core::import::{ImportFault, InputFile, bus_to_records};
use trundle_core::session::Keeps;
use trundle_core::survey::bus::{NoDelay, survey};
use trundle_core::wire::bus::adapter::{AdapterItem, AdapterReader};
use trundle_core::wire::bus::log::write_line;
use trundle_core::wire::bus::message::BusSpeed;
use trundle_sim::{BusTractor, Port, Scenario, record_all};
use trundle_tests::replay_keeping;

/// The receiver's sentences and the bus, its clock `ahead_us` ahead of UTC, or from zero on.
fn recordings(seed: u64, ahead_us: Option<u64>) -> (Vec<u8>, String) {
    let tractor = BusTractor { foreign_hz: 20, ..BusTractor::default() };
    let scenario = Scenario { passes: 4, bus: Some(tractor), ..Scenario::named("bus").unwrap() };
    let (emissions, truth) = record_all(&scenario, seed);
    let start_us = truth.start_utc_ns as u64 / 1000;
    let (mut nmea, mut log) = (Vec::new(), String::new());
    let mut adapter = AdapterReader::default();
    for emission in &emissions {
        match emission.port {
            Port::Receiver => nmea.extend_from_slice(&emission.bytes),
            Port::Bus => adapter.push(&emission.bytes, |item| {
                let AdapterItem::Frame(frame, _) = item else { return };
                let time_us = ahead_us.map_or(0, |us| start_us + us) + emission.sim_us;
                log += &write_line(time_us, "can0", &frame);
            }),
            Port::Board => {}
        }
    }
    (nmea, log)
}

#[test]
fn a_recording_of_the_bus_gives_the_scale_whatever_its_clock() {
    // Right to the leap seconds, and counted from zero.
    for (seed, ahead_us) in [(21, Some(18_000_000)), (22, None)] {
        let (nmea, log) = recordings(seed, ahead_us);
        let (records, summary) = bus_to_records(&nmea, log.as_bytes(), None).unwrap();
        assert!(summary.bus.unwrap() > 1_000, "{summary:?}");
        assert!(summary.remarks.iter().any(|remark| remark.contains("other groups")));
        let session = replay_keeping(&records, Keeps::Bus(0));
        assert_eq!(session.totals().bad_import_lines, 0);
        let survey = survey(&session.trail().unwrap()).unwrap();
        assert_eq!(survey.streams.len(), 3);
        for stream in &survey.streams {
            let scale = stream.scale.as_ref().unwrap();
            assert!((scale.ratio.value - 1.0).abs() < 0.003, "{stream:?}");
            assert_eq!(stream.speed_delay, Err(NoDelay::Derived));
            assert_ne!(stream.key.kind as usize, BusSpeed::ALL.len());
        }
    }
}

#[test]
fn what_is_no_recording_of_a_moving_tractor_is_called_that() {
    let (nmea, log) = recordings(23, Some(0));
    let import = |bus: &str| bus_to_records(&nmea, bus.as_bytes(), None).map(|_| ());
    assert_eq!(import(""), Err(ImportFault::Empty(InputFile::Bus)));
    assert_eq!(import("time;id;data\n1;2;3\n"), Err(ImportFault::NotBus));
    let foreign: String =
        log.lines().filter(|l| l.contains(" 18FF")).map(|l| l.to_owned() + "\n").collect();
    assert_eq!(import(&foreign), Err(ImportFault::NoBusSpeed));
    let standing: String = log.lines().take(300).map(|l| l.to_owned() + "\n").collect();
    assert_eq!(import(&standing), Err(ImportFault::BusStood));
    // A line that is spoilt costs itself.
    let spoilt = log.replacen(" can0 ", " can0", 1);
    let (_, summary) = bus_to_records(&nmea, spoilt.as_bytes(), None).unwrap();
    assert_eq!(summary.bad.len(), 1, "{:?}", summary.bad);
}
