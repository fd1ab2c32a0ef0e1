//! Leads a person and a board through the check: what to ask of whom, and when.
//!
//! Time is the board's own, from its reports, so that a slow computer or line moves everything
//! together. While nothing comes on the input asked for, the signal is begun again every second or
//! two: whoever sets the bridge is seen at once, and no key has to be pressed with gloves on. Then
//! the signal is given once more from its beginning, and judged.

use super::{Bench, Input, RunState, TEST_PIN, commands};
use crate::survey::sensors::check::Mark;
use trundle_counter::test_signal::{BOUNCE, FASTEST, LENGTH_US, MARKS, PHASES, SLOW, starts_us};
use trundle_protocol::message::{CHANNELS, Hello, ToBoard};
use trundle_protocol::units::Channel;

/// The signal stands still so long before it is given again, microseconds: the board has switched
/// it off by then.
const PAUSE_US: u64 = 150_000;
/// Longest wait for what a run shows of an input, microseconds from its start: the report has to
/// come over the line and through the computer.
const SHOWN_BY_US: u64 = 5_000_000;
/// The board's last answers are waited for so long, microseconds.
const CLOSING_US: u64 = 400_000;
/// So long after its end a run that nothing came of is given again, microseconds.
const OVERDUE_US: u64 = 4_000_000;

/// What is to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// Send this to the board.
    Send(ToBoard),
    /// Put this note into the capture.
    Note(String),
    /// Show this to the person.
    Say(String),
}

/// Where the check stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    /// The next input is to be asked for.
    Ask,
    /// The signal is off since this board time.
    Off(u64),
    /// The signal was asked for at this board time.
    On(u64),
    /// Everything was sent at this board time; its answers are still to come.
    Closing(u64),
    /// All is done.
    Over,
}

/// The check so far.
#[derive(Clone, Debug)]
pub struct Lead {
    wanted: Vec<Input>,
    inputs: Vec<Input>,
    at: usize,
    stage: Stage,
    planned: bool,
    /// The run is to be judged: the bridge was seen before.
    whole: bool,
    /// Steps of this run that are done.
    done: usize,
    filters_us: Option<[u32; CHANNELS]>,
    newest_us: u64,
    /// The hint said last, so that nothing is said twice in a row.
    hint: Option<Vec<Input>>,
}

impl Lead {
    /// For these inputs; for all that the board has where none is named.
    #[must_use]
    pub const fn new(wanted: Vec<Input>) -> Self {
        Self {
            wanted,
            inputs: Vec::new(),
            at: 0,
            stage: Stage::Ask,
            planned: false,
            whole: false,
            done: 0,
            filters_us: None,
            newest_us: 0,
            hint: None,
        }
    }

    /// The check has come to its end.
    #[must_use]
    pub fn over(&self) -> bool {
        self.stage == Stage::Over
    }

    /// What is to be done at this board time, where `hello` is who the board is and `bench` the
    /// judgement of the capture so far, which may lag a little.
    pub fn next(&mut self, board_us: u64, hello: &Hello, bench: Option<&Bench>) -> Vec<Order> {
        let mut orders = Vec::new();
        if !self.planned {
            self.plan(hello, &mut orders);
        }
        if board_us < self.newest_us && matches!(self.stage, Stage::Off(_) | Stage::On(_)) {
            // The board has restarted: its clock begins anew, and its signal is off.
            orders.push(Order::Say("The board restarted. This input again.".to_owned()));
            self.begin(board_us, &mut orders);
        }
        self.newest_us = board_us;
        match self.stage {
            Stage::Ask => self.ask(board_us, &mut orders),
            Stage::Off(since_us) if board_us >= since_us + PAUSE_US => {
                self.done = 0;
                self.stage = Stage::On(board_us);
                orders.push(Order::Send(commands::give()));
            }
            Stage::On(sent_us) => self.run(sent_us, bench, &mut orders),
            Stage::Closing(since_us)
                if board_us < since_us || board_us >= since_us + CLOSING_US =>
            {
                self.stage = Stage::Over;
            }
            Stage::Off(_) | Stage::Closing(_) | Stage::Over => {}
        }
        orders
    }

    /// Stop now: what is to be sent so that the board is left as it was.
    #[must_use]
    pub fn stop(&mut self) -> Vec<Order> {
        let mut orders = vec![Order::Send(commands::stop())];
        self.filter_back(self.at, &mut orders);
        self.stage = Stage::Closing(self.newest_us);
        orders
    }

    fn plan(&mut self, hello: &Hello, orders: &mut Vec<Order>) {
        let has = Input::of_board(hello.capabilities);
        self.inputs = if self.wanted.is_empty() { has } else { self.wanted.clone() };
        self.filters_us = Some(hello.min_edge_interval_us.map(|interval| interval.0));
        self.planned = true;
        orders.push(Order::Note(commands::plan_note(&self.inputs)));
    }

    fn input(&self) -> Option<Input> {
        self.inputs.get(self.at).copied()
    }

