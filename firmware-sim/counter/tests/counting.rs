//! Counts: over every wrap of timer and hardware counter, through the filter, without loss.
#![allow(clippy::unwrap_used, clippy::float_cmp, missing_docs)]

mod common;
use common::{Bench, PTO, RADAR, WHEEL, config, started};
use proptest::prelude::*;
use trundle_counter::widen::Widen;
use trundle_counter::{Config, Counter};
use trundle_protocol::message::MarkSource;

proptest! {
    /// Against plain 64-bit arithmetic, from any phase, steps up to just under half a wrap.
    #[test]
    fn widening_follows_any_phase(
        phase in prop_oneof![any::<u32>(), 0xFFFF_FF00..=u32::MAX, 0_u32..256],
        steps in prop::collection::vec(
            prop_oneof![0_u64..3, 0_u64..100_000, 0_u64..0x8000_0000], 1..200),
    ) {
        let mut widen = Widen::new(phase);
        let mut truth = 0_u64;
        for step in steps {
            truth += step;
            let raw = (u64::from(phase) + truth) as u32;
            prop_assert_eq!(widen.widen(raw), truth);
            // A stamp taken a little earlier gets its own time and moves nothing.
            let back = truth.min(5_000);
            let earlier = (u64::from(phase) + truth - back) as u32;
            prop_assert_eq!(widen.widen(earlier), truth - back);
            prop_assert_eq!(widen.newest(), truth);
        }
    }

    /// Interrupt-counted, hardware-counted and marked, across wraps of both 32-bit counters.
    #[test]
    fn counts_and_times_are_right_across_every_wrap(
        timer_phase in prop_oneof![any::<u32>(), 0xFFFE_0000..=u32::MAX],
        hardware_phase in prop_oneof![any::<u32>(), 0xFFFF_FFF0..=u32::MAX],
        steps in prop::collection::vec((1_u64..200_000_000, 0_u64..0x4000_0000), 1..60),
    ) {
        let mut counter = Counter::new(config(), timer_phase);
        let mut board = Bench::default();
        counter.on_hardware_count(PTO, hardware_phase, timer_phase);
        let (mut now_us, mut hardware) = (0_u64, 0_u64);
        for (index, (step_us, impulses)) in steps.iter().enumerate() {
            now_us += step_us;
            hardware += impulses;
            let ticks = (u64::from(timer_phase) + now_us) as u32;
            counter.on_edge(WHEEL, ticks);
            counter.on_hardware_count(PTO, (u64::from(hardware_phase) + hardware) as u32, ticks);
            counter.poll(ticks, &mut board);
            prop_assert_eq!(counter.impulses(WHEEL), index as u64 + 1);
            prop_assert_eq!(counter.impulses(PTO), hardware);
            prop_assert_eq!(counter.board_us(ticks), now_us);
            for counts in board.take_counts() {
                prop_assert_eq!(counts.stamp.board_us.0, now_us);
                prop_assert_eq!(counts.channels[0].last_edge_us.0, now_us);
                prop_assert_eq!(counts.channels[0].impulses.0, index as u64 + 1);
                prop_assert_eq!(counts.channels[2].impulses.0, hardware);
            }
        }
    }

    /// Accepted and refused edges add up to all edges, and the accepted ones keep their distance.
    #[test]
    fn every_edge_is_counted_once_or_refused_once(
        least_us in 0_u32..5_000,
        steps in prop::collection::vec(0_u32..6_000, 1..300),
    ) {
        let (mut counter, mut board) =
            started(Config { min_edge_interval_us: [least_us, 0, 0], ..config() });
        let mut ticks = 10_000_u32;
        let (mut accepted, mut last): (u64, Option<u32>) = (0, None);
        for step in &steps {
            ticks += step;
            counter.on_edge(WHEEL, ticks);
            if last.is_none_or(|last| ticks - last >= least_us) {
                accepted += 1;
                last = Some(ticks);
            }
        }
        prop_assert_eq!(counter.impulses(WHEEL), accepted);
        counter.poll(ticks + 20_000, &mut board);
        let wheel = board.take_counts()[0].channels[0];
        prop_assert_eq!(wheel.impulses.0 + u64::from(wheel.rejected.0), steps.len() as u64);
        prop_assert_eq!(wheel.last_edge_us.0, u64::from(last.unwrap()));
    }
}

#[test]
fn every_wrap_phase_of_the_last_sixteen_ticks() {
    for phase in 0..=16_u32 {
        let start = 0_u32.wrapping_sub(phase);
        let mut counter = Counter::new(config(), start);
        counter.on_hardware_count(RADAR, start, start);
        for step in 1..=32_u32 {
            counter.on_hardware_count(RADAR, start.wrapping_add(step), start.wrapping_add(step));
            counter.on_edge(WHEEL, start.wrapping_add(step));
            assert_eq!(counter.impulses(RADAR), u64::from(step));
            assert_eq!(counter.impulses(WHEEL), u64::from(step));
            assert_eq!(counter.board_us(start.wrapping_add(step)), u64::from(step));
        }
    }
}

