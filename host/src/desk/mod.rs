//! The person's side of a live job: one loop, whatever the job shows itself as.
//!
//! | module | duty |
//! |---|---|
//! | [`task`] | what a command brings: how it calculates, what a typed line asks, what it shows |
//! | [`worker`] | the thread that calculates, from a copy |
//! | [`face`] | what the loop needs of lines, screen and page |
//! | [`given`] | results for a station that asked for them |
//! | [`typed`] | line by line |
//! | [`screen`] | the terminal as a screen |
//! | [`paged`] | a page for phone or tablet, beside typed lines |
//! | [`words`] | what an event means, how things stand |

pub mod face;
pub mod given;
pub mod lines;
pub mod paged;
pub mod screen;
pub mod task;
pub mod terminal;
pub mod typed;
pub mod words;
pub mod worker;

use crate::recorder::live::{LiveEvent, LiveJob};
use crate::shell::{out, stop};
use crate::store::settings::Settings;
use face::{Asked, Face};
use std::collections::VecDeque;
use std::time::{Duration, Instant};
use task::{Do, Method, Standing, Task, Turn};
use trundle_core::capture::HostMarkAction;
use trundle_core::course::tape::{CourseSpec, course_length};
use trundle_core::session::presses::{
    Answer, Due, End as MarkEnd, Press, PressPlace, PressRuling, Presses, Wish,
};
use trundle_core::stats::budget::Sources;
use trundle_show::live::page::in_units;
use trundle_show::live::watch::Watch;
use trundle_show::reading::Reading;
use trundle_show::words::unfit_note;
use worker::{Done, Wants, Worker};

/// How long marks may wait for the disk before a result without them is refused, and a typed line
/// for the answer to the one before it.
const DISK_WAIT: Duration = Duration::from_secs(2);
const DISK_SLOW: &str = "The disk is slow: the last mark is not safe yet. Try again.";
const BROKE: &str = "The result could not be calculated: a fault of the program, please report it.";

/// How a recording came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The person finished, or nobody reads any more.
    Finished,
    /// A signal ended the program, or its terminal was closed.
    Stopped,
    /// The terminal was closed, but the job outlives it, line by line.
    ScreenGone,
}

impl End {
    /// Exit code of the command, where the result alone deserves `code`.
    #[must_use]
    pub fn code(self, code: u8) -> u8 {
        match self {
            Self::Stopped => stop::code(),
            // Whoever read the output has gone: that is no fault of the measurement.
            Self::Finished if out::closed() => crate::shell::exit::OK,
            Self::Finished | Self::ScreenGone => code,
        }
    }
}

/// A job and everything that has to outlive the face it shows.
pub struct Desk<'a, T: Task> {
    job: &'a LiveJob,
    task: T,
    worker: Worker<T::Method>,
    wants: Wants,
    presses: Presses,
    watch: Watch,
    standing: Standing,
    next_key: u64,
    typed: VecDeque<(u64, String)>,
    /// The typed press that waits for the disk, and since when.
    held: Option<(u64, Instant)>,
    /// Units of whoever looks at the page.
    reading: Reading,
}

impl<'a, T: Task> Desk<'a, T> {
    /// Sit down at a job; `course` is the one in its capture.
    pub fn new(job: &'a LiveJob, task: T, course: Option<&CourseSpec>) -> Self {
        let mut watch = Watch::default();
        if let Some(Ok(length)) = course.map(|spec| course_length(spec, &mut Sources::new())) {
            watch.course_m(length.length.value());
        }
        watch.known(task.known());
        Self {
            job,
            worker: Worker::start(task.method()),
            task,
            wants: Wants::default(),
            presses: Presses::default(),
            watch,
            standing: Standing {
                due: Due { number: 1, end: MarkEnd::Start },
                undo: None,
                last_pass: None,
            },
            next_key: 1,
            typed: VecDeque::new(),
            held: None,
            reading: Settings::reading_in_force(),
        }
    }

    /// Serve until the job is to end.
    pub fn serve(&mut self, face: &mut dyn Face) -> End {
        let (look, picture) = face.pace();
        self.turn(face, &[], picture.is_some());
        let mut drawn = Instant::now();
        loop {
            let events = self.job.poll(look);
            // What the person asks is judged by what was shown, not by what these events make
            // of it.
            let asked = face.asked();
            let mut touched = !events.is_empty() || !asked.is_empty();
            let mut end = asked.into_iter().find_map(|asked| self.ask(face, asked));
            end = end.or_else(|| self.lines(face));
            if let Some(over) = self.calculate(face, &events, picture.is_some()) {
                touched = true;
                end = end.or(over.then_some(End::Finished));
            }
            if touched || picture.is_some_and(|longest| drawn.elapsed() >= longest) {
                self.turn(face, &events, picture.is_some());
                drawn = Instant::now();
            }
            face.turn(self.job, &self.presses);
            // A failure ends the command and is shown there.
            if events.iter().any(|event| matches!(event, LiveEvent::Failed(_))) {
                return End::Finished;
            }
            if stop::wanted() {
                return End::Stopped;
            }
            if let Some(end) = end {
                return end;
            }
        }
    }

    /// Take what happened and show the moment.
    fn turn(&mut self, face: &mut dyn Face, events: &[LiveEvent], pictures: bool) {
        let look = self.job.look();
        for event in events {
            match event {
                LiveEvent::Acknowledged(mark) => self.presses.ruled(mark),
                LiveEvent::Failed(_) => self.presses.failed(),
                _ => {}
            }
            if self.task.shows_marks() || !matches!(event, LiveEvent::Acknowledged(_)) {
                face.happened(event, self.job);
            }
            if pictures {
                self.watch.happened(event, &look, &self.presses);
            }
        }
        self.standing = Standing {
            due: self.presses.due(look.open_pass),
            undo: self.presses.can_undo(),
            last_pass: self.presses.last_pass(),
        };
        if pictures {
            let view = self.watch.view(&look, &self.presses);
            face.show(&view, &|view| in_units(self.task.shown(view), view, &self.reading));
        }
    }

