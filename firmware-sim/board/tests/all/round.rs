//! The main loop, over a board made of lists.

use std::collections::VecDeque;
use trundle_board::port::{Input, Port, round};
use trundle_counter::{Board, Config, Counter};
use trundle_protocol::Deframer;
use trundle_protocol::message::{Counts, ToHost};
use trundle_protocol::units::Channel;

#[derive(Default)]
struct Lists {
    now: u32,
    waiting: VecDeque<(Input, u32)>,
    sent: Vec<u8>,
    missed: u32,
    rests: u32,
}

impl Board for Lists {
    fn tx_room(&mut self) -> usize {
        1_024
    }
    fn tx(&mut self, bytes: &[u8]) {
        self.sent.extend_from_slice(bytes);
    }
    fn supply_mv(&mut self) -> u16 {
        12_000
    }
    fn identify(&mut self, _on: bool) {}
}

impl Port for Lists {
    fn ticks(&self) -> u32 {
        self.now
    }
    fn happened(&mut self) -> Option<(Input, u32)> {
        self.waiting.pop_front()
    }
    fn missed(&mut self) -> u32 {
        std::mem::take(&mut self.missed)
    }
    fn byte(&mut self) -> Option<u8> {
        None
    }
    fn rest(&mut self) {
        self.rests += 1;
    }
}

/// The reports of counts in what was sent.
fn counts(bytes: &[u8]) -> Vec<Counts> {
    let mut out = Vec::new();
    Deframer::<ToHost>::new().push_slice(bytes, |frame| {
        if let Ok(ToHost::Counts(counts)) = frame {
            out.push(counts);
        }
    });
    out
}

/// Edges 10 us apart, more of them than are taken at once, from just before the timer's wrap. In
/// each report stand the edges up to its own time, neither fewer nor more.
#[test]
fn a_report_counts_the_edges_up_to_its_own_time() {
    let start = u32::MAX - 25_000;
    let mut counter = Counter::new(Config::default(), start);
    let mut board = Lists { now: start, ..Lists::default() };
    let mut edges = 0;
    for part in 1..=40_u32 {
        // Two milliseconds: 200 edges, of which some wait for the next round.
        board.now = start.wrapping_add(2_000 * part);
        while edges * 10 < 2_000 * part {
            let at = start.wrapping_add(edges * 10);
            board.waiting.push_back((Input::Edge(Channel::Wheel), at));
            edges += 1;
        }
        for _ in 0..2 {
            round(&mut counter, &mut board);
        }
    }
    let reports = counts(&board.sent);
    assert!(reports.len() >= 2, "{} reports", reports.len());
    for report in &reports {
        let at_us = report.stamp.board_us.0;
        let counted = report.channels[0].impulses.0;
        // Edge 0 comes at 0; one at the very time of the report may be in it or not.
        assert!((at_us / 10..=at_us / 10 + 1).contains(&counted), "{counted} at {at_us} us");
    }
    while !board.waiting.is_empty() {
        round(&mut counter, &mut board);
    }
    assert_eq!(counter.impulses(Channel::Wheel), u64::from(edges));
    assert_eq!(board.rests, 80 + (8_000 - 80 * 64_u32).div_ceil(64), "one rest a round");
}

#[test]
fn what_the_hardware_missed_is_told_in_the_next_report() {
    let mut counter = Counter::new(Config::default(), 0);
    let mut board = Lists { missed: 3, ..Lists::default() };
    round(&mut counter, &mut board);
    board.now = 20_000;
    round(&mut counter, &mut board);
    let overruns: Vec<u32> = counts(&board.sent).iter().map(|it| it.overruns.0).collect();
    assert_eq!(overruns, [3]);
}
