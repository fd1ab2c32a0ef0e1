//! Lines, clocks and boards that misbehave, one fault at a time, with the simulator's truth beside
//! it: counts stay those of the board, and what cannot be right is told.

use proptest::prelude::*;
use std::collections::BTreeSet;
use trundle_core::capture::{Entry, HostMarkAction, Record, WallClock};
use trundle_core::figure::Work;
use trundle_core::flags::{Code, Flag};
use trundle_core::session::drive::Drive;
use trundle_core::session::marks::{MarkBook, MarkTime, Press, Ruling};
use trundle_protocol::Deframer;
use trundle_protocol::message::ToHost;
use trundle_sim::{Emission, Fault, Port, Scenario, Truth, record_all};
use trundle_tests::days::{Harm, spoil};
use trundle_tests::receiver_clock::set_clock_of;
use trundle_tests::{
    Draws, HOST_START_NS, assert_not_misled, plain_course, records, replay, work_session,
};

const SEEDS: u64 = 3;

/// A short job: two passes, and the receiver of the plain scenario.
fn short() -> Scenario {
    Scenario { passes: 2, ..Scenario::default() }
}

fn worked(emissions: &[Emission], truth: &Truth, change: impl Fn(&mut Vec<Record>)) -> Work {
    let mut records = records(emissions, truth.start_utc_ns, None);
    change(&mut records);
    work_session(&replay(&records), Some(&plain_course(100.0)))
}

fn middle_us(truth: &Truth, pass: usize) -> u64 {
    u64::midpoint(truth.passes[pass].start_us, truth.passes[pass].finish_us)
}

fn words(work: &Work) -> Vec<String> {
    work.all_flags().map(Flag::sentence).collect()
}

fn has(work: &Work, code: Code) -> bool {
    work.all_flags().any(|flag| flag.code == code)
}

/// Every pass that was measured has the wheel's impulses of the truth.
fn assert_counts(work: &Work, truth: &Truth, at: &str) {
    for (pass, truth) in work.passes.iter().zip(&truth.passes) {
        let counted = pass.measured.as_ref().unwrap().impulses[0].unwrap().impulses;
        let off = counted - truth.impulses[0] as f64;
        assert!(off.abs() <= 2.0, "{at}: pass {} off by {off}: {:?}", pass.number, words(work));
    }
}

#[test]
fn bytes_stolen_by_another_reader_are_told_and_lose_no_impulse() {
    for seed in 0..SEEDS {
        let (mut emissions, truth) = record_all(&short(), seed);
        let (from_us, to_us) = (truth.passes[0].start_us + 2_000_000, truth.passes[0].finish_us);
        // The other program gets whole reads.
        let mut draws = Draws::new(seed);
        emissions.retain(|e| {
            e.port != Port::Board
                || !(from_us..to_us - 2_000_000).contains(&e.sim_us)
                || draws.below(3) > 0
        });
        let work = worked(&emissions, &truth, |_| {});
        let at = format!("seed {seed}");
        assert!(has(&work, Code::FramesLost) && has(&work, Code::LinkNoisy), "{:?}", words(&work));
        assert_counts(&work, &truth, &at);
        assert_not_misled(&work, &truth, &at);
    }
}

#[test]
fn bytes_that_come_late_and_in_bunches_change_no_count_and_mislead_nobody() {
    for seed in 0..SEEDS {
        for bunch_us in [16_000, 100_000, 1_000_000, 4_000_000] {
            let (mut emissions, truth) = record_all(&short(), seed);
            let all = (0, truth.end_us + 10_000_000);
            let mut draws = Draws::new(seed);
            for port in [Port::Board, Port::Receiver] {
                spoil(&mut emissions, port, all, Harm::Bunch(bunch_us), &mut draws);
            }
            let work = worked(&emissions, &truth, |_| {});
            let at = format!("seed {seed}, every {bunch_us} us");
            assert_counts(&work, &truth, &at);
            assert_not_misled(&work, &truth, &at);
        }
    }
}

