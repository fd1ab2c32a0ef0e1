//! Setting up an adapter to listen: what it is given, in which order, and what it answers.
//!
//! A function of the answers and their times. The commands are all there are: `C` closes the
//! channel, `S5` sets 250 kbit/s, `L` opens it to listen only, and `V`, while it is closed, asks
//! for the version. None of them puts anything on the bus, and an adapter that does not do `L` is
//! not used.

use super::adapter::AdapterItem;

/// Close the channel. Refused by an adapter whose channel is closed already.
pub const CLOSE: &[u8] = b"C\r";
/// The speed of ISO 11783-2, 250 kbit/s.
pub const SPEED: &[u8] = b"S5\r";
/// Open the channel to listen only.
pub const LISTEN: &[u8] = b"L\r";
/// Ask for the version.
pub const VERSION: &[u8] = b"V\r";

/// How long an answer is waited for, nanoseconds: an adapter answers within milliseconds, and the
/// frames of a full bus may stand before the answer.
const ANSWER_NS: u64 = 500_000_000;
/// So long no more answers must come to `C`, nanoseconds: one to a command of whoever had the port
/// before would else be taken for the answer to each next command.
const QUIET_NS: u64 = 100_000_000;
/// How often the set-up is begun anew when an answer does not come: the first one may have been
/// spoilt by what stood on the line before.
const TRIES: u32 = 4;

/// Why an adapter is not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SetupFault {
    /// It does not open its channel to listen only.
    #[error("it refuses to listen only")]
    ListenRefused,
    /// It does not do 250 kbit/s.
    #[error("it refuses the speed of the bus, 250 kbit/s")]
    SpeedRefused,
    /// It does not answer.
    #[error("it does not answer")]
    NoAnswer,
}

