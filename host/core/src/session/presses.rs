//! Presses from every place that can mark: board button or light gate, terminal, page.
//!
//! Which press is a start, a finish or one press seen twice is ruled by
//! [`super::marks::MarkBook`], inside the session, where the capture shows it. What is
//! added here is what only a live screen needs: a press carries what its person saw as due, so
//! that two people who press for the same peg a second apart give one mark, and a press whose
//! answer was lost can be sent again under its key and gets the answer of the first.

use crate::capture::HostMarkAction;
use crate::session::SessionEvent;
use crate::session::marks::Ruling;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Presses remembered for a retry; a retry comes within seconds.
const REMEMBERED: usize = 256;

/// Where a press is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PressPlace {
    /// Button or light gate at the counter board.
    Board,
    /// The keyboard of this computer.
    Terminal,
    /// A page in a browser.
    Page,
}

/// Which end of a pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The start of a pass.
    Start,
    /// The finish of a pass.
    Finish,
}

/// One mark: an end of a pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Due {
    /// The pass, from 1.
    pub number: u32,
    /// Which end of the pass.
    pub end: End,
}

/// A mark that is on the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Marked {
    /// Which action comes next.
    pub due: Due,
    /// Host time of the press, nanoseconds.
    pub host_ns: u64,
    /// Where it was made.
    pub place: PressPlace,
}

/// What a press asks, in the light of what its person saw.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wish {
    /// This mark, which was shown as due.
    Mark(Due),
    /// Take this mark back, which was shown as the last one.
    Undo(Due),
    /// Leave this pass out, which was shown as the last one, for this reason.
    Reject(u32, String),
    /// A remark in free text.
    Note(String),
}

/// One press. Place and key name it: sent again, it is the same press.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Press {
    /// Where it was pressed.
    pub place: PressPlace,
    /// Its key among the presses of that place.
    pub key: u64,
    /// Host time at which it was received, nanoseconds.
    pub host_ns: u64,
    /// What the press asks for.
    pub wish: Wish,
}

/// What became of a press.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "answer", rename_all = "snake_case")]
pub enum Answer {
    /// It waits for the disk.
    Waiting,
    /// What was asked was done.
    Done {
        /// The mark it gave, where it gave one.
        mark: Option<Due>,
    },
    /// The mark it asks for is there already.
    Already(Marked),
    /// What it asks is not due (any more); nothing was done.
    NotDue,
    /// A pass may not be started now; nothing was done.
    NotFit {
        /// Every reason, with what to do.
        reasons: Vec<String>,
    },
    /// What was typed cannot be; nothing was saved.
    Unfit {
        /// Why, and what to do.
        words: String,
    },
    /// The capture can no longer be written; it is not saved.
    NotSaved,
}

/// What the shell has to do with a press.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PressRuling {
    /// Nothing; this is the answer (so far).
    Answer(Answer),
    /// Record it; its answer follows.
    Give(HostMarkAction, String),
}

#[derive(Clone, Debug)]
struct Known {
    press: Press,
    answer: Answer,
    /// It was handed on to be recorded; otherwise it waits for a mark another one gives.
    given: bool,
}

/// The presses of a job and the marks they gave.
#[derive(Clone, Debug, Default)]
pub struct Presses {
    known: VecDeque<Known>,
    marks: BTreeMap<Due, Marked>,
    /// Marks that can be undone, the last one at the end.
    undo: Vec<Due>,
    last: Option<Marked>,
    /// Passes that are closed without a finish.
    closed: BTreeSet<u32>,
    failed: bool,
}

impl Presses {
    /// Judge a press. `open`: the pass that is open in the session now, acknowledged or not.
    /// A press given on has to be recorded with its `host_ns`, which is made unique here.
    pub fn press(&mut self, press: &mut Press, open: Option<u32>) -> PressRuling {
        if let Some(known) = self.find(press.place, press.key) {
            return PressRuling::Answer(known.answer.clone());
        }
        while self.known.iter().any(|known| known.press.host_ns == press.host_ns) {
            press.host_ns += 1;
        }
        let verdict = if self.failed {
            PressRuling::Answer(Answer::NotSaved)
        } else {
            self.judge(&press.wish, open)
        };
        let (answer, given) = match &verdict {
            PressRuling::Answer(answer) => (answer.clone(), false),
            PressRuling::Give(..) => (Answer::Waiting, true),
        };
        if self.known.len() == REMEMBERED {
            self.known.pop_front();
        }
        self.known.push_back(Known { press: press.clone(), answer, given });
        verdict
    }