#[test]
fn silence_and_then_a_burst_lose_no_impulse() {
    for seed in 0..SEEDS {
        let (mut emissions, truth) = record_all(&short(), seed);
        let from_us = middle_us(&truth, 0);
        let mut draws = Draws::new(seed);
        let span = (from_us, from_us + 8_000_000);
        spoil(&mut emissions, Port::Board, span, Harm::Stall, &mut draws);
        let work = worked(&emissions, &truth, |_| {});
        assert_counts(&work, &truth, &format!("seed {seed}"));
        assert_not_misled(&work, &truth, &format!("seed {seed}"));
    }
}

#[test]
fn no_damage_to_the_bytes_makes_a_frame_that_was_never_sent() {
    let (emissions, _) = record_all(&Scenario { passes: 1, ..Scenario::default() }, 5);
    let of_board = |emissions: &[Emission]| -> Vec<String> {
        let mut deframer = Deframer::<ToHost>::new();
        let bytes = emissions.iter().filter(|e| e.port == Port::Board).flat_map(|e| &e.bytes);
        let frames = bytes.filter_map(|&byte| deframer.push(byte)?.ok());
        frames.map(|frame| format!("{frame:?}")).collect()
    };
    let sent: BTreeSet<String> = of_board(&emissions).into_iter().collect();
    for rate in [1e-6, 1e-5, 1e-4, 1e-3, 1e-2] {
        for harm in [Harm::Lose(rate), Harm::Flip(rate), Harm::Double(rate), Harm::Zeros(rate)] {
            let mut spoilt = emissions.clone();
            let mut draws = Draws::new(9);
            spoil(&mut spoilt, Port::Board, (0, u64::MAX), harm, &mut draws);
            let got = of_board(&spoilt);
            assert!(got.iter().all(|frame| sent.contains(frame)), "{harm:?}: a frame made up");
            let lost = 1.0 - got.len() as f64 / sent.len() as f64;
            // A frame of some 60 bytes falls with any of them, and may take its neighbour along.
            assert!(lost <= 160.0 * rate + 0.01, "{harm:?}: {lost}");
        }
    }
}

#[test]
fn a_reset_too_short_to_be_missed_still_refuses_its_pass() {
    for seed in 0..SEEDS {
        let (_, truth) = record_all(&short(), seed);
        for boot_s in [0.0, 0.001, 0.02] {
            let at_s = middle_us(&truth, 0) as f64 * 1e-6;
            let faults = vec![Fault::BoardReset { at_s, boot_s }];
            let (emissions, truth) = record_all(&Scenario { faults, ..short() }, seed);
            let work = worked(&emissions, &truth, |_| {});
            let states: Vec<&str> = work.passes.iter().map(|pass| pass.state()).collect();
            assert_eq!(states, ["refused", "valid"], "seed {seed}: {:?}", words(&work));
            assert!(work.passes[0].flags.iter().any(|flag| flag.code == Code::BoardReset));
        }
    }
}

#[test]
fn a_board_clock_that_drifts_and_steps_is_followed() {
    for ppm in [-100.0, 100.0] {
        for seed in 0..SEEDS {
            let (_, truth) = record_all(&short(), seed);
            let at_s = middle_us(&truth, 0) as f64 * 1e-6;
            let faults = vec![Fault::DriftStep { at_s, ppm: -ppm }];
            let scenario = Scenario { board_drift_ppm: ppm, faults, ..short() };
            let (emissions, truth) = record_all(&scenario, seed);
            let work = worked(&emissions, &truth, |_| {});
            assert_counts(&work, &truth, &format!("{ppm} ppm, seed {seed}"));
            assert_not_misled(&work, &truth, &format!("{ppm} ppm, seed {seed}"));
        }
    }
}

