//! All parts together: events in, frames out.
//!
//! The `on_` functions and [`Counter::receive`] are short and are meant to be called from
//! interrupts, one at a time and in the order of their time stamps; a hardware counter is read
//! before a mark is given. [`Counter::poll`] does the rest. `ticks` is everywhere the reading of
//! one free-running 32-bit timer of 1 MHz.

use crate::channel::ChannelState;
use crate::command::{Answer, Subject, handle};
use crate::config::{Board, Config};
use crate::mark::{MarkOutcome, Marks};
use crate::schedule::{REPORT_PERIOD_RANGE_US, RETRY_US, Schedule};
use crate::train::Train;
use crate::widen::Widen;
use heapless::Deque;
use trundle_protocol::message::{
    CHANNELS, Counts, Health, Hello, Identity, Mark, MarkSource, PpsEdge, Reply, Stamp, ToBoard,
    ToHost, Working,
};
use trundle_protocol::units::{BoardMicros, Channel, Fixed16, Fixed32, Impulses};
use trundle_protocol::{Deframer, WireMessage, frame};

/// Commands that can wait for the next poll.
const COMMANDS_WAITING: usize = 4;

/// The state of the board since its boot.
#[derive(Clone, Debug)]
pub struct Counter {
    config: Config,
    clock: Widen,
    channels: [ChannelState; CHANNELS],
    working: Working,
    marks: Marks,
    pps: Option<(u64, u32)>,
    pps_number: u32,
    train: Train,
    schedule: Schedule,
    hello_after_boot: bool,
    sequence: u32,
    overruns: u32,
    dropped_frames: u32,
    /// Frames in order, but refused here: no place, or a rule of the wire broken.
    refused_commands: u32,
    deframer: Deframer<ToBoard>,
    commands: Deque<ToBoard, COMMANDS_WAITING>,
}

// The board has 8 KiB of RAM, of which the stack and the transmit buffer want most.
const _: () = assert!(size_of::<Counter>() <= 2_048);

impl Counter {
    /// Board time 0 is the instant `ticks_now`, all counts are 0.
    #[must_use]
    pub fn new(config: Config, ticks_now: u32) -> Self {
        let (least, greatest) = REPORT_PERIOD_RANGE_US.into_inner();
        let report_period_us = config.report_period_us.clamp(least, greatest);
        Self {
            config: Config { report_period_us, ..config },
            clock: Widen::new(ticks_now),
            channels: config.min_edge_interval_us.map(ChannelState::new),
            working: Working::default(),
            marks: Marks::default(),
            pps: None,
            pps_number: 0,
            train: Train::default(),
            schedule: Schedule::new(report_period_us, 0),
            hello_after_boot: true,
            sequence: 0,
            overruns: 0,
            dropped_frames: 0,
            refused_commands: 0,
            deframer: Deframer::new(),
            commands: Deque::new(),
        }
    }

    /// An edge of an impulse input that is counted by interrupt.
    pub fn on_edge(&mut self, channel: Channel, ticks: u32) {
        let at_us = self.clock.widen(ticks);
        self.channels[channel.index()].edge(at_us);
        self.train.edge(channel, at_us);
        if self.train.has_message() {
            self.schedule.at_once = true;
        }
    }

    /// A reading of the 32-bit hardware counter of an impulse input, see
    /// [`ChannelState::hardware_count`]. Give one at start, then at least every half wrap.
    pub fn on_hardware_count(&mut self, channel: Channel, raw: u32, ticks: u32) {
        let at_us = self.clock.widen(ticks);
        self.channels[channel.index()].hardware_count(raw, at_us);
    }

    /// An edge of the mark input. Latches the counts of this instant.
    pub fn on_mark(&mut self, source: MarkSource, ticks: u32) {
        let at_us = self.clock.widen(ticks);
        let impulses = self.channels.map(|channel| Impulses(channel.impulses()));
        let last_edge_us = self.channels.map(|channel| channel.last_edge());
        match self.marks.edge(source, at_us, impulses, last_edge_us) {
            MarkOutcome::Latched => self.schedule.at_once = true,
            MarkOutcome::Bounce => {}
            MarkOutcome::Lost => self.drop_report(),
        }
    }

