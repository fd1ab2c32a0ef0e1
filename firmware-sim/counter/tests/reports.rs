//! Reports: when they come, in which order, with which numbers; marks that are not lost.
#![allow(clippy::unwrap_used, clippy::float_cmp, missing_docs)]

mod common;
use common::{Bench, RADAR, WHEEL, command, config, started};
use trundle_counter::mark::{MARK_DEAD_TIME_US, MARKS_WAITING};
use trundle_counter::{Config, Counter};
use trundle_protocol::message::*;
use trundle_protocol::units::Fixed32;

fn marks(messages: &[ToHost]) -> Vec<Mark> {
    let mark = |message: &ToHost| match message {
        ToHost::Mark(mark) => Some(*mark),
        _ => None,
    };
    messages.iter().filter_map(mark).collect()
}

#[test]
fn boot_says_hello() {
    let mut counter = Counter::new(config(), 123);
    let mut board = Bench::default();
    assert_eq!(counter.poll_at_us(), 0);
    counter.poll(123, &mut board);
    let [ToHost::Hello(hello)] = board.take()[..] else { panic!() };
    assert_eq!(hello.nonce.0, 0);
    assert_eq!(hello.board_id.0, 0x1122_3344_5566_7788);
    assert_eq!((hello.stamp.boot_id.0, hello.stamp.sequence.0), (77, 0));
    assert_eq!(hello.reset_cause, ResetCause::PowerOn);
    assert_eq!(hello.capabilities, 0b1100_0111);
    assert_eq!(hello.report_period_us.0, 20_000);
}

#[test]
fn polled_when_it_wants_reports_keep_their_grid() {
    let (mut counter, mut board) = started(config());
    let mut polls = 0;
    while counter.poll_at_us() <= 4_000_000 {
        let at_us = counter.poll_at_us();
        counter.poll(u32::try_from(at_us).unwrap(), &mut board);
        polls += 1;
    }
    let sent = board.take();
    let times = |wanted: fn(&ToHost) -> bool| -> Vec<u64> {
        sent.iter().filter(|m| wanted(m)).map(|m| m.stamp().board_us.0).collect()
    };
    let counts = times(|m| matches!(m, ToHost::Counts(_)));
    assert_eq!(counts, (1..=200).map(|n| n * 20_000).collect::<Vec<u64>>());
    let health = times(|m| matches!(m, ToHost::Health(_)));
    assert_eq!(health, [2_000_000, 4_000_000]);
    assert_eq!(polls, 200, "no poll was asked for in vain");
    let numbers: Vec<u32> = sent.iter().map(|m| m.stamp().sequence.0).collect();
    assert_eq!(numbers, (1..=202).collect::<Vec<u32>>(), "hello was 0");
}

#[test]
fn a_late_poll_sends_one_report_and_keeps_the_grid() {
    let (mut counter, mut board) = started(config());
    counter.poll(1_003_000, &mut board);
    assert_eq!(board.take_counts().len(), 1);
    assert_eq!(counter.poll_at_us(), 1_020_000);
}

#[test]
fn health_tells_the_supply_and_what_was_refused() {
    let (mut counter, mut board) = started(config());
    for byte in b"\0junk\0" {
        counter.receive(*byte);
    }
    counter.poll(2_000_000, &mut board);
    let sent = board.take();
    let [ToHost::Counts(_), ToHost::Health(health)] = sent[..] else { panic!("{sent:?}") };
    assert_eq!(health.supply_mv.0, 12_345);
    assert_eq!(health.reset_cause, ResetCause::PowerOn);
    assert_eq!((health.refused_frames.0, health.dropped_frames.0), (1, 0));
}

#[test]
fn a_mark_holds_the_counts_of_its_edge() {
    let (mut counter, mut board) = started(config());
    for index in 1..=7 {
        counter.on_edge(WHEEL, index * 100);
    }
    counter.on_edge(RADAR, 720);
    counter.on_mark(MarkSource::Gate, 750);
    // What comes before the poll is after the mark.
    counter.on_edge(WHEEL, 800);
    counter.on_edge(RADAR, 801);
    counter.poll(900, &mut board);
    let [ToHost::Mark(mark)] = board.take()[..] else { panic!() };
    assert_eq!(mark.stamp.board_us.0, 750);
    assert_eq!((mark.number.0, mark.source), (1, MarkSource::Gate));
    assert_eq!(mark.impulses.map(|count| count.0), [7, 1, 0]);
    assert_eq!(mark.last_edge_us.map(|time| time.0), [700, 720, 0]);
}

