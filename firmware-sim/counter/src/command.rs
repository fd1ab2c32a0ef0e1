//! The one handler of commands. Nothing in here can reach a count.

use crate::channel::ChannelState;
use crate::config::{Board, Config};
use crate::schedule::{Periodic, REPORT_PERIOD_RANGE_US, Schedule};
use crate::train::Train;
use core::ops::RangeInclusive;
use trundle_protocol::message::{
    AskEdgeTrain, CHANNELS, Identify, Outcome, SetMinEdgeInterval, SetReportPeriod, ToBoard,
};

/// Least edge interval that can be set, microseconds.
pub const MIN_EDGE_INTERVAL_RANGE_US: RangeInclusive<u32> = 0..=100_000;
/// Intervals that can be asked for in one train.
pub const TRAIN_RANGE: RangeInclusive<u16> = 1..=4_096;
/// Seconds of blinking that can be asked for; 0 stops it.
pub const IDENTIFY_RANGE_S: RangeInclusive<u8> = 0..=60;

/// What a command may read and change. The counts are not in it: the channels are given for
/// their filter setting alone.
pub struct Subject<'a> {
    /// As started, with settings kept up to date.
    pub config: &'a mut Config,
    /// The inputs, for their input filters.
    pub channels: &'a mut [ChannelState; CHANNELS],
    /// When things are due.
    pub schedule: &'a mut Schedule,
    /// The edge train under way.
    pub train: &'a mut Train,
    /// Board time, microseconds.
    pub now_us: u64,
}

/// What is to be sent in answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// A hello with this nonce.
    Hello(u32),
    /// A reply to this request.
    Reply(u8, Outcome),
    /// Nothing: the frame broke a rule of the wire.
    Refused,
}

/// Carries out one command.
pub fn handle(command: &ToBoard, subject: &mut Subject<'_>, board: &mut impl Board) -> Answer {
    match command {
        // Nonce 0 is the mark of the hello after boot; an answer with it could be mistaken.
        ToBoard::HelloRequest(request) if request.nonce.0 == 0 => Answer::Refused,
        ToBoard::HelloRequest(request) => Answer::Hello(request.nonce.0),
        ToBoard::SetReportPeriod(it) => Answer::Reply(it.request, set_period(it, subject)),
        ToBoard::SetMinEdgeInterval(it) => Answer::Reply(it.request, set_interval(it, subject)),
        ToBoard::AskEdgeTrain(it) => Answer::Reply(it.request, ask_train(it, subject)),
        ToBoard::Identify(it) => Answer::Reply(it.request, identify(it, subject, board)),
    }
}

fn set_period(command: &SetReportPeriod, subject: &mut Subject<'_>) -> Outcome {
    let period_us = command.period_us.0;
    if !REPORT_PERIOD_RANGE_US.contains(&period_us) {
        return Outcome::OutOfRange;
    }
    subject.config.report_period_us = period_us;
    subject.schedule.counts = Periodic::new(period_us.into(), subject.now_us);
    Outcome::Done
}

fn set_interval(command: &SetMinEdgeInterval, subject: &mut Subject<'_>) -> Outcome {
    let interval_us = command.interval_us.0;
    if !subject.config.has(command.channel) {
        return Outcome::NoSuchChannel;
    }
    if !MIN_EDGE_INTERVAL_RANGE_US.contains(&interval_us) {
        return Outcome::OutOfRange;
    }
    let index = command.channel.index();
    subject.config.min_edge_interval_us[index] = interval_us;
    subject.channels[index].min_edge_interval_us = interval_us;
    Outcome::Done
}

fn ask_train(command: &AskEdgeTrain, subject: &mut Subject<'_>) -> Outcome {
    let intervals = command.intervals.0;
    if !subject.config.has(command.channel) {
        return Outcome::NoSuchChannel;
    }
    if !TRAIN_RANGE.contains(&intervals) {
        return Outcome::OutOfRange;
    }
    if subject.train.begin(command.channel, command.request, intervals, subject.now_us) {
        Outcome::Done
    } else {
        Outcome::Busy
    }
}

fn identify(command: &Identify, subject: &mut Subject<'_>, board: &mut impl Board) -> Outcome {
    if !IDENTIFY_RANGE_S.contains(&command.seconds) {
        return Outcome::OutOfRange;
    }
    let on = command.seconds > 0;
    let ends_us = subject.now_us + u64::from(command.seconds) * 1_000_000;
    subject.schedule.identify_ends_us = on.then_some(ends_us);
    board.identify(on);
    Outcome::Done
}
