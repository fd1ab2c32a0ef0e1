//! A live job as a screen in the terminal: what came is folded into the view, the view is drawn,
//! keys become presses. The same loop serves a job with passes and one without.

use crate::cli::desk::End;
use crate::cli::watching::Watching;
use crate::shell::exit::Trouble;
use crate::shell::live::{LiveEvent, LiveJob};
use crate::shell::terminal::{Screen, Typed, wants_colour};
use crate::shell::{out, stop};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};
use trundle_core::capture::HostMarkAction;
use trundle_core::session::presses::{Answer, Place, Press, Wish};
use trundle_show::live::keys::{Act, Keys, Open};
use trundle_show::live::term::{Scene, draw, last_top};
use trundle_show::model::{Bell, View};
use trundle_show::words as texts;

/// How often keys, events and the wish to stop are looked at: a press is answered within a tenth
/// of a second.
const LOOK: Duration = Duration::from_millis(30);
/// Least time between two pictures where nothing happened.
const PICTURE: Duration = Duration::from_millis(200);

/// What a command puts on the screen.
pub struct Play<'a> {
    /// Heading: the command.
    pub title: &'a str,
    /// What is to be read first.
    pub before: String,
    /// Ring the bell.
    pub bell: bool,
    /// The job has passes.
    pub passes: bool,
    /// The result so far, as a text to read.
    pub result: &'a dyn Fn() -> String,
    /// Looked at each time; gives new lines of a job without passes.
    pub meanwhile: &'a mut dyn FnMut() -> Vec<String>,
}

/// Serve until the job is to end. `None`: there is no screen to be had, or it broke down; the
/// job goes on.
///
/// # Errors
/// [`Trouble`] of code 2 when the course cannot be read.
pub fn serve<'a>(job: &'a LiveJob, mut play: Play<'a>) -> Result<Option<End>, Trouble> {
    let watching = Watching::new(job)?;
    let screen = match Screen::open(job.clock()) {
        Ok(screen) => screen,
        Err(error) => {
            out::tell(&format!("The terminal cannot be used as a screen ({error})."));
            return Ok(None);
        }
    };
    let keys = Keys::new(play.passes, std::mem::take(&mut play.before));
    let mut desk = Desk {
        job,
        play,
        watching,
        screen,
        keys,
        windows: Vec::new(),
        next_key: 1,
        rung: Bell::default(),
        colour: wants_colour(),
    };
    // Whatever breaks in here is a fault of the picture: the measurement goes on without it.
    let end = catch_unwind(AssertUnwindSafe(|| desk.serve()));
    drop(desk);
    if end.is_err() {
        out::tell(texts::SCREEN_BROKE);
    }
    Ok(end.ok())
}

/// The person's side of the job.
struct Desk<'a> {
    job: &'a LiveJob,
    play: Play<'a>,
    watching: Watching,
    screen: Screen,
    keys: Keys,
    windows: Vec<String>,
    next_key: u64,
    rung: Bell,
    colour: bool,
}

impl Desk<'_> {
    fn serve(&mut self) -> End {
        let mut shown = self.watching.turn(self.job, &[]);
        self.draw(&shown);
        let mut drawn = Instant::now();
        loop {
            let events = self.job.poll(LOOK);
            if events.iter().any(|event| matches!(event, LiveEvent::Failed(_))) {
                return End::Finished;
            }
            let mut touched = !events.is_empty();
            while let Some(typed) = self.screen.typed() {
                touched = true;
                // `shown`, not what these events make of it: that is what the person saw.
                if let Some(end) = self.typed(typed, &shown) {
                    return end;
                }
            }
            if stop::wanted() {
                return End::Stopped;
            }
            self.windows.extend((self.play.meanwhile)());
            if touched || drawn.elapsed() >= PICTURE {
                shown = self.watching.turn(self.job, &events);
                self.ring(&shown);
                self.draw(&shown);
                drawn = Instant::now();
            }
        }
    }

    /// Do what a key asks; the end, if it asks for that.
    fn typed(&mut self, typed: Typed, shown: &View) -> Option<End> {
        let Typed::Key(host_ns, key) = typed else { return Some(End::Finished) };
        match self.keys.key(key, self.person_ns(host_ns), shown) {
            Act::Nothing => self.keep_in(),
            Act::Press(wish) => self.press(host_ns, wish),
            Act::Result => self.keys.open = Open::Reading((self.play.result)(), 0),
            Act::Finish => return Some(End::Finished),
            Act::Interrupt => {
                stop::ask();
                return Some(End::Stopped);
            }
        }
        None
    }

    /// Hands are as quick in practice as in earnest, however fast the simulator runs.
    fn person_ns(&self, host_ns: u64) -> u64 {
        (host_ns as f64 / self.job.clock().pace()) as u64
    }

    /// A text that is read does not scroll out of the screen.
    fn keep_in(&mut self) {
        if let Open::Before(text, _) | Open::Reading(text, _) = &self.keys.open {
            let last = last_top(text, self.screen.area());
            self.keys.keep_in(last);
        }
    }

    fn press(&mut self, host_ns: u64, wish: Wish) {
        if !self.play.passes {
            if let Wish::Note(text) = wish {
                self.job.host_mark_at(host_ns, HostMarkAction::Note, &text);
            }
            return;
        }
        let key = self.next_key;
        self.next_key += 1;
        let pressed = Press { place: Place::Terminal, key, host_ns, wish };
        if self.watching.press(self.job, pressed) == Answer::Waiting {
            self.keys.gave();
        }
    }

    fn ring(&mut self, view: &View) {
        if self.play.bell && view.bell != self.rung {
            self.screen.ring();
        }
        self.rung = view.bell;
    }

    fn draw(&mut self, view: &View) {
        self.keys.shows(view.due, self.person_ns(view.host_ns));
        let scene = Scene {
            view,
            open: &self.keys.open,
            title: self.play.title,
            windows: (!self.play.passes).then_some(&self.windows[..]),
            colour: self.colour,
        };
        // What cannot be put into bytes is drawn at the next look.
        let _ = self.screen.draw(|buffer| draw(&scene, buffer));
    }
}
