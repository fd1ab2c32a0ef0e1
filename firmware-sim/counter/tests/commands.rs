//! Commands: answered, held to their ranges, harmless when they are junk.
#![allow(clippy::unwrap_used, clippy::float_cmp, missing_docs)]

mod common;
use common::{Bench, PTO, RADAR, WHEEL, ask, command, config, started};
use proptest::prelude::*;
use trundle_counter::{Config, Counter};
use trundle_protocol::WireMessage;
use trundle_protocol::message::*;
use trundle_protocol::units::{Channel, Fixed16, Fixed32};

fn set_period(period_us: u32) -> ToBoard {
    ToBoard::SetReportPeriod(SetReportPeriod { request: 1, period_us: Fixed32(period_us) })
}

fn set_interval(channel: Channel, interval_us: u32) -> ToBoard {
    let interval_us = Fixed32(interval_us);
    ToBoard::SetMinEdgeInterval(SetMinEdgeInterval { request: 2, channel, interval_us })
}

fn ask_train(channel: Channel, intervals: u16) -> ToBoard {
    ToBoard::AskEdgeTrain(AskEdgeTrain { request: 3, channel, intervals: Fixed16(intervals) })
}

fn trains(board: &mut Bench) -> Vec<EdgeTrain> {
    let train = |message| match message {
        ToHost::EdgeTrain(train) => Some(train),
        _ => None,
    };
    board.take().into_iter().filter_map(train).collect()
}

#[test]
fn hello_comes_back_with_its_nonce_and_never_for_nonce_0() {
    let (mut counter, mut board) = started(config());
    command(&mut counter, ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(4_711) }));
    counter.poll(10, &mut board);
    let [ToHost::Hello(hello)] = board.take()[..] else { panic!() };
    assert_eq!(hello.nonce.0, 4_711);
    command(&mut counter, ToBoard::HelloRequest(HelloRequest::default()));
    counter.poll(20, &mut board);
    assert!(board.take().is_empty());
    assert_eq!(counter.refused_frames(), 1);
}

#[test]
fn the_report_period_is_set_within_its_range() {
    let (mut counter, mut board) = started(config());
    for (period_us, outcome) in [
        (4_999, Outcome::OutOfRange),
        (1_000_001, Outcome::OutOfRange),
        (0, Outcome::OutOfRange),
        (5_000, Outcome::Done),
        (1_000_000, Outcome::Done),
        (50_000, Outcome::Done),
    ] {
        assert_eq!(ask(&mut counter, &mut board, 1_000, set_period(period_us)), outcome);
    }
    assert_eq!(counter.poll_at_us(), 51_000);
    command(&mut counter, ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(1) }));
    counter.poll(1_001, &mut board);
    let [ToHost::Hello(hello)] = board.take()[..] else { panic!() };
    assert_eq!(hello.report_period_us.0, 50_000);
}

#[test]
fn a_start_period_out_of_range_is_brought_into_it() {
    for (given, in_force) in [(0, 5_000), (u32::MAX, 1_000_000)] {
        let mut counter = Counter::new(Config { report_period_us: given, ..config() }, 0);
        let mut board = Bench::default();
        counter.poll(0, &mut board);
        let [ToHost::Hello(hello)] = board.take()[..] else { panic!() };
        assert_eq!(hello.report_period_us.0, in_force);
        assert_eq!(counter.poll_at_us(), u64::from(in_force));
    }
}

#[test]
fn the_least_edge_interval_works_on_its_input_alone() {
    let (mut counter, mut board) = started(config());
    assert_eq!(ask(&mut counter, &mut board, 0, set_interval(RADAR, 100_001)), Outcome::OutOfRange);
    assert_eq!(ask(&mut counter, &mut board, 0, set_interval(RADAR, 500)), Outcome::Done);
    for index in 0..10 {
        counter.on_edge(WHEEL, 1_000 + index * 100);
        counter.on_edge(RADAR, 1_000 + index * 100);
    }
    assert_eq!((counter.impulses(WHEEL), counter.impulses(RADAR)), (10, 2));
    assert_eq!(ask(&mut counter, &mut board, 2_000, set_interval(RADAR, 0)), Outcome::Done);
    counter.on_edge(RADAR, 2_001);
    counter.on_edge(RADAR, 2_001);
    assert_eq!(counter.impulses(RADAR), 4);
}

