//! The one state machine that turns presses into passes.
//!
//! The board's button or gate, the terminal and any other place all feed it. Presses are recognised
//! apart by time and by key, so that a double press, a press at two places at once, or a press
//! that was sent again after a lost answer is one mark.

use super::drive::Drive;
use crate::capture::HostMarkAction;

/// Two presses closer than this are one, nanoseconds: a gloved finger bounces, and two people
/// may press for the same peg.
const SAME_PRESS_NS: u64 = 400_000_000;
/// How many keys of host presses are remembered.
const KEYS: usize = 32;

/// The instant a mark stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MarkTime {
    /// Latched by the board, microseconds of its clock.
    Board {
        /// Board time of the edge.
        board_us: u64,
    },
    /// Stamped by the host when the press was received.
    Host,
}

/// One press of a button.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Press {
    /// Host time of it, nanoseconds.
    pub host_ns: u64,
    /// Best knowledge of the instant meant.
    pub time: MarkTime,
    /// What is asked for.
    pub action: HostMarkAction,
    /// Key of a host press; `None` from the board.
    pub key: Option<u64>,
}

/// What a press did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ruling {
    /// A new pass has begun.
    Start {
        /// Its number, from 1.
        number: u32,
        /// An open pass was given up for it.
        abandons: Option<u32>,
    },
    /// The open pass ends.
    Finish {
        /// Number of the pass, from 1.
        number: u32,
    },
    /// A remark in free text.
    Note,
    /// The start of this pass is undone; nothing is open.
    StartUndone {
        /// Its number; it will be given again.
        number: u32,
    },
    /// The finish of this pass is undone; it is open again.
    FinishUndone {
        /// Number of the pass, from 1.
        number: u32,
    },
    /// This pass is rejected.
    Refused {
        /// Number of the pass, from 1.
        number: u32,
    },
    /// Already done: same key, or the same press seen twice.
    Repeat {
        /// Host time of the press it repeats, nanoseconds.
        of_host_ns: u64,
    },
    /// This open pass is given up: presses were lost, and its finish may have been among them; or
    /// the board restarted in it.
    GivenUp {
        /// Number of the pass, from 1.
        number: u32,
    },
    /// The board restarted in a pass, which ended with that: this press is taken to be its finish.
    FinishOfCut,
    /// A finish without a start.
    NothingOpen,
    /// Nothing to undo or to refuse.
    NothingToUndo,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Last {
    Nothing,
    Start,
    Finish,
}

/// Whether the next press is known to be a start or a finish.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Sure,
    /// The board restarted in a pass: its finish may still come, or a start.
    Cut,
    /// The board restarted, and a press may have been missed.
    Unsure,
}

/// State of the marks.
#[derive(Clone, Debug)]
pub struct MarkBook {
    open: Option<u32>,
    next: u32,
    last: Last,
    last_mark_ns: Option<u64>,
    keys: Vec<(u64, u64)>,
    /// The start of the pass now being driven was lost: the next press is its finish.
    start_lost: bool,
    step: Step,
    /// The last mark was given at the host, where none gets lost.
    by_host: bool,
}

impl Default for MarkBook {
    fn default() -> Self {
        Self {
            open: None,
            next: 1,
            last: Last::Nothing,
            last_mark_ns: None,
            keys: Vec::new(),
            start_lost: false,
            step: Step::Sure,
            by_host: false,
        }
    }
}

impl MarkBook {
    /// The pass that is open.
    #[must_use]
    pub const fn open(&self) -> Option<u32> {
        self.open
    }

    /// Rule on a press. After a restart of the board what was driven since the last mark tells what
    /// it is; nobody asks for it else.
    pub fn press(&mut self, press: &Press, drive: impl FnOnce() -> Drive) -> Ruling {
        if let Some(key) = press.key {
            if let Some(&(_, of_host_ns)) = self.keys.iter().find(|known| known.0 == key) {
                return Ruling::Repeat { of_host_ns };
            }
            if self.keys.len() == KEYS {
                self.keys.remove(0);
            }
            self.keys.push((key, press.host_ns));
        }
        match press.action {
            HostMarkAction::Note => Ruling::Note,
            HostMarkAction::Undo => self.undo(),
            HostMarkAction::Refuse => self.refuse(),
            HostMarkAction::Mark | HostMarkAction::Start | HostMarkAction::Finish => {
                if let Some(of_host_ns) = self.last_mark_ns
                    && press.host_ns.saturating_sub(of_host_ns) < SAME_PRESS_NS
                {
                    return Ruling::Repeat { of_host_ns };
                }
                if std::mem::take(&mut self.start_lost) && press.action == HostMarkAction::Mark {
                    self.last_mark_ns = Some(press.host_ns);
                    return Ruling::NothingOpen;
                }
                self.by_host = press.key.is_some();
                let starts = match press.action {
                    HostMarkAction::Start => Some(true),
                    HostMarkAction::Finish => Some(false),
                    _ => self.starts(drive),
                };
                if press.action != HostMarkAction::Mark {
                    self.step = Step::Sure;
                }
                match starts {
                    Some(true) => self.start(press.host_ns),
                    Some(false) => self.finish(press.host_ns),
                    None => {
                        self.last_mark_ns = Some(press.host_ns);
                        Ruling::FinishOfCut
                    }
                }
            }
        }
    }