#[test]
fn marks_bounce_each_source_by_itself() {
    let (mut counter, mut board) = started(config());
    let dead = u32::try_from(MARK_DEAD_TIME_US).unwrap();
    counter.on_mark(MarkSource::Button, 1_000);
    counter.on_mark(MarkSource::Button, 1_000 + dead - 1);
    counter.on_mark(MarkSource::Gate, 1_500);
    counter.on_mark(MarkSource::Button, 1_000 + dead);
    counter.poll(1_000 + dead, &mut board);
    let got: Vec<_> = marks(&board.take()).iter().map(|m| (m.number.0, m.source)).collect();
    let (button, gate) = (MarkSource::Button, MarkSource::Gate);
    assert_eq!(got, [(1, button), (2, gate), (3, button)]);
}

#[test]
fn marks_wait_for_room_and_come_in_order() {
    let (mut counter, mut board) = started(config());
    board.room = 0;
    let press = |n: u32| n * 500_000;
    for n in 1..=MARKS_WAITING as u32 + 2 {
        counter.on_edge(WHEEL, press(n) - 1);
        counter.on_mark(MarkSource::Button, press(n));
        counter.poll(press(n), &mut board);
    }
    assert!(board.take().is_empty());
    // Asks to be called again soon, but not at the same instant for ever.
    let now_us = u64::from(press(10));
    assert_eq!(counter.poll_at_us(), now_us + 1_000);

    // Room for one mark of 77 bytes, then for all.
    board.room = 80;
    counter.poll(press(10) + 1_000, &mut board);
    assert_eq!(marks(&board.take()).iter().map(|m| m.number.0).collect::<Vec<_>>(), [1]);
    board.room = usize::MAX;
    counter.poll(press(10) + 2_000, &mut board);
    let rest = marks(&board.take());
    let numbers: Vec<u32> = rest.iter().map(|m| m.number.0).collect();
    assert_eq!(numbers, [2, 3, 4, 5, 6, 7, 8], "9 and 10 found the queue full");
    for mark in &rest {
        assert_eq!(mark.stamp.board_us.0, u64::from(press(mark.number.0)));
        assert_eq!(mark.impulses[0].0, u64::from(mark.number.0));
    }
    // The next mark tells that two are missing.
    counter.on_mark(MarkSource::Button, press(12));
    counter.poll(press(12), &mut board);
    assert_eq!(marks(&board.take())[0].number.0, 11);
}

#[test]
fn pulse_per_second_edges_are_stamped_and_numbered() {
    let (mut counter, mut board) = started(config());
    counter.on_pps(5_001);
    assert!(counter.poll_at_us() <= 5_001);
    counter.poll(5_100, &mut board);
    let [ToHost::PpsEdge(edge)] = board.take()[..] else { panic!() };
    assert_eq!((edge.number.0, edge.stamp.board_us.0), (1, 5_001));
    // Two before a poll: the older one is of no use any more, and the number tells.
    counter.on_pps(6_000);
    counter.on_pps(7_000);
    counter.poll(7_001, &mut board);
    let [ToHost::PpsEdge(edge)] = board.take()[..] else { panic!() };
    assert_eq!((edge.number.0, edge.stamp.sequence.0), (3, 3));
    assert_eq!(counter.dropped_frames(), 1);
}

#[test]
fn sequence_numbers_are_without_gap_while_there_is_room() {
    let (mut counter, mut board) = started(Config { report_period_us: 5_000, ..config() });
    let mut all = Vec::new();
    for step in 1..=3_000_u32 {
        let ticks = step * 1_000;
        match step % 7 {
            0 => counter.on_mark(MarkSource::Gate, ticks),
            1 => counter.on_pps(ticks),
            2 => {
                command(&mut counter, ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(step) }))
            }
            3 => command(&mut counter, ToBoard::Identify(Identify { request: 1, seconds: 1 })),
            _ => counter.on_edge(WHEEL, ticks),
        }
        counter.poll(ticks, &mut board);
        all.extend(board.take());
    }
    assert!(all.len() > 1_500, "{}", all.len());
    for (index, message) in all.iter().enumerate() {
        assert_eq!(message.stamp().sequence.0, index as u32 + 1);
        assert_eq!(message.stamp().boot_id.0, 77);
    }
    assert_eq!(counter.dropped_frames(), 0);
}