    /// An edge of the receiver's pulse per second.
    pub fn on_pps(&mut self, ticks: u32) {
        let at_us = self.clock.widen(ticks);
        self.pps_number = self.pps_number.wrapping_add(1);
        // An edge not sent within a second is of no use to the host any more: the new one
        // takes its place, and the gap in the numbers tells.
        if self.pps.replace((at_us, self.pps_number)).is_some() {
            self.drop_report();
        }
        self.schedule.at_once = true;
    }

    /// The level of the implement-in-work input, at start or after a change. A level as before
    /// changes nothing; before the first call the level is out of work.
    pub fn on_working(&mut self, in_work: bool, ticks: u32) {
        let at_us = self.clock.widen(ticks);
        if in_work != self.working.in_work {
            self.working = Working {
                in_work,
                changes: Fixed32(self.working.changes.0.wrapping_add(1)),
                last_change_us: BoardMicros(at_us),
            };
        }
    }

    /// Edges may have been lost because they came too fast to serve.
    pub fn on_overrun(&mut self) {
        self.overruns = self.overruns.wrapping_add(1);
    }

    /// A byte from the host. Anything that is no whole command does nothing and is counted.
    pub fn receive(&mut self, byte: u8) {
        if let Some(Ok(command)) = self.deframer.push(byte) {
            match self.commands.push_back(command) {
                Ok(()) => self.schedule.at_once = true,
                Err(_) => self.refused_commands = self.refused_commands.wrapping_add(1),
            }
        }
    }

    /// Carries out what came in and sends what is due: marks first, then the rest.
    ///
    /// A frame that does not fit the transmit buffer is dropped whole and counted; its sequence
    /// number is used up. Marks and edge trains wait for room instead.
    pub fn poll(&mut self, ticks: u32, board: &mut impl Board) {
        self.clock.widen(ticks);
        // Not the widened `ticks`: an interrupt may have served an edge since they were read,
        // and that edge is in the counts.
        let now_us = self.clock.newest();
        self.schedule.at_once = false;
        self.schedule.retry_us = None;
        self.end_by_the_clock(now_us, board);
        self.send_marks(now_us, board);
        self.send_pps(board);
        if core::mem::take(&mut self.hello_after_boot) {
            self.send_hello(0, now_us, board);
        }
        while let Some(command) = self.commands.pop_front() {
            self.obey(&command, now_us, board);
        }
        if self.schedule.counts.is_due(now_us) {
            self.send_counts(now_us, board);
        }
        self.send_train(now_us, board);
        if self.schedule.health.is_due(now_us) {
            self.send_health(now_us, board);
        }
    }

    /// Board time at which [`Self::poll`] wants to be called next: not after the board time last
    /// seen if something waits to be sent at once.
    #[must_use]
    pub fn poll_at_us(&self) -> u64 {
        self.schedule.next_us(self.clock.newest(), self.train.patience_ends_us())
    }

    /// Board time of a reading of the timer. To be called at least once every half wrap (35.7
    /// minutes); every poll and every event does it too.
    pub fn board_us(&mut self, ticks: u32) -> u64 {
        self.clock.widen(ticks)
    }

    /// Impulses of an input accepted since boot.
    #[must_use]
    pub const fn impulses(&self, channel: Channel) -> u64 {
        self.channels[channel.index()].impulses()
    }

    /// Reports dropped since boot.
    #[must_use]
    pub const fn dropped_frames(&self) -> u32 {
        self.dropped_frames
    }

    /// Frames from the host refused since boot.
    #[must_use]
    pub fn refused_frames(&self) -> u32 {
        let refused = self.deframer.stats().refused() + u64::from(self.refused_commands);
        // As all 32-bit counts on the wire: wraps.
        (refused & u64::from(u32::MAX)) as u32
    }

    fn end_by_the_clock(&mut self, now_us: u64, board: &mut impl Board) {
        self.train.lose_patience(now_us);
        if self.schedule.identify_ends_us.is_some_and(|ends_us| ends_us <= now_us) {
            self.schedule.identify_ends_us = None;
            board.identify(false);
        }
    }

