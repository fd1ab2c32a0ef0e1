//! The signal of the bench check: its numbers written out, and what the counting core makes of it.
#![allow(clippy::unwrap_used, missing_docs)]

use trundle_counter::Counter;
use trundle_counter::channel::ChannelState;
use trundle_counter::mark::{MARK_DEAD_TIME_US, MARKS_WAITING};
use trundle_counter::test_signal::*;
use trundle_protocol::units::Channel;

mod common;
use common::{Bench, config};

/// Start and end of a phase, from its first fall to the end of its last period.
fn window(phase: usize) -> std::ops::Range<u64> {
    starts_us(phase)..starts_us(phase) + PHASES[phase].length_us()
}

fn falls(phase: usize) -> Vec<u64> {
    let changes = Changes::default().filter(|change| change.falls).map(|change| change.at_us);
    changes.filter(|at_us| window(phase).contains(at_us)).collect()
}

#[test]
fn the_table_is_what_was_agreed() {
    let starts: Vec<u64> = (0..PHASES.len()).map(starts_us).collect();
    assert_eq!(starts, [1_000_000, 2_500_000, 4_000_000, 5_500_000, 8_500_000]);
    assert_eq!(LENGTH_US, 11_500_000);
    assert_eq!(starts_us(PHASES.len()), LENGTH_US);
    let counts: Vec<usize> = (0..PHASES.len()).map(|phase| falls(phase).len()).collect();
    assert_eq!(counts, [500, 5_000, 20_000, 800, 3]);
    assert_eq!(PHASES.map(|phase| phase.falls()), [500, 5_000, 20_000, 800, 3]);
    // A command lets the board identify itself for up to a minute: the signal fits in.
    let longest_s = u64::from(*trundle_counter::command::IDENTIFY_RANGE_S.end());
    assert!(LENGTH_US < longest_s * 1_000_000);
}

#[test]
fn the_changes_are_in_order_and_falls_and_rises_alternate() {
    let changes: Vec<Change> = Changes::default().collect();
    assert_eq!(changes.len(), 2 * (500 + 5_000 + 20_000 + 800 + 3));
    assert!(changes.windows(2).all(|pair| pair[0].at_us < pair[1].at_us));
    assert!(changes.iter().enumerate().all(|(at, change)| change.falls == (at % 2 == 0)));
    // An impulse that bounces: low for 20 us, then three times high for 10 us, all within 200 us.
    let bounce: Vec<u64> = changes
        .iter()
        .map(|change| change.at_us)
        .filter(|at_us| (5_500_000..5_510_000).contains(at_us))
        .map(|at_us| at_us - 5_500_000)
        .collect();
    assert_eq!(bounce, [0, 20, 30, 50, 60, 80, 90, 5_000]);
}

#[test]
fn the_intervals_are_those_between_the_falls() {
    for phase in [SLOW, FAST, FASTEST, BOUNCE, MARKS] {
        let falls = falls(phase);
        for (at, pair) in falls.windows(2).enumerate() {
            let interval = u64::from(PHASES[phase].interval_us(at as u32));
            assert_eq!(pair[1] - pair[0], interval, "{} {at}", PHASES[phase].name);
        }
    }
}

#[test]
fn the_filter_refuses_just_the_spikes() {
    let count = |filter_us: u32| {
        let mut input = ChannelState::new(filter_us);
        let counted = falls(BOUNCE).into_iter().filter(|&at_us| input.edge(at_us)).count() as u64;
        assert_eq!(counted, input.impulses());
        (input.impulses(), input.report().rejected.0)
    };
    assert_eq!(count(FILTER_US), (200, 600));
    assert_eq!(count(0), (800, 0));
    // With the filter left on, the fastest phase would lose impulses: it has to be off there.
    assert!(FILTER_US > PHASES[FASTEST].period_us);
}

#[test]
fn a_mark_input_latches_each_of_the_last_three() {
    assert!(u64::from(PHASES[MARKS].period_us) > MARK_DEAD_TIME_US);
    // The dead time of a mark made by the phase before has ended.
    assert!(u64::from(PHASES[MARKS].rest_us) > MARK_DEAD_TIME_US);
    assert!((PHASES[MARKS].impulses as usize) < MARKS_WAITING);
    let mut counter = Counter::new(config(), 0);
    let mut board = Bench::default();
    for at_us in falls(MARKS) {
        counter.on_mark(trundle_protocol::message::MarkSource::Gate, at_us as u32);
        counter.on_edge(Channel::Wheel, at_us as u32);
        counter.poll(at_us as u32, &mut board);
    }
    let marks = board.take().into_iter().filter_map(|message| match message {
        trundle_protocol::message::ToHost::Mark(mark) => {
            Some((mark.number.0, mark.stamp.board_us.0))
        }
        _ => None,
    });
    assert_eq!(marks.collect::<Vec<_>>(), [(1, 8_500_000), (2, 9_500_000), (3, 10_500_000)]);
}