/// Notes of the wall clock every ten seconds, off by `off_s` from a time on.
fn wall(records: &mut Vec<Record>, truth: &Truth, step: (f64, f64)) {
    for tens in 0..truth.end_us / 10_000_000 {
        let at_s = tens as f64 * 10.0;
        let off_s = if at_s >= step.0 { step.1 } else { 0.0 };
        let host_ns = HOST_START_NS + (at_s * 1e9) as u64;
        let utc_ns = truth.start_utc_ns + ((at_s + off_s) * 1e9) as i64;
        let place = records.partition_point(|record| record.host_ns < host_ns).max(1);
        let entry = Entry::WallClock(WallClock { utc_ns });
        records.insert(place, Record { host_ns, entry });
    }
}

#[test]
fn a_stepped_wall_clock_is_told_and_changes_no_figure() {
    for seed in 0..SEEDS {
        let (emissions, truth) = record_all(&short(), seed);
        let figures = |work: &Work| -> Vec<_> {
            work.channels.iter().map(|c| (c.value_to_enter, c.best().map(|q| q.value()))).collect()
        };
        let sound = worked(&emissions, &truth, |records| wall(records, &truth, (1e9, 0.0)));
        assert!(!has(&sound, Code::ClockStep));
        for step_s in [-3600.0, -2.0, 2.0, 7200.0] {
            let at_s = middle_us(&truth, 0) as f64 * 1e-6 - 5.0;
            let work = worked(&emissions, &truth, |records| wall(records, &truth, (at_s, step_s)));
            assert!(has(&work, Code::ClockStep), "{step_s} s, seed {seed}: {:?}", words(&work));
            assert_eq!(figures(&work), figures(&sound), "{step_s} s, seed {seed}");
        }
    }
}

/// A receiver that goes from GPS time to UTC, or sets a clock of its own: the step is named, the
/// passes on both sides are measured as if there had been none, and only one with the step inside
/// has no distance by satellite.
#[test]
fn a_receiver_clock_that_is_set_costs_at_most_its_pass() {
    let scenario = Scenario { passes: 4, ..Scenario::default() };
    for seed in 0..SEEDS {
        let (emissions, truth) = record_all(&scenario, seed);
        let sound = worked(&emissions, &truth, |_| {});
        assert!(!has(&sound, Code::ReceiverClockStep), "seed {seed}: {:?}", words(&sound));
        let between_us = u64::midpoint(truth.passes[1].finish_us, truth.passes[2].start_us);
        for (by_s, from_us) in [-18, -13, -1, 1, 13, 18]
            .into_iter()
            .flat_map(|by_s| [(by_s, between_us), (by_s, middle_us(&truth, 1))])
        {
            let inside = from_us != between_us;
            let at = format!("seed {seed}, {by_s} s, inside {inside}");
            let mut stepped = emissions.clone();
            set_clock_of(&mut stepped, from_us, by_s);
            let work = worked(&stepped, &truth, |_| {});
            let named = work.flags.iter().find(|f| f.code == Code::ReceiverClockStep);
            let way = if by_s < 0 { "back" } else { "ahead" };
            let size = format!("set {way} by {}.0 s", by_s.abs());
            assert!(named.is_some_and(|f| f.what.contains(&size)), "{at}: {:?}", words(&work));
            for code in [Code::Disagree, Code::CourseLengthSuspect, Code::PassesScatter] {
                assert!(!has(&work, code), "{at}: {:?}", words(&work));
            }
            for (pass, before) in work.passes.iter().zip(&sound.passes) {
                let hit = inside && pass.number == 2;
                assert_eq!(pass.state() == "valid", !hit, "{at}: {:?}", words(&work));
                let length = |pass: &trundle_core::figure::PassSummary| {
                    Some(pass.measured.as_ref()?.satellite?.joined.length_m)
                };
                match length(pass).zip(length(before)) {
                    Some((a, b)) => assert!((a - b).abs() < 0.02, "{at}: {a} {b}"),
                    None => assert!(hit, "{at}: {:?}", words(&work)),
                }
            }
            assert_not_misled(&work, &truth, &at);
        }
    }
}