    fn obey(&mut self, command: &ToBoard, now_us: u64, board: &mut impl Board) {
        let mut subject = Subject {
            config: &mut self.config,
            channels: &mut self.channels,
            schedule: &mut self.schedule,
            train: &mut self.train,
            now_us,
        };
        match handle(command, &mut subject, board) {
            Answer::Hello(nonce) => self.send_hello(nonce, now_us, board),
            Answer::Reply(request, outcome) => {
                let stamp = self.stamp(now_us);
                self.report(&ToHost::Reply(Reply { stamp, request, outcome }), board);
            }
            Answer::Refused => self.refused_commands = self.refused_commands.wrapping_add(1),
        }
    }

    fn send_marks(&mut self, now_us: u64, board: &mut impl Board) {
        while let Some(latched) = self.marks.oldest() {
            if !self.has_room(frame::types::MARK, now_us, board) {
                return;
            }
            let mark = Mark {
                stamp: self.stamp(latched.at_us),
                number: Fixed32(latched.number),
                source: latched.source,
                impulses: latched.impulses,
                last_edge_us: latched.last_edge_us,
            };
            self.report(&ToHost::Mark(mark), board);
            self.marks.sent();
        }
    }

    fn send_pps(&mut self, board: &mut impl Board) {
        if let Some((at_us, number)) = self.pps.take() {
            let edge = PpsEdge { stamp: self.stamp(at_us), number: Fixed32(number) };
            self.report(&ToHost::PpsEdge(edge), board);
        }
    }

    fn send_train(&mut self, now_us: u64, board: &mut impl Board) {
        while self.train.has_message() && self.has_room(frame::types::EDGE_TRAIN, now_us, board) {
            let stamp = self.stamp(now_us);
            let Some(train) = self.train.take_message(stamp) else { return };
            self.report(&ToHost::EdgeTrain(train), board);
        }
    }

    fn send_hello(&mut self, nonce: u32, now_us: u64, board: &mut impl Board) {
        let hello = Hello {
            stamp: self.stamp(now_us),
            nonce: Fixed32(nonce),
            board_id: Identity(self.config.board_id),
            firmware: self.config.firmware,
            reset_cause: self.config.reset_cause,
            capabilities: self.config.capabilities,
            report_period_us: Fixed32(self.config.report_period_us),
            min_edge_interval_us: self.config.min_edge_interval_us.map(Fixed32),
        };
        self.report(&ToHost::Hello(hello), board);
    }

    fn send_counts(&mut self, now_us: u64, board: &mut impl Board) {
        let counts = Counts {
            stamp: self.stamp(now_us),
            channels: self.channels.map(|channel| channel.report()),
            working: self.working,
            overruns: Fixed32(self.overruns),
            dropped_frames: Fixed32(self.dropped_frames),
        };
        self.report(&ToHost::Counts(counts), board);
    }

    fn send_health(&mut self, now_us: u64, board: &mut impl Board) {
        let health = Health {
            stamp: self.stamp(now_us),
            supply_mv: Fixed16(board.supply_mv()),
            reset_cause: self.config.reset_cause,
            dropped_frames: Fixed32(self.dropped_frames),
            refused_frames: Fixed32(self.refused_frames()),
        };
        self.report(&ToHost::Health(health), board);
    }

    /// Sends one report, made with the stamp of this moment, or drops it whole.
    fn report(&mut self, message: &ToHost, board: &mut impl Board) {
        let frame = message.frame();
        if board.tx_room() < frame.as_bytes().len() {
            self.drop_report();
            return;
        }
        self.sequence = self.sequence.wrapping_add(1);
        board.tx(frame.as_bytes());
    }

    /// Uses up a sequence number for a report that is not sent.
    fn drop_report(&mut self) {
        self.sequence = self.sequence.wrapping_add(1);
        self.dropped_frames = self.dropped_frames.wrapping_add(1);
    }

    /// Room for a frame that is rather kept than dropped; if not, the next try is put down.
    fn has_room(&mut self, type_id: u8, now_us: u64, board: &mut impl Board) -> bool {
        let fits = frame::encoded_len(type_id).is_some_and(|len| len <= board.tx_room());
        if !fits {
            self.schedule.retry_us = Some(now_us + RETRY_US);
        }
        fits
    }

    const fn stamp(&self, at_us: u64) -> Stamp {
        Stamp {
            boot_id: Fixed32(self.config.boot_id),
            sequence: Fixed32(self.sequence),
            board_us: BoardMicros(at_us),
        }
    }
}