#[test]
fn inputs_the_board_has_not_are_said_so() {
    let (mut counter, mut board) = started(Config { capabilities: 0b011, ..config() });
    assert_eq!(ask(&mut counter, &mut board, 0, set_interval(PTO, 1)), Outcome::NoSuchChannel);
    assert_eq!(ask(&mut counter, &mut board, 0, ask_train(PTO, 1)), Outcome::NoSuchChannel);
    assert_eq!(ask(&mut counter, &mut board, 0, ask_train(RADAR, 1)), Outcome::Done);
}

#[test]
fn identify_blinks_for_its_seconds_and_stops_at_0() {
    let (mut counter, mut board) = started(Config { report_period_us: 1_000_000, ..config() });
    let identify = |seconds| ToBoard::Identify(Identify { request: 4, seconds });
    assert_eq!(ask(&mut counter, &mut board, 0, identify(61)), Outcome::OutOfRange);
    assert!(board.identify.is_empty());
    assert_eq!(ask(&mut counter, &mut board, 500, identify(3)), Outcome::Done);
    assert_eq!(board.identify, [true]);
    counter.poll(3_000_499, &mut board);
    assert_eq!(board.identify, [true]);
    assert_eq!(counter.poll_at_us(), 3_000_500);
    counter.poll(3_000_500, &mut board);
    assert_eq!(board.identify, [true, false]);
    board.take();
    assert_eq!(ask(&mut counter, &mut board, 3_100_000, identify(60)), Outcome::Done);
    assert_eq!(ask(&mut counter, &mut board, 3_200_000, identify(0)), Outcome::Done);
    counter.poll(70_000_000, &mut board);
    assert_eq!(board.identify, [true, false, true, false]);
}

#[test]
fn a_train_is_whole_and_has_the_bounces_in_it() {
    let (mut counter, mut board) =
        started(Config { min_edge_interval_us: [1_000, 0, 0], ..config() });
    for bad in [0, 4_097] {
        assert_eq!(ask(&mut counter, &mut board, 0, ask_train(WHEEL, bad)), Outcome::OutOfRange);
    }
    assert_eq!(ask(&mut counter, &mut board, 0, ask_train(WHEEL, 40)), Outcome::Done);
    assert_eq!(ask(&mut counter, &mut board, 0, ask_train(WHEEL, 40)), Outcome::Busy);
    let mut ticks = 5_000;
    let mut edges = vec![ticks];
    let mut got = Vec::new();
    counter.on_edge(WHEEL, ticks);
    for index in 0..60_u32 {
        ticks += if index % 5 == 4 { 30 } else { 2_500 + index };
        counter.on_edge(WHEEL, ticks);
        counter.on_edge(RADAR, ticks + 1);
        edges.push(ticks);
        if counter.poll_at_us() <= u64::from(ticks) + 1 {
            counter.poll(ticks, &mut board);
        }
        got.extend(trains(&mut board));
    }
    assert_eq!(
        got.iter().map(|t| (t.first.0, t.used, t.last)).collect::<Vec<_>>(),
        [(0, 16, false), (16, 16, false), (32, 8, true)]
    );
    let mut rebuilt = vec![u32::try_from(got[0].start_us.0).unwrap()];
    for train in &got {
        assert_eq!(train.start_us.0, u64::from(*rebuilt.last().unwrap()));
        assert_eq!((train.request, train.channel), (3, WHEEL));
        for interval in &train.intervals_us[..usize::from(train.used)] {
            rebuilt.push(rebuilt.last().unwrap() + interval.0);
        }
        assert!(train.intervals_us[usize::from(train.used)..].iter().all(|rest| rest.0 == 0));
    }
    assert_eq!(rebuilt, edges[..41]);
    assert_eq!(ask(&mut counter, &mut board, ticks, ask_train(WHEEL, 1)), Outcome::Done);
}

