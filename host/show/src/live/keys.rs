//! What a key of the terminal screen asks. A state machine: which keys there are depends on
//! what is open on the screen.

use crate::model::View;
use trundle_core::rig::conditions::{CONDITIONS, in_note};
use trundle_core::session::presses::{Due, Wish};

/// Longest text typed, characters; what the capture keeps of a note.
const TYPED_MAX: usize = 500;
/// Two presses of the mark key closer than this are one held key, nanoseconds: keyboards repeat
/// every 30 to 100 ms; common practice, no source.
const REPEAT_NS: u64 = 400_000_000;
/// A held key begins to repeat after up to a second (common practice, no source), and no pass is
/// driven in this time, nanoseconds.
const FIRST_REPEAT_NS: u64 = 1_500_000_000;

/// A press this soon after another mark appeared was decided on before it, nanoseconds; common
/// practice, no source.
const DECIDED_NS: u64 = 1_000_000_000;

/// A key, as far as it means anything here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    /// A character that was typed.
    Char(char),
    /// The line is ready.
    Enter,
    /// Put away what is open.
    Escape,
    /// Take the last character away.
    Backspace,
    /// This many lines down, or up.
    Scroll(i32),
    /// The wish to stop, as Ctrl-C.
    Interrupt,
}

/// What is open on the screen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Open {
    /// The job itself.
    #[default]
    Job,
    /// A text to read before the job; any key but scrolling puts it away, and does nothing else.
    Before(String, usize),
    /// A note is being typed.
    Note(String),
    /// This condition of [`CONDITIONS`] is being typed; the next one follows.
    Condition(usize, String),
    /// The reason for rejecting this pass is being typed.
    Reject(u32, String),
    /// The question whether to finish.
    Finish,
    /// A text to read, and its first line that is shown.
    Reading(String, usize),
}

/// What the front end has to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Act {
    /// Nothing, or only to draw.
    Nothing,
    /// Give a press to the job.
    Press(Wish),
    /// Calculate the result and show it.
    Result,
    /// Close the job.
    Finish,
    /// Stop as if by Ctrl-C.
    Interrupt,
}

/// The keyboard's side of a screen.
#[derive(Clone, Debug, Default)]
pub struct Keys {
    /// What is open on the screen.
    pub open: Open,
    /// Marks can be given: the job has passes.
    pub passes: bool,
    /// The last press of the mark key, nanoseconds of the person's time, and whether the presses
    /// that hang together with it gave a mark.
    held: Option<(u64, bool)>,
    /// The mark that is shown as due.
    due: Option<Due>,
    /// The one that was shown before, and the time at which it went, nanoseconds.
    before: Option<(Due, u64)>,
    /// The person asked for the next change.
    asked: bool,
}

impl Keys {
    /// The keyboard of a job with passes, or of one without; `before` is to be read first.
    #[must_use]
    pub fn new(passes: bool, before: String) -> Self {
        Self { passes, open: Open::Before(before, 0), ..Self::default() }
    }

    /// A key that came at `person_ns`, nanoseconds of the person's time, where `shown` is what
    /// its person saw.
    pub fn key(&mut self, key: Key, person_ns: u64, shown: &View) -> Act {
        if key == Key::Interrupt {
            return Act::Interrupt;
        }
        match std::mem::take(&mut self.open) {
            Open::Job => self.job(key, person_ns, shown),
            Open::Note(text) => self.typing(text, key, Open::Note, Wish::Note),
            Open::Condition(at, text) => self.condition(at, text, key),
            Open::Reject(number, text) => self.typing(
                text,
                key,
                |text| Open::Reject(number, text),
                |text| Wish::Reject(number, text),
            ),
            Open::Before(text, top) => self.scroll(key, Open::Before, text, top),
            Open::Finish if matches!(key, Key::Char('y' | 'Y')) => Act::Finish,
            Open::Finish => Act::Nothing,
            // The peg does not wait until the text is put away.
            Open::Reading(..) if key == Key::Char(' ') => self.job(key, person_ns, shown),
            Open::Reading(text, top) => self.scroll(key, Open::Reading, text, top),
        }
    }