    fn ask(&mut self, board_us: u64, orders: &mut Vec<Order>) {
        if let Some(before) = self.at.checked_sub(1) {
            self.filter_back(before, orders);
        }
        let Some(input) = self.input() else {
            orders.push(Order::Send(commands::stop()));
            self.stage = Stage::Closing(board_us);
            return;
        };
        orders.push(Order::Note(commands::ask_note(input)));
        let (at, of) = (self.at + 1, self.inputs.len());
        orders.push(Order::Say(format!(
            "{at} of {of}. Bridge the test pin ({TEST_PIN}) to the {} ({}).",
            input.title(),
            input.pin()
        )));
        self.begin(board_us, orders);
        // Reports cannot follow the level before the last part: every run is whole.
        (self.whole, self.hint) = (input == Input::Implement, None);
    }

    /// Filter off, signal off: what a run begins with.
    fn begin(&mut self, board_us: u64, orders: &mut Vec<Order>) {
        orders.push(Order::Send(commands::stop()));
        if let Some(channel) = self.channel() {
            orders.push(Order::Send(commands::filter_off(channel)));
        }
        self.stage = Stage::Off(board_us);
    }

    fn channel(&self) -> Option<Channel> {
        self.input().and_then(Input::channel)
    }

    /// The filter of the input at this place as it was.
    fn filter_back(&self, at: usize, orders: &mut Vec<Order>) {
        let channel = self.inputs.get(at).and_then(|input| input.channel());
        if let Some((channel, filters_us)) = channel.zip(self.filters_us) {
            let before_us = filters_us[channel.index()];
            orders.push(Order::Send(commands::filter_back(channel, before_us)));
        }
    }

    fn run(&mut self, sent_us: u64, bench: Option<&Bench>, orders: &mut Vec<Order>) {
        let Some(input) = self.input() else { return };
        let now = bench.and_then(|bench| bench.now.as_ref()).filter(|now| now.input == input);
        let line = bench.and_then(|bench| bench.line(input));
        let decided = line.is_some_and(|line| line.mark != Mark::NotSeen);
        if let Some(now) = now.filter(|now| decided || now.given_up) {
            let judged = matches!(now.state, RunState::Judged(_));
            let said = if judged { " Take the bridge off." } else { "" };
            let what = line.map_or("", |line| line.what.as_str());
            let how = match line.map(|line| line.mark) {
                Some(Mark::Pass) => "passes",
                Some(Mark::Fail) => "FAILS",
                Some(Mark::NotSeen) | None => "was not tested",
            };
            orders.push(Order::Say(format!("The {} {how}: {what}.{said}", input.title())));
            self.at += 1;
            self.stage = Stage::Ask;
            return;
        }
        // What is known of an earlier run says nothing of this one.
        let now = now.filter(|now| now.run_from_us.is_some_and(|from_us| from_us >= sent_us));
        let from_us = now.and_then(|now| now.run_from_us).unwrap_or(sent_us);
        let since_us = self.newest_us.saturating_sub(from_us);
        self.steps(since_us, orders);
        let again = match now.map(|now| &now.state) {
            Some(RunState::Present) if !self.whole => {
                self.whole = true;
                let seconds = LENGTH_US.div_ceil(1_000_000);
                let what = format!(
                    "The signal arrives at the {}. Leave the bridge for {seconds} s.",
                    input.title()
                );
                orders.push(Order::Say(what));
                true
            }
            Some(RunState::Partial(_) | RunState::Spoilt(_)) => true,
            Some(RunState::Silent) => {
                self.whole = input == Input::Implement;
                true
            }
            Some(RunState::Elsewhere(others)) => {
                self.hint(input, others, orders);
                self.whole = input == Input::Implement;
                true
            }
            _ if self.whole => since_us > LENGTH_US + OVERDUE_US,
            _ => since_us > SHOWN_BY_US,
        };
        if again {
            self.begin(self.newest_us, orders);
        }
    }

    /// It comes on another input: that is said once, and the one before it is no news.
    fn hint(&mut self, input: Input, others: &[Input], orders: &mut Vec<Order>) {
        if self.hint.as_deref() == Some(others) {
            return;
        }
        let before = self.at.checked_sub(1).and_then(|at| self.inputs.get(at));
        self.hint = Some(others.to_vec());
        if others.len() == 1 && others.first() == before {
            return;
        }
        let names: Vec<&str> = others.iter().map(|other| other.title()).collect();
        orders.push(Order::Say(format!(
            "The signal arrives at the {}, not at the {}: move the bridge to {}.",
            names.join(" and "),
            input.title(),
            input.pin()
        )));
    }

    /// What is due in a whole run on an impulse input, each once.
    fn steps(&mut self, since_us: u64, orders: &mut Vec<Order>) {
        let Some(channel) = self.channel().filter(|_| self.whole) else { return };
        let middle = |phase: usize| starts_us(phase) - u64::from(PHASES[phase].rest_us) / 2;
        let back = commands::filter_back(
            channel,
            self.filters_us.map_or(0, |filters_us| filters_us[channel.index()]),
        );
        // Edge times are asked for in the rest before: the board waits for the first edge. A second
        // request is refused where the first was taken.
        let steps = [
            (200_000, commands::slow_times(channel)),
            (middle(SLOW), commands::slow_times(channel)),
            (middle(FASTEST) - 100_000, commands::fastest_times(channel)),
            (middle(FASTEST) + 50_000, commands::fastest_times(channel)),
            (middle(BOUNCE) - 50_000, commands::filter_on(channel)),
            (middle(MARKS), back),
        ];
        while let Some((due_us, command)) = steps.get(self.done) {
            if since_us < *due_us {
                return;
            }
            orders.push(Order::Send(*command));
            self.done += 1;
        }
    }
}