#[test]
fn a_train_faster_than_the_line_ends_short_without_a_gap() {
    let (mut counter, mut board) = started(config());
    assert_eq!(ask(&mut counter, &mut board, 0, ask_train(PTO, 4_096)), Outcome::Done);
    board.room = 0;
    for index in 0..200 {
        counter.on_edge(PTO, 100 + index * 50);
    }
    counter.poll(15_000, &mut board);
    assert_eq!(counter.poll_at_us(), 16_000);
    board.room = usize::MAX;
    counter.poll(16_000, &mut board);
    let got = trains(&mut board);
    let used: Vec<_> = got.iter().map(|train| (train.first.0, train.used, train.last)).collect();
    assert_eq!(used, [(0, 16, false), (16, 16, false), (32, 16, true)]);
    assert!(got.iter().all(|train| train.intervals_us.iter().all(|us| us.0 == 50)));
    assert_eq!(counter.impulses(PTO), 200);
}

#[test]
fn a_train_without_edges_ends_by_the_clock() {
    let (mut counter, mut board) = started(Config { report_period_us: 1_000_000, ..config() });
    assert_eq!(ask(&mut counter, &mut board, 0, ask_train(WHEEL, 20)), Outcome::Done);
    for edge in 0..=5 {
        counter.on_edge(WHEEL, 1_000 + edge * 1_000);
    }
    counter.poll(5_005_999, &mut board);
    assert!(trains(&mut board).is_empty());
    assert_eq!(counter.poll_at_us(), 5_006_000);
    counter.poll(5_006_000, &mut board);
    let got = trains(&mut board);
    assert_eq!((got.len(), got[0].used, got[0].last), (1, 5, true));
    // And with none at all: nothing is sent, but the next request is taken.
    assert_eq!(ask(&mut counter, &mut board, 6_000_000, ask_train(WHEEL, 9)), Outcome::Done);
    counter.poll(11_000_000, &mut board);
    assert!(trains(&mut board).is_empty());
    assert_eq!(ask(&mut counter, &mut board, 11_000_001, ask_train(WHEEL, 9)), Outcome::Done);
}

#[test]
fn more_commands_than_wait_are_refused_and_counted() {
    let (mut counter, mut board) = started(config());
    for _ in 0..6 {
        command(&mut counter, set_period(30_000));
    }
    counter.poll(10, &mut board);
    assert_eq!(board.take().len(), 4);
    assert_eq!(counter.refused_frames(), 2);
}

#[test]
fn text_of_a_stranger_does_nothing_and_a_leading_zero_saves_the_next_command() {
    let (mut counter, mut board) = started(config());
    for byte in b"AT\rAT+GCAP\r\n~x\xF0\x7E" {
        counter.receive(*byte);
    }
    assert!(counter.poll_at_us() > 0);
    counter.poll(10, &mut board);
    assert!(board.take().is_empty());
    counter.receive(0);
    assert_eq!(ask(&mut counter, &mut board, 20, set_period(40_000)), Outcome::Done);
    assert_eq!(counter.refused_frames(), 1);
}

proptest! {
    /// Any noise: no count moves, nothing is sent, and the board obeys again after a zero.
    #[test]
    fn noise_does_nothing(noise in prop::collection::vec(any::<u8>(), 0..2_000)) {
        let (mut counter, mut board) = started(config());
        counter.on_edge(WHEEL, 1);
        for byte in &noise {
            counter.receive(*byte);
        }
        counter.poll(10, &mut board);
        prop_assert!(board.take().is_empty());
        prop_assert_eq!(counter.impulses(WHEEL), 1);
        counter.receive(0);
        prop_assert_eq!(ask(&mut counter, &mut board, 20, set_period(40_000)), Outcome::Done);
    }

    /// No command whatever changes a count, a time of an edge, or a number of refused edges.
    #[test]
    fn no_command_changes_a_count(
        picks in prop::collection::vec((0_usize..5, any::<[u8; 6]>()), 1..40),
    ) {
        let (mut counter, mut board) = started(config());
        for index in 0..50 {
            counter.on_edge(WHEEL, 100 + index * 10);
        }
        counter.poll(20_000, &mut board);
        let before = board.take_counts()[0].channels;
        for (index, (pick, bytes)) in picks.iter().enumerate() {
            let type_id = ToBoard::TYPES[*pick];
            let len = trundle_protocol::exact_payload_len(type_id).unwrap();
            if let Some(it) = ToBoard::read_payload(type_id, &bytes[..len]) {
                command(&mut counter, it);
            }
            counter.poll(20_001 + index as u32, &mut board);
        }
        board.take();
        counter.poll(2_000_000, &mut board);
        prop_assert_eq!(board.take_counts()[0].channels, before);
    }
}