    fn judge(&self, wish: &Wish, open: Option<u32>) -> PressRuling {
        match wish {
            Wish::Mark(due) => self.judge_mark(*due, open),
            Wish::Undo(due) if self.undo.last() == Some(due) && !self.waits() => {
                PressRuling::Give(HostMarkAction::Undo, String::new())
            }
            Wish::Reject(number, reason)
                if self.last_pass() == Some(*number)
                    && !self.waits()
                    && open.is_none_or(|n| n == *number) =>
            {
                PressRuling::Give(HostMarkAction::Refuse, reason.clone())
            }
            Wish::Undo(_) | Wish::Reject(..) => PressRuling::Answer(Answer::NotDue),
            Wish::Note(text) => PressRuling::Give(HostMarkAction::Note, text.clone()),
        }
    }

    fn judge_mark(&self, due: Due, open: Option<u32>) -> PressRuling {
        if let Some(marked) = self.marks.get(&due) {
            return PressRuling::Answer(Answer::Already(*marked));
        }
        // Given by another press, or in the session by the board's, but not yet on the disk.
        let asked = self.known.iter().any(|known| {
            known.given && known.answer == Answer::Waiting && known.press.wish == Wish::Mark(due)
        });
        let ruled = match due.end {
            End::Start => open == Some(due.number),
            End::Finish => open.is_none() && self.is_open(due.number),
        };
        if asked || ruled {
            return PressRuling::Answer(Answer::Waiting);
        }
        let fits = match due.end {
            End::Start => open.is_none() && due.number == self.next_number(),
            End::Finish => open == Some(due.number),
        };
        if fits {
            PressRuling::Give(HostMarkAction::Mark, String::new())
        } else {
            PressRuling::Answer(Answer::NotDue)
        }
    }

    /// The shell did not record the press; this is its answer.
    pub fn not_given(&mut self, place: PressPlace, key: u64, answer: Answer) {
        self.settle(answer, |press| press.place == place && press.key == key);
    }

    /// Nothing more is recorded: what still waits is not saved.
    pub fn failed(&mut self) {
        self.failed = true;
        self.settle(Answer::NotSaved, |_| true);
    }

    /// A ruling came from the disk.
    pub fn ruled(&mut self, event: &SessionEvent) {
        let SessionEvent::Mark { host_ns, from_board, ruling } = *event else {
            if matches!(event, SessionEvent::MarkLost { .. }) {
                self.close_last();
            }
            return self.settle_followers();
        };
        let own = |known: &&Known| known.given && !from_board && known.press.host_ns == host_ns;
        let place = self.known.iter().find(own).map_or(PressPlace::Terminal, |k| k.press.place);
        let place = if from_board { PressPlace::Board } else { place };
        self.apply(ruling, host_ns, place);
        let answer = match ruling {
            Ruling::Start { number, .. } => {
                Answer::Done { mark: Some(Due { number, end: End::Start }) }
            }
            Ruling::Finish { number } => {
                Answer::Done { mark: Some(Due { number, end: End::Finish }) }
            }
            Ruling::Note
            | Ruling::StartUndone { .. }
            | Ruling::FinishUndone { .. }
            | Ruling::FinishOfCut
            | Ruling::Refused { .. } => Answer::Done { mark: None },
            Ruling::Repeat { of_host_ns } => {
                let first = self.marks.values().find(|marked| marked.host_ns == of_host_ns);
                first.copied().map_or(Answer::NotDue, Answer::Already)
            }
            Ruling::GivenUp { .. } | Ruling::NothingOpen | Ruling::NothingToUndo => Answer::NotDue,
        };
        if !from_board {
            self.settle(answer, |press| press.host_ns == host_ns);
        }
        self.settle_followers();
    }