/// While the computer sleeps its own clock stands still, and nothing is received.
#[test]
fn a_computer_that_sleeps_in_a_pass_misleads_nobody() {
    for seed in 0..SEEDS {
        for asleep_s in [5_u64, 25] {
            let (mut emissions, truth) = record_all(&short(), seed);
            let from_us = middle_us(&truth, 0) - 5_000_000;
            let slept = (from_us, from_us + asleep_s * 1_000_000);
            for port in [Port::Board, Port::Receiver] {
                spoil(&mut emissions, port, slept, Harm::Silence, &mut Draws::new(seed));
            }
            let work = worked(&emissions, &truth, |records| {
                wall(records, &truth, (1e9, 0.0));
                let woke_ns = HOST_START_NS + slept.1 * 1_000;
                for record in records.iter_mut().filter(|record| record.host_ns >= woke_ns) {
                    record.host_ns -= asleep_s * 1_000_000_000;
                }
                records.sort_by_key(|record| record.host_ns);
            });
            let at = format!("seed {seed}, {asleep_s} s asleep");
            let state = work.passes[0].state();
            assert_ne!(state, "valid", "{at}: {:?}", words(&work));
            println!("{at}: {state}, {:?}", words(&work));
            assert_counts(&work, &truth, &at);
            assert_not_misled(&work, &truth, &at);
        }
    }
}

#[test]
fn a_stop_at_the_wrong_peg_is_never_a_figure() {
    for seed in 0..SEEDS {
        for off_m in [-50.0, -10.0, -1.0, 1.0, 4.0] {
            let faults = vec![Fault::WrongPeg { pass: 1, off_m }];
            let scenario = Scenario { faults, passes: 4, ..Scenario::default() };
            let (emissions, truth) = record_all(&scenario, seed);
            let work = worked(&emissions, &truth, |_| {});
            let at = format!("seed {seed}, {off_m} m off");
            assert!(!work.is_clean(), "{at}");
            let told = work.all_flags().any(|flag| flag.pass == Some(1));
            assert!(told, "{at}: {:?}", words(&work));
            assert_not_misled(&work, &truth, &at);
        }
    }
}

proptest! {
    /// Whatever is pressed where and when: passes are numbered without a gap, a finish ends the
    /// pass that is open, and the same press twice is one.
    #[test]
    fn presses_in_any_order_make_one_state_machine(
        presses in prop::collection::vec((0_u64..3_000, 0_u64..12, 0_u8..5), 1..60),
    ) {
        let mut book = MarkBook::default();
        let mut now_ns = 0;
        let mut open = None;
        let mut keys = BTreeSet::new();
        for (after_ms, key, what) in presses {
            now_ns += after_ms * 1_000_000;
            let action = [
                HostMarkAction::Mark,
                HostMarkAction::Start,
                HostMarkAction::Finish,
                HostMarkAction::Undo,
                HostMarkAction::Mark,
            ][usize::from(what)];
            // The last kind is the board's button, which has no key.
            let key = (what < 4).then_some(key);
            let press = Press { host_ns: now_ns, time: MarkTime::Host, action, key };
            let ruling = book.press(&press, || Drive::Unknown);
            let again = key.is_some_and(|key| !keys.insert(key));
            if again {
                let repeats = matches!(ruling, Ruling::Repeat { .. });
                prop_assert!(repeats, "the same key gave {:?}", ruling);
            }
            match ruling {
                Ruling::Start { number, abandons } => {
                    prop_assert_eq!(abandons, open);
                    open = Some(number);
                }
                Ruling::Finish { number } => {
                    prop_assert_eq!(Some(number), open);
                    open = None;
                }
                Ruling::FinishUndone { number } => open = Some(number),
                Ruling::StartUndone { .. } => open = None,
                _ => {}
            }
            prop_assert_eq!(book.open(), open);
        }
    }
}
