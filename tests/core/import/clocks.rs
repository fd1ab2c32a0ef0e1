//! Clocks of plain recordings that are off, set while they record, or not there at all.

use super::recording::{Clock, Recording};
use super::{import, wheel, worked};
use trundle_core::flags::Code;
use trundle_core::import::Clocks;
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::headland::headland;
use trundle_tests::receiver_clock::set_clock;

/// Slip differs along every row, so that no one scale fits counts and satellite speed.
#[test]
fn headlands_with_slip_are_joined_to_a_board_clock() {
    let mut joined = 0;
    for seed in 0..30 {
        let class = [ReceiverClass::Rtk, ReceiverClass::Corrected][seed as usize % 2];
        let recording = Recording::new(&headland(class), seed);
        let counts = recording.counts(10, Clock::BoardS, 0);
        let wheel_only: String = counts
            .lines()
            .map(|line| line.split(',').take(2).collect::<Vec<_>>().join(",") + "\n")
            .collect();
        for table in [counts, wheel_only] {
            match import(&recording.nmea, &table, None) {
                Ok((_, summary)) => {
                    let Clocks::Matched { offset_s, join } = summary.clocks else { panic!() };
                    let off_s = offset_s - recording.truth.start_utc_ns as f64 * 1e-9;
                    println!("{seed}: off {off_s} ± {}", join.standard_uncertainty_s);
                    assert!(off_s.abs() < 0.4, "seed {seed}: {off_s}, {join:?}");
                    joined += 1;
                }
                Err(fault) => println!("seed {seed}: {fault}"),
            }
        }
    }
    assert!(joined >= 58, "{joined} of 60");
}

/// The sentences, the receiver's clock set by `by_s` at a simulated second.
fn stepped(recording: &Recording, from_s: f64, by_s: i64) -> Vec<u8> {
    let mut nmea = recording.nmea.clone();
    set_clock(&mut nmea, recording.sent((from_s * 1e6) as u64), by_s);
    nmea
}

#[test]
fn a_receiver_clock_that_is_set_is_named_and_costs_at_most_its_pass() {
    let scenario = Scenario { passes: 6, ..Scenario::default() }.with_receiver(ReceiverClass::Rtk);
    let recording = Recording::new(&scenario, 31);
    let truth = &recording.truth;
    let second = |us: u64| us as f64 * 1e-6;
    let between_s =
        f64::midpoint(second(truth.passes[2].finish_us), second(truth.passes[3].start_us));
    let inside_s =
        f64::midpoint(second(truth.passes[2].start_us), second(truth.passes[2].finish_us));
    for (kind, by_s, from_s) in [Clock::Utc, Clock::BoardS].into_iter().flat_map(|kind| {
        [-18, -13, -1, 1, 13, 18]
            .into_iter()
            .flat_map(move |by_s| [between_s, inside_s].map(|from_s| (kind, by_s, from_s)))
    }) {
        let at = format!("{kind:?}, {by_s} s, inside {}", from_s == inside_s);
        let nmea = stepped(&recording, from_s, by_s);
        let marks = recording.marks(kind);
        let (records, summary) =
            import(&nmea, &recording.counts(10, kind, 0), Some(&marks)).unwrap();
        println!("{at}: {:?} {:?}", summary.joined(), summary.remarks);
        let work = worked(&records);
        let flags: Vec<String> = work.all_flags().map(|flag| flag.sentence()).collect();
        assert!(work.flags.iter().any(|f| f.code == Code::ReceiverClockStep), "{at}: {flags:?}");
        assert!(
            !work.all_flags().any(|f| matches!(f.code, Code::Disagree | Code::CourseLengthSuspect)),
            "{at}: {flags:?}"
        );
        for pass in &work.passes {
            let hit = from_s == inside_s && pass.number == 3;
            assert_eq!(pass.state() == "valid", !hit, "{at}: pass {} {flags:?}", pass.number);
        }
        let figures = wheel(&work);
        assert_eq!(figures.len(), 3, "{at}: {flags:?}");
        for (by, figure, expanded) in figures {
            let off = figure - truth.wheel_impulses_per_100m;
            // One in twenty lies outside of what is stated, with or without a step.
            assert!(off.abs() <= 1.5 * expanded, "{at}, {by}: off by {off}, ± {expanded}");
            assert!(expanded < 0.002 * figure, "{at}, {by}: ± {expanded}");
        }
    }
}

#[test]
fn marks_with_utc_move_with_the_counts() {
    let recording = Recording::new(&Scenario { passes: 4, ..Scenario::default() }, 8);
    let mut late = recording.clone();
    late.truth.start_utc_ns += 40_000_000_000;
    let counts = late.counts(10, Clock::Utc, 0);
    let marks = late.marks(Clock::Utc);
    let (records, summary) = import(&recording.nmea, &counts, Some(&marks)).unwrap();
    assert!(matches!(summary.clocks, Clocks::UtcPutRight { .. }), "{summary:?}");
    let work = worked(&records);
    assert!(work.passes.len() == 4 && work.passes.iter().all(|pass| pass.state() == "valid"));
    for (by, figure, expanded) in wheel(&work) {
        let off = figure - recording.truth.wheel_impulses_per_100m;
        assert!(off.abs() <= expanded, "{by}: {off} {expanded}");
    }
}