    /// Presses that wait for a mark somebody else gave.
    fn settle_followers(&mut self) {
        for known in self.known.iter_mut().filter(|k| !k.given && k.answer == Answer::Waiting) {
            let Wish::Mark(due) = known.press.wish else { continue };
            if let Some(marked) = self.marks.get(&due) {
                known.answer = Answer::Already(*marked);
            } else if self.closed.contains(&due.number) {
                known.answer = Answer::NotDue;
            }
        }
    }

    fn apply(&mut self, ruling: Ruling, host_ns: u64, place: PressPlace) {
        match ruling {
            Ruling::Start { number, abandons } => {
                self.undo.clear();
                self.closed.extend(abandons);
                self.mark(Due { number, end: End::Start }, host_ns, place);
            }
            Ruling::Finish { number } => {
                self.mark(Due { number, end: End::Finish }, host_ns, place);
            }
            Ruling::StartUndone { number } => self.unmark(Due { number, end: End::Start }),
            Ruling::FinishUndone { number } => self.unmark(Due { number, end: End::Finish }),
            Ruling::Refused { .. } | Ruling::GivenUp { .. } => self.close_last(),
            Ruling::Note
            | Ruling::Repeat { .. }
            | Ruling::FinishOfCut
            | Ruling::NothingOpen
            | Ruling::NothingToUndo => {}
        }
    }

    /// The last pass is rejected or given up: no mark of it can be undone or follow.
    fn close_last(&mut self) {
        self.undo.clear();
        self.closed.extend(self.last_pass());
    }

    fn mark(&mut self, due: Due, host_ns: u64, place: PressPlace) {
        let marked = Marked { due, host_ns, place };
        self.marks.insert(due, marked);
        self.undo.push(due);
        self.last = Some(marked);
    }

    fn unmark(&mut self, due: Due) {
        self.closed.remove(&due.number);
        self.marks.remove(&due);
        self.undo.retain(|known| *known != due);
        self.last = self.marks.values().max_by_key(|marked| marked.host_ns).copied();
    }

    fn settle(&mut self, answer: Answer, whose: impl Fn(&Press) -> bool) {
        for known in &mut self.known {
            if known.answer == Answer::Waiting && whose(&known.press) {
                known.answer = answer.clone();
            }
        }
    }

    fn find(&self, place: PressPlace, key: u64) -> Option<&Known> {
        self.known.iter().find(|known| known.press.place == place && known.press.key == key)
    }

    /// The answer to a press, if it is known.
    #[must_use]
    pub fn answer(&self, place: PressPlace, key: u64) -> Option<&Answer> {
        self.find(place, key).map(|known| &known.answer)
    }

    /// True while a press waits for the disk.
    #[must_use]
    pub fn waits(&self) -> bool {
        self.known.iter().any(|known| known.answer == Answer::Waiting)
    }

    /// The mark that is due, as far as the disk knows.
    #[must_use]
    pub fn due(&self, open: Option<u32>) -> Due {
        match open {
            Some(number) => Due { number, end: End::Finish },
            None => Due { number: self.next_number(), end: End::Start },
        }
    }

    /// The mark that can be undone.
    #[must_use]
    pub fn can_undo(&self) -> Option<Due> {
        self.undo.last().copied()
    }

    /// The last mark that stands.
    #[must_use]
    pub const fn last(&self) -> Option<Marked> {
        self.last
    }

    /// The last pass begun: the one that can be left out.
    #[must_use]
    pub fn last_pass(&self) -> Option<u32> {
        self.marks.keys().next_back().map(|due| due.number)
    }

    /// The pass has this end.
    #[must_use]
    pub fn has(&self, number: u32, end: End) -> bool {
        self.marks.contains_key(&Due { number, end })
    }

    fn is_open(&self, number: u32) -> bool {
        let closed = self.closed.contains(&number);
        self.has(number, End::Start) && !self.has(number, End::Finish) && !closed
    }

    fn next_number(&self) -> u32 {
        self.last_pass().map_or(1, |number| number + 1)
    }
}