impl SetupFault {
    /// What it means and what to do.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::ListenRefused => {
                "Only an adapter that can listen without taking part is used, so that nothing \
                 reaches the tractor's bus. Use another adapter, or bring its firmware up to date."
            }
            Self::SpeedRefused => "Use another adapter.",
            Self::NoAnswer => {
                "Unplug the adapter, plug it in again, and look with `trundle ports`."
            }
        }
    }
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetupStep {
    /// Write these bytes.
    Write(&'static [u8]),
    /// Wait for what comes.
    Wait,
    /// It listens.
    Listens,
    /// It is not used.
    Given(SetupFault),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Begin,
    Closing,
    Speed,
    Opening,
    Listens,
    Given(SetupFault),
}

/// The set-up of one adapter.
#[derive(Clone, Debug)]
pub struct Setup {
    state: State,
    asked_ns: u64,
    tries: u32,
    answer: Option<bool>,
    /// When `C` was answered last.
    closed_ns: Option<u64>,
}

impl Default for Setup {
    fn default() -> Self {
        Self { state: State::Begin, asked_ns: 0, tries: 0, answer: None, closed_ns: None }
    }
}

impl Setup {
    /// Take what the adapter sent.
    pub const fn take(&mut self, item: &AdapterItem) {
        let answer = match item {
            AdapterItem::Acknowledged => true,
            AdapterItem::Refused => false,
            AdapterItem::Frame(..) | AdapterItem::Version(_) => return,
        };
        // Of two answers to one command the first counts.
        if self.answer.is_none() {
            self.answer = Some(answer);
        }
    }

    /// What to do at `now_ns`, on any clock.
    pub fn step(&mut self, now_ns: u64) -> SetupStep {
        let late = now_ns.saturating_sub(self.asked_ns) > ANSWER_NS;
        let answer = self.answer.take();
        if self.state == State::Closing && answer.is_some() {
            self.closed_ns = Some(now_ns);
        }
        let quiet = self.closed_ns.is_some_and(|at_ns| now_ns.saturating_sub(at_ns) > QUIET_NS);
        match (self.state, answer) {
            (State::Begin, _) => self.ask(State::Closing, CLOSE, now_ns),
            // Refused: its channel was closed already. Silent: some answer nothing then.
            (State::Closing, None) if quiet || late => self.ask(State::Speed, SPEED, now_ns),
            (State::Speed, Some(true)) => self.ask(State::Opening, LISTEN, now_ns),
            (State::Opening, Some(true)) => {
                self.state = State::Listens;
                SetupStep::Listens
            }
            (State::Speed, Some(false)) => self.again(SetupFault::SpeedRefused, now_ns),
            (State::Opening, Some(false)) => self.again(SetupFault::ListenRefused, now_ns),
            (State::Speed | State::Opening, None) if late => {
                self.again(SetupFault::NoAnswer, now_ns)
            }
            (State::Listens, _) => SetupStep::Listens,
            (State::Given(fault), _) => SetupStep::Given(fault),
            (State::Closing, Some(_)) | (State::Closing | State::Speed | State::Opening, None) => {
                SetupStep::Wait
            }
        }
    }

    fn ask(&mut self, state: State, command: &'static [u8], now_ns: u64) -> SetupStep {
        (self.state, self.asked_ns, self.answer) = (state, now_ns, None);
        self.closed_ns = None;
        SetupStep::Write(command)
    }

    /// From the beginning: what stood on the line before may have spoilt a command or an answer.
    fn again(&mut self, fault: SetupFault, now_ns: u64) -> SetupStep {
        self.tries += 1;
        if self.tries < TRIES {
            return self.ask(State::Closing, CLOSE, now_ns);
        }
        self.state = State::Given(fault);
        SetupStep::Given(fault)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An adapter that answers each command by a rule; gives what it was sent, and the end.
    fn run(
        answers: impl Fn(&[u8], usize) -> Option<AdapterItem>,
    ) -> (Vec<&'static [u8]>, SetupStep) {
        let (mut setup, mut sent, mut now_ns) = (Setup::default(), Vec::new(), 0);
        loop {
            match setup.step(now_ns) {
                SetupStep::Write(command) => {
                    sent.push(command);
                    answers(command, sent.len()).iter().for_each(|item| setup.take(item));
                }
                SetupStep::Wait => now_ns += 10_000_000,
                end => return (sent, end),
            }
            assert!(now_ns < 60_000_000_000, "no end");
        }
    }

    #[test]
    fn an_adapter_is_closed_set_and_opened_to_listen() {
        let (sent, end) = run(|_, _| Some(AdapterItem::Acknowledged));
        assert_eq!((sent, end), (vec![CLOSE, SPEED, LISTEN], SetupStep::Listens));
        // Closed already: refused, or no answer at all.
        for closed in [Some(AdapterItem::Refused), None] {
            let answer = |command: &[u8], _| {
                if command == CLOSE { closed } else { Some(AdapterItem::Acknowledged) }
            };
            assert_eq!(run(answer).1, SetupStep::Listens);
        }
    }

    #[test]
    fn one_that_refuses_to_listen_only_is_not_used_whatever_else_it_does() {
        let answer = |command: &[u8], _| {
            Some(if command == LISTEN { AdapterItem::Refused } else { AdapterItem::Acknowledged })
        };
        let (sent, end) = run(answer);
        assert_eq!(end, SetupStep::Given(SetupFault::ListenRefused));
        assert!(sent.iter().all(|command| [CLOSE, SPEED, LISTEN].contains(command)));
        assert_eq!(run(|_, _| None).1, SetupStep::Given(SetupFault::NoAnswer));
        let answer = |command: &[u8], _| {
            Some(if command == SPEED { AdapterItem::Refused } else { AdapterItem::Acknowledged })
        };
        assert_eq!(run(answer).1, SetupStep::Given(SetupFault::SpeedRefused));
    }

    /// The answer to a command of whoever had the port before still comes.
    #[test]
    fn a_late_answer_to_another_is_not_taken_for_the_next_ones() {
        let mut setup = Setup::default();
        let (mut due, mut now_ns) = (vec![AdapterItem::Acknowledged], 0);
        let mut first = true;
        loop {
            match setup.step(now_ns) {
                SetupStep::Write(command) => {
                    let closed = std::mem::take(&mut first) && command == CLOSE;
                    due.push(if closed { AdapterItem::Refused } else { AdapterItem::Acknowledged });
                }
                SetupStep::Wait => now_ns += 10_000_000,
                end => return assert_eq!(end, SetupStep::Listens),
            }
            if !due.is_empty() {
                setup.take(&due.remove(0));
            }
            assert!(now_ns < 1_000_000_000, "the answers were taken for each other's");
        }
    }

    #[test]
    fn a_spoilt_first_command_is_given_again() {
        for spoilt in [2, 3] {
            let answer = |_: &[u8], nth| {
                Some(if nth == spoilt { AdapterItem::Refused } else { AdapterItem::Acknowledged })
            };
            assert_eq!(run(answer).1, SetupStep::Listens, "{spoilt}");
        }
    }
}