    /// Whether a press begins a pass; `None`: it ends one that a restart of the board cut off.
    fn starts(&mut self, drive: impl FnOnce() -> Drive) -> Option<bool> {
        let open = self.open.is_some();
        match (std::mem::replace(&mut self.step, Step::Unsure), open) {
            (Step::Sure, _) => {
                self.step = Step::Sure;
                Some(!open)
            }
            (Step::Cut, _) => (drive() == Drive::NoPass).then_some(true),
            (Step::Unsure, false) => Some(true),
            (Step::Unsure, true) => match drive() {
                Drive::Pass => {
                    self.step = Step::Sure;
                    Some(false)
                }
                // Out of step: what was taken for a start was a finish.
                Drive::NoPass => Some(true),
                Drive::Unknown => Some(false),
            },
        }
    }

    /// The board restarted: an open pass ends with that, and a press may have been missed. Shows
    /// the pass that was open.
    pub fn board_restarted(&mut self) -> Option<u32> {
        let open = self.open.take();
        if open.is_some() {
            self.last = Last::Nothing;
            self.step = Step::Cut;
        } else if self.step == Step::Sure && !self.by_host && self.next > 1 {
            self.step = Step::Unsure;
        }
        open
    }

    /// No pass was begun yet.
    #[must_use]
    pub const fn is_first(&self) -> bool {
        self.next == 1
    }

    /// Nothing shows so far whether the presses since a restart of the board are starts or
    /// finishes.
    #[must_use]
    pub fn is_unsure(&self) -> bool {
        self.step != Step::Sure
    }

    /// As far as can be seen, starts and finishes are swapped.
    pub const fn doubt(&mut self) {
        self.step = Step::Unsure;
    }

    /// Presses never arrived (the board numbers them). Presses alternate, so how many were lost
    /// shows whether the next one is a start or a finish; the pass that was open is given up.
    pub fn presses_lost(&mut self, presses: u32) -> Option<Ruling> {
        let in_pass = self.open.is_some() || self.start_lost;
        let odd = presses % 2 == 1;
        // Among those that were lost may be the finish of the pass that was cut off.
        match self.step {
            Step::Cut if odd => self.step = Step::Unsure,
            Step::Cut => {}
            Step::Sure | Step::Unsure => self.start_lost = in_pass != odd,
        }
        self.last = Last::Nothing;
        self.open.take().map(|number| Ruling::GivenUp { number })
    }

    fn start(&mut self, host_ns: u64) -> Ruling {
        let abandons = self.open;
        let number = self.next;
        self.next += 1;
        self.open = Some(number);
        self.last = Last::Start;
        self.last_mark_ns = Some(host_ns);
        Ruling::Start { number, abandons }
    }

    fn finish(&mut self, host_ns: u64) -> Ruling {
        let Some(number) = self.open.take() else {
            return Ruling::NothingOpen;
        };
        self.last = Last::Finish;
        self.last_mark_ns = Some(host_ns);
        Ruling::Finish { number }
    }

    fn undo(&mut self) -> Ruling {
        let last = std::mem::replace(&mut self.last, Last::Nothing);
        // A mark right after an undo is meant, not a bouncing finger.
        self.last_mark_ns = None;
        let number = self.next - 1;
        match last {
            Last::Nothing => Ruling::NothingToUndo,
            Last::Start => {
                self.open = None;
                self.next = number;
                Ruling::StartUndone { number }
            }
            Last::Finish => {
                self.open = Some(number);
                // The start of the same pass can still be undone after its finish.
                self.last = Last::Start;
                Ruling::FinishUndone { number }
            }
        }
    }

    fn refuse(&mut self) -> Ruling {
        let number = self.next - 1;
        if number == 0 {
            return Ruling::NothingToUndo;
        }
        self.open = None;
        self.last = Last::Nothing;
        Ruling::Refused { number }
    }
}
