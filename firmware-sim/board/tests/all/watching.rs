//! The programs that watch inputs, under waveforms as fast as they promise to follow.

use crate::machine::Machine;
use proptest::prelude::*;
use trundle_board::pio::{BLIND_NS, CHANGES, CLOCK_HZ, FALLS, LOOK_NS};
use trundle_board::stamp;

/// Picoseconds, so that a clock of 16 MHz is a whole number of them.
const CLOCK_PS: u64 = 1_000_000_000_000 / CLOCK_HZ as u64;
/// A pin is seen two processor clocks late.
const SYNCHRONISER_PS: u64 = 16_000;
const LEAST_LEVEL_PS: u64 = LOOK_NS as u64 * 1_000;

/// Changes of the pin, from high, picoseconds.
fn level_at(changes: &[u64], at_ps: u64) -> bool {
    changes.partition_point(|&change| change <= at_ps) % 2 == 0
}

/// Runs over a waveform; all that was pushed, each taken at once. X begins at `x`.
fn run(machine: &mut Machine, x: u32, changes: &[u64], clocks: u64) -> Vec<u32> {
    machine.x = x;
    let mut out = Vec::new();
    for clock in 0..clocks {
        machine.clock(level_at(changes, (clock * CLOCK_PS).saturating_sub(SYNCHRONISER_PS)));
        out.extend(machine.received.pop_front());
    }
    out
}

/// Pulses as close as the program promises to follow: high before a fall, low after it.
fn pulses() -> impl Strategy<Value = Vec<(u64, u64)>> {
    let longest = 3 * u64::from(BLIND_NS) * 1_000;
    prop::collection::vec((LEAST_LEVEL_PS..longest, LEAST_LEVEL_PS..longest), 1..60)
}

/// Their changes; highs are made longer where two falls would be closer than promised.
fn changes(pulses: &[(u64, u64)]) -> Vec<u64> {
    let (mut at, mut last_fall, mut out) = (10 * CLOCK_PS, None, Vec::new());
    for (high, low) in pulses {
        let least = last_fall.map_or(0, |fall: u64| fall + u64::from(BLIND_NS) * 1_000);
        let fall = (at + high).max(least);
        at = fall + low;
        last_fall = Some(fall);
        out.extend([fall, at]);
    }
    out
}

proptest! {
    /// None is lost, none is made up, and each is stamped when it was.
    #[test]
    fn falls_are_all_seen(pulses in pulses(), start_us in any::<u32>()) {
        let changes = changes(&pulses);
        let clocks = changes.last().unwrap() / CLOCK_PS + 40;
        let x = !stamp::steps(start_us);
        let got = run(&mut Machine::new(&FALLS), x, &changes, clocks);
        let falls: Vec<u64> = changes.iter().copied().step_by(2).collect();
        prop_assert_eq!(got.len(), falls.len());
        for (step, fall) in got.into_iter().zip(falls) {
            let since_ps = u64::from(step.wrapping_sub(stamp::steps(start_us))) * 2 * CLOCK_PS;
            // Seen at the next look but one, and stamped behind it.
            prop_assert!((fall..fall + 500_000).contains(&since_ps), "{fall} at {since_ps}");
        }
    }

    /// Whatever the pin does, X loses one in two clocks, also over its wrap: it is a clock.
    #[test]
    fn the_clock_never_drifts(
        mut changes in prop::collection::vec(0_u64..4_000 * CLOCK_PS, 0..400),
        x in prop_oneof![any::<u32>(), 0_u32..2_000],
    ) {
        changes.sort_unstable();
        for machine in [&mut Machine::new(&FALLS), &mut Machine::new(&CHANGES)] {
            run(machine, x, &changes, 4_000);
            let counted = x.wrapping_sub(machine.x);
            prop_assert!((1_999..=2_000).contains(&counted), "{counted} in 4000 clocks");
        }
    }

    /// Both edges, each with the level after it.
    #[test]
    fn changes_are_all_seen(
        levels in prop::collection::vec(600_000_u64..5_000_000, 1..60),
        start_us in any::<u32>(),
    ) {
        let mut at = 10 * CLOCK_PS;
        let changes: Vec<u64> = levels.iter().map(|length| { at += length; at }).collect();
        let start = stamp::steps(start_us);
        let clocks = at / CLOCK_PS + 40;
        let got = run(&mut Machine::new(&CHANGES), !start, &changes, clocks);
        // The pin is high at the start, which is the first change.
        prop_assert_eq!(got.len(), changes.len() + 1);
        let now = start.wrapping_add((clocks / 2) as u32);
        for (number, word) in got.into_iter().enumerate() {
            let (step, level) = stamp::change(word, now);
            let since_ps = u64::from(step.wrapping_sub(start)) * 2 * CLOCK_PS;
            let truth = if number == 0 { 0 } else { changes[number - 1] };
            prop_assert!((truth..truth + 600_000).contains(&since_ps), "{truth} at {since_ps}");
            prop_assert_eq!(level, number % 2 == 0);
        }
    }
}

/// 1 MHz, a fifth of it high or low: eight wait, the ninth is flagged and the clock goes on.
#[test]
fn what_is_too_fast_for_the_processor_is_flagged() {
    for high_ps in [200_000, 500_000, 800_000] {
        let changes: Vec<u64> =
            (1..200).flat_map(|n| [n * 1_000_000, (n + 1) * 1_000_000 - high_ps]).collect();
        let mut machine = Machine::new(&FALLS);
        let seen = run(&mut machine, u32::MAX, &changes, 3_300);
        assert_eq!(seen.len(), 199, "high for {high_ps} ps: all are taken in time");
        assert!(!machine.fault);
        let mut machine = Machine::new(&FALLS);
        machine.x = u32::MAX;
        for clock in 0..3_300 {
            machine.clock(level_at(&changes, clock * CLOCK_PS));
        }
        assert_eq!(machine.received.len(), 8);
        assert!(machine.fault, "nobody takes them");
        assert_eq!(u32::MAX - machine.x, 1_650);
    }
}