    /// Do what was asked; the end, if that was.
    fn ask(&mut self, face: &mut dyn Face, asked: Asked) -> Option<End> {
        match asked {
            Asked::Line(host_ns, line) => self.typed.push_back((host_ns, line)),
            Asked::Key(host_ns, wish) => {
                // A job without passes has nothing to mark.
                if self.task.passes() || matches!(wish, Wish::Note(_)) {
                    self.terminal(face, host_ns, wish);
                }
            }
            Asked::Page(press) => drop(self.press(press)),
            Asked::Result(reply) => self.wants.ask(reply),
            Asked::Look => {}
            Asked::End(end) => return Some(end),
        }
        None
    }

    /// Do what the typed lines ask, each when the one before it has its answer.
    fn lines(&mut self, face: &mut dyn Face) -> Option<End> {
        while !self.is_held() {
            let (host_ns, line) = self.typed.pop_front()?;
            match self.task.typed(line.trim(), &self.standing) {
                Do::Press(wish) => self.terminal(face, host_ns, wish),
                Do::NotDue => face.answered(&Answer::NotDue),
                Do::Status => self.status(face),
                Do::Result => self.wants.ask(None),
                Do::Say(words) => face.say(&words),
                Do::End => return Some(End::Finished),
            }
        }
        None
    }

    fn is_held(&mut self) -> bool {
        let waits = |since: Instant| since.elapsed() < DISK_WAIT;
        if let Some((key, since)) = self.held {
            let answer = self.presses.answer(PressPlace::Terminal, key);
            if answer == Some(&Answer::Waiting) && waits(since) {
                return true;
            }
            self.held = None;
        }
        // Whoever asked for the result before the end gets it.
        let ends = self.typed.front().is_some_and(|(_, line)| line.trim() == "q");
        ends && self.wants.asked_since().is_some_and(waits)
    }

    fn status(&self, face: &mut dyn Face) {
        face.say(&format!("[{}]", words::status(&self.job.look())));
        match self.job.fit_to_start() {
            Ok(()) => face.say("Fit to start."),
            Err(reasons) => {
                face.say("Not fit to start:");
                reasons.iter().for_each(|reason| face.say(&format!("- {reason}")));
            }
        }
    }

    /// A press of whoever sits at this computer.
    fn terminal(&mut self, face: &mut dyn Face, host_ns: u64, wish: Wish) {
        let key = self.next_key;
        self.next_key += 1;
        let answer = self.press(Press { place: PressPlace::Terminal, key, host_ns, wish });
        if answer == Answer::Waiting {
            self.held = Some((key, Instant::now()));
        }
        face.answered(&answer);
    }

    /// Give a press to the job, unless it was given before, is not due, or may not be done. The
    /// answer to one that is given on is [`Answer::Waiting`]; what becomes of it the presses know
    /// once the disk has it.
    fn press(&mut self, mut press: Press) -> Answer {
        let open = self.job.open_pass();
        let answer = match self.presses.press(&mut press, open) {
            PressRuling::Answer(answer) => answer,
            PressRuling::Give(action, text) => match self.against(action, &text, open) {
                Some(answer) => {
                    self.presses.not_given(press.place, press.key, answer.clone());
                    answer
                }
                None => {
                    self.job.host_mark_at(press.host_ns, action, &text);
                    Answer::Waiting
                }
            },
        };
        self.watch.answered(&answer, &self.job.look());
        answer
    }

    /// What stands against recording a press.
    fn against(&self, action: HostMarkAction, text: &str, open: Option<u32>) -> Option<Answer> {
        match action {
            HostMarkAction::Mark if open.is_none() => {
                self.job.fit_to_start().err().map(|reasons| Answer::NotFit { reasons })
            }
            HostMarkAction::Note => unfit_note(text).map(|words| Answer::Unfit { words }),
            _ => None,
        }
    }

    /// Have calculated what is wanted, and hand out what was; true when the task is over by it.
    fn calculate(
        &mut self,
        face: &mut dyn Face,
        events: &[LiveEvent],
        pictures: bool,
    ) -> Option<bool> {
        self.wants.look |= self.task.due(&Turn { job: self.job, events, pictures });
        let over = self.worker.done().map(|done| self.done(face, done));
        if !self.worker.is_free() {
            return over;
        }
        let asked = self.wants.asked_since();
        let safe = asked.is_none() || self.job.wait_for_disk(Duration::ZERO);
        if !safe && asked.is_some_and(|since| since.elapsed() >= DISK_WAIT) {
            if self.wants.refuse(DISK_SLOW) {
                face.result(DISK_SLOW);
            }
        } else if safe && let Some(order) = self.wants.take() {
            self.worker.begin(self.job.copy(), order);
        }
        over
    }

    fn done(&mut self, face: &mut dyn Face, done: DoneOf<T>) -> bool {
        if done.order.text {
            face.result(done.text.as_deref().unwrap_or(BROKE));
        }
        self.wants.answer(done.page);
        let Some(worked) = done.worked.filter(|_| done.order.look) else { return false };
        let news = self.task.news(worked, done.took);
        news.results.into_iter().for_each(|results| self.watch.results(results));
        news.lines.iter().for_each(|line| face.say(line));
        news.map.into_iter().for_each(|map| face.map(map));
        news.over
    }
}

type DoneOf<T> = Done<<<T as Task>::Method as Method>::Worked>;
