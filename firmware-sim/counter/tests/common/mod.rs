//! A board for the tests: a transmit buffer of any size, and everything that was asked of it.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

use trundle_counter::{Board, Config, Counter};
use trundle_protocol::message::*;
use trundle_protocol::units::Channel;
use trundle_protocol::{Deframer, WireMessage};

pub struct Bench {
    /// Room left; `usize::MAX`: never full.
    pub room: usize,
    pub sent: Vec<u8>,
    pub identify: Vec<bool>,
}

impl Default for Bench {
    fn default() -> Self {
        Self { room: usize::MAX, sent: Vec::new(), identify: Vec::new() }
    }
}

impl Board for Bench {
    fn tx_room(&mut self) -> usize {
        self.room
    }
    fn tx(&mut self, bytes: &[u8]) {
        assert!(bytes.len() <= self.room, "a frame was begun without room for it");
        if self.room != usize::MAX {
            self.room -= bytes.len();
        }
        self.sent.extend_from_slice(bytes);
    }
    fn supply_mv(&mut self) -> u16 {
        12_345
    }
    fn identify(&mut self, on: bool) {
        self.identify.push(on);
    }
}

impl Bench {
    /// Everything sent since the last call; whole and undamaged frames only, or it fails.
    pub fn take(&mut self) -> Vec<ToHost> {
        let mut out = Vec::new();
        let mut deframer = Deframer::<ToHost>::new();
        deframer.push_slice(&self.sent, |frame| out.push(frame.unwrap()));
        let ends = self.sent.last().is_none_or(|byte| *byte == 0);
        assert!(ends, "half a frame was sent");
        self.sent.clear();
        out
    }

    pub fn take_counts(&mut self) -> Vec<Counts> {
        let counts = |message| match message {
            ToHost::Counts(counts) => Some(counts),
            _ => None,
        };
        self.take().into_iter().filter_map(counts).collect()
    }
}

pub fn config() -> Config {
    Config {
        board_id: 0x1122_3344_5566_7788,
        boot_id: 77,
        reset_cause: ResetCause::PowerOn,
        ..Config::default()
    }
}

/// A counter past its boot message, at board time 0 and ticks 0.
pub fn started(config: Config) -> (Counter, Bench) {
    let (mut counter, mut board) = (Counter::new(config, 0), Bench::default());
    counter.poll(0, &mut board);
    assert!(matches!(board.take()[..], [ToHost::Hello(_)]));
    (counter, board)
}

/// Sends one command as a host would.
pub fn command(counter: &mut Counter, command: ToBoard) {
    for byte in command.frame().as_bytes() {
        counter.receive(*byte);
    }
}

/// Sends one command, polls, and gives back the reply to it.
pub fn ask(counter: &mut Counter, board: &mut Bench, ticks: u32, it: ToBoard) -> Outcome {
    command(counter, it);
    counter.poll(ticks, board);
    let replies: Vec<Outcome> = board
        .take()
        .into_iter()
        .filter_map(|message| match message {
            ToHost::Reply(reply) => Some(reply.outcome),
            _ => None,
        })
        .collect();
    assert_eq!(replies.len(), 1);
    replies[0]
}

pub const WHEEL: Channel = Channel::Wheel;
pub const RADAR: Channel = Channel::Radar;
pub const PTO: Channel = Channel::Pto;