#[test]
fn an_hour_and_a_half_in_one_wrap_and_more() {
    let (mut counter, mut board) = started(config());
    // 6 000 s is past the wrap at 4 294.967 296 s; a poll every 20 s keeps the clock.
    for second in (20..=6_000_u64).step_by(20) {
        counter.poll((second * 1_000_000) as u32, &mut board);
    }
    let last = board.take_counts().pop().unwrap();
    assert_eq!(last.stamp.board_us.0, 6_000_000_000);
}

#[test]
fn an_edge_stamped_before_the_poll_and_served_after_it_keeps_its_time() {
    let (mut counter, mut board) = started(config());
    counter.poll(20_000, &mut board);
    counter.on_edge(WHEEL, 19_990);
    // And one served between the reading of the timer and the poll.
    counter.on_edge(RADAR, 40_007);
    counter.poll(40_000, &mut board);
    let counts = board.take_counts();
    assert_eq!(counts[0].channels[0].impulses.0, 0);
    assert_eq!(counts[1].channels[0].last_edge_us.0, 19_990);
    assert_eq!(counts[1].channels[1].last_edge_us.0, 40_007);
    assert!(counts[1].stamp.board_us.0 >= 40_007, "an edge is never after its own report");
}

#[test]
fn bounce_is_refused_counted_and_does_not_extend_the_dead_time() {
    let (mut counter, mut board) =
        started(Config { min_edge_interval_us: [1_000, 0, 0], ..config() });
    // One true edge, then noise every 300 us for 3 ms: every fourth is 1 200 us on and counts.
    for index in 0..=10 {
        counter.on_edge(WHEEL, 5_000 + index * 300);
    }
    assert_eq!(counter.impulses(WHEEL), 3);
    // Exactly the least interval is allowed.
    counter.on_edge(WHEEL, 5_000 + 8 * 300 + 1_000);
    assert_eq!(counter.impulses(WHEEL), 4);
    counter.poll(20_000, &mut board);
    assert_eq!(board.take_counts()[0].channels[0].rejected.0, 8);
}

#[test]
fn a_hardware_counter_starts_anywhere_and_never_goes_back() {
    let (mut counter, _) = started(config());
    counter.on_hardware_count(PTO, 4_000_000_000, 0);
    assert_eq!(counter.impulses(PTO), 0);
    counter.on_hardware_count(PTO, 4_000_000_010, 10);
    counter.on_hardware_count(PTO, 4_000_000_007, 11);
    assert_eq!(counter.impulses(PTO), 10);
    counter.on_hardware_count(PTO, 4_000_000_012, 12);
    assert_eq!(counter.impulses(PTO), 12);
}

#[test]
fn in_work_counts_its_changes_only() {
    let (mut counter, mut board) = started(config());
    for (in_work, ticks) in [(false, 5), (true, 1_000), (true, 1_500), (false, 2_000)] {
        counter.on_working(in_work, ticks);
    }
    counter.on_working(true, 3_000);
    counter.on_overrun();
    counter.poll(20_000, &mut board);
    let counts = board.take_counts()[0];
    assert!(counts.working.in_work);
    assert_eq!(counts.working.changes.0, 3);
    assert_eq!(counts.working.last_change_us.0, 3_000);
    assert_eq!(counts.overruns.0, 1);
}

#[test]
fn overload_drops_frames_but_no_count() {
    let (mut counter, mut board) = started(config());
    // Ten seconds of a 130 impulses-per-metre wheel at 10 km/h with the host not reading.
    board.room = 300;
    let mut edges = 0;
    for ms in 1..=10_000_u32 {
        if ms % 3 == 0 {
            counter.on_edge(WHEEL, ms * 1_000);
            edges += 1;
        }
        counter.poll(ms * 1_000, &mut board);
    }
    let early = board.take();
    // 300 bytes hold two reports of 105 and, later, two healths of 35.
    assert_eq!(early.len(), 4);
    let dropped = counter.dropped_frames();
    assert_eq!(dropped, 500 + 5 - 4, "500 reports and 5 healths were made");

    board.room = usize::MAX;
    counter.poll(10_020_000, &mut board);
    let late = board.take();
    let trundle_protocol::message::ToHost::Counts(counts) = late[0] else { panic!("{late:?}") };
    assert_eq!(counts.channels[0].impulses.0, edges);
    assert_eq!(counts.dropped_frames.0, dropped);
    // The sequence went on: what is missing from it is what was dropped (hello was 0).
    assert_eq!(counts.stamp.sequence.0, 1 + early.len() as u32 + dropped);
}

#[test]
fn edges_alone_never_ask_to_be_polled() {
    let (mut counter, _) = started(config());
    for index in 0..100 {
        counter.on_edge(WHEEL, 10 + index);
    }
    assert_eq!(counter.poll_at_us(), 20_000);
    counter.on_mark(MarkSource::Gate, 200);
    assert!(counter.poll_at_us() <= 200);
}

/// The image has no operating system: nothing outside the tests may bring in std or alloc.
#[test]
fn the_core_stays_without_std() {
    let root = include_str!("../src/lib.rs");
    assert!(root.lines().any(|line| line == "#![no_std]"));
    assert!(!root.contains("extern crate alloc"));
    assert_eq!(root.matches("extern crate std").count(), root.matches("#[cfg(test)]\n").count());
}
