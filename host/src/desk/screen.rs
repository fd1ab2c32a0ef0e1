//! A job as a screen in the terminal: the view is drawn, keys are asked.

use super::End;
use super::face::{Asked, Face};
use super::terminal::{Screen, Typed, wants_colour};
use crate::recorder::live::LiveJob;
use crate::shell::clock::Clock;
use crate::shell::{stop, tongue};
use std::time::Duration;
use trundle_core::fitness::live::PICTURE_S;
use trundle_core::session::presses::Answer;
use trundle_show::live::keys::{Act, Keys, Open};
use trundle_show::live::page::Shown;
use trundle_show::live::term::{Scene, draw, last_top};
use trundle_show::model::{Bell, View};

/// How often keys, events and the wish to stop are looked at: a press is answered within a tenth
/// of a second.
const LOOK: Duration = Duration::from_millis(30);

/// What a command puts on the screen.
#[derive(Clone, Debug)]
pub struct Play {
    /// Heading: name of the command.
    pub title: &'static str,
    /// What is to be read first.
    pub before: String,
    /// Ring the terminal's bell.
    pub bell: bool,
}

/// The job as a screen.
pub struct OnScreen {
    play: Play,
    /// The job has passes to mark.
    passes: bool,
    clock: Clock,
    screen: Screen,
    keys: Keys,
    /// What the person sees.
    shown: Option<View>,
    lines: Vec<String>,
    /// A text that is to be read once nothing else is open.
    coming: Option<String>,
    rung: Bell,
    colour: bool,
}

impl OnScreen {
    /// Take the terminal over.
    ///
    /// # Errors
    /// What the system says when it cannot be a screen.
    pub fn open(job: &LiveJob, mut play: Play, passes: bool) -> std::io::Result<Self> {
        let before = std::mem::take(&mut play.before);
        let keys = Keys::new(passes, tongue::in_force().lines(&before).into_owned());
        Ok(Self {
            play,
            passes,
            clock: job.clock(),
            screen: Screen::open(job.clock())?,
            keys,
            shown: None,
            lines: Vec::new(),
            coming: None,
            rung: Bell::default(),
            colour: wants_colour(),
        })
    }

    /// What a key asks.
    fn key(&mut self, typed: Typed) -> Asked {
        let Typed::Key(host_ns, key) = typed else {
            let stops = stop::terminal_closed();
            return Asked::End(if stops { End::Stopped } else { End::ScreenGone });
        };
        let person_ns = self.person_ns(host_ns);
        let Some(shown) = &self.shown else { return Asked::Look };
        match self.keys.key(key, person_ns, shown) {
            Act::Nothing => {
                self.keep_in();
                Asked::Look
            }
            Act::Press(wish) => Asked::Key(host_ns, wish),
            Act::Result => Asked::Result(None),
            Act::Finish => Asked::End(End::Finished),
            Act::Interrupt => {
                stop::ask();
                Asked::End(End::Stopped)
            }
        }
    }

    /// Hands are as quick in practice as in earnest, however fast the simulator runs.
    fn person_ns(&self, host_ns: u64) -> u64 {
        (host_ns as f64 / self.clock.pace()) as u64
    }

    /// A text that is read does not scroll out of the screen.
    fn keep_in(&mut self) {
        if let Open::Before(text, _) | Open::Reading(text, _) = &self.keys.open {
            let last = last_top(text, self.screen.area());
            self.keys.keep_in(last);
        }
    }
}

impl Face for OnScreen {
    fn pace(&self) -> (Duration, Option<Duration>) {
        (LOOK, Some(Duration::from_secs_f64(PICTURE_S)))
    }

    fn asked(&mut self) -> Vec<Asked> {
        // One press at a time: its answer decides what a held key means.
        let mut asked = Vec::new();
        while let Some(typed) = self.screen.typed() {
            asked = vec![self.key(typed)];
            if !matches!(asked[..], [Asked::Look]) {
                break;
            }
        }
        asked
    }

    fn show(&mut self, view: &View, _: &dyn Fn(&View) -> Shown) {
        if self.play.bell && view.bell != self.rung {
            self.screen.ring();
        }
        self.rung = view.bell;
        if matches!(self.keys.open, Open::Job | Open::Reading(..))
            && let Some(text) = self.coming.take()
        {
            self.keys.open = Open::Reading(text, 0);
        }
        self.keys.shows(view.due, self.person_ns(view.host_ns));
        let scene = Scene {
            view,
            open: &self.keys.open,
            title: self.play.title,
            sections: (!self.passes).then_some(&self.lines[..]),
            colour: self.colour,
            tongue: tongue::in_force(),
        };
        // What cannot be put into bytes is drawn at the next look.
        let _ = self.screen.draw(|buffer| draw(&scene, buffer));
        self.shown = Some(view.clone());
    }

    fn answered(&mut self, answer: &Answer) {
        if *answer == Answer::Waiting {
            self.keys.gave();
        }
    }

    fn say(&mut self, words: &str) {
        self.lines.push(tongue::in_force().lines(words).into_owned());
    }

    fn result(&mut self, text: &str) {
        self.coming = Some(tongue::in_force().lines(text.trim_end()).into_owned());
    }
}