    fn scroll(
        &mut self,
        key: Key,
        open: impl Fn(String, usize) -> Open,
        text: String,
        top: usize,
    ) -> Act {
        if let Key::Scroll(lines) = key {
            self.open = open(text, top.saturating_add_signed(lines as isize));
        }
        Act::Nothing
    }

    /// Keep the text that is read on the screen: its first line is at most this one.
    pub fn keep_in(&mut self, last_top: usize) {
        if let Open::Before(_, top) | Open::Reading(_, top) = &mut self.open {
            *top = (*top).min(last_top);
        }
    }

    fn job(&mut self, key: Key, person_ns: u64, shown: &View) -> Act {
        if key == Key::Char(' ') {
            return self.mark(person_ns, shown);
        }
        self.held = None;
        match key {
            Key::Char('u') => {
                self.asked = shown.undo.is_some();
                shown.undo.map_or(Act::Nothing, |due| Act::Press(Wish::Undo(due)))
            }
            Key::Char('n') => self.show(Open::Note(String::new())),
            Key::Char('c') => self.show(Open::Condition(0, String::new())),
            Key::Char('x') if shown.last_pass.is_some() => {
                let number = shown.last_pass.unwrap_or_default();
                self.show(Open::Reject(number, String::new()))
            }
            Key::Char('r') => Act::Result,
            Key::Char('q') => self.show(Open::Finish),
            _ => Act::Nothing,
        }
    }

    fn show(&mut self, open: Open) -> Act {
        self.open = open;
        Act::Nothing
    }

    /// This mark is shown as due from `person_ns` on.
    pub fn shows(&mut self, due: Due, person_ns: u64) {
        if self.due == Some(due) {
            return;
        }
        let asked = std::mem::take(&mut self.asked);
        self.before = self.due.replace(due).filter(|_| !asked).map(|before| (before, person_ns));
    }

    /// The mark that a press at `person_ns` means.
    fn meant(&self, person_ns: u64, shown: &View) -> Due {
        match self.before {
            Some((before, gone_ns)) if person_ns < gone_ns + DECIDED_NS => before,
            _ => shown.due,
        }
    }

    fn mark(&mut self, person_ns: u64, shown: &View) -> Act {
        if !self.passes {
            return Act::Nothing;
        }
        if let Some((last_ns, gave)) = self.held {
            let most_ns = if gave { FIRST_REPEAT_NS } else { REPEAT_NS };
            if person_ns.saturating_sub(last_ns) < most_ns {
                self.held = Some((person_ns, gave));
                return Act::Nothing;
            }
        }
        self.held = Some((person_ns, false));
        Act::Press(Wish::Mark(self.meant(person_ns, shown)))
    }

    /// The press of the mark key was given on.
    pub const fn gave(&mut self) {
        if let Some((_, gave)) = &mut self.held {
            *gave = true;
        }
    }

    /// A condition is typed as the note that says it. One that cannot be stays, to be put right.
    fn condition(&mut self, at: usize, text: String, key: Key) -> Act {
        let Some(field) = CONDITIONS.get(at) else { return Act::Nothing };
        let next = match at + 1 {
            next if next < CONDITIONS.len() => Open::Condition(next, String::new()),
            _ => Open::Job,
        };
        if key == Key::Enter && text.trim().is_empty() {
            return self.show(next);
        }
        let note = |typed: String| Wish::Note(format!("{}: {typed}", field.label));
        let act = self.typing(text.clone(), key, |text| Open::Condition(at, text), note);
        if let Act::Press(Wish::Note(note)) = &act {
            let holds = in_note(note).is_some_and(|(_, value)| value.is_ok());
            self.open = if holds { next } else { Open::Condition(at, text) };
        }
        act
    }

    fn typing(
        &mut self,
        mut text: String,
        key: Key,
        open: impl Fn(String) -> Open,
        wish: impl Fn(String) -> Wish,
    ) -> Act {
        match key {
            Key::Escape => return Act::Nothing,
            Key::Enter if !text.trim().is_empty() => {
                return Act::Press(wish(text.trim().to_owned()));
            }
            Key::Char(c) if !c.is_control() && text.chars().count() < TYPED_MAX => text.push(c),
            Key::Backspace => {
                text.pop();
            }
            _ => {}
        }
        self.show(open(text))
    }
}
