//! A job line by line: what happens is said, what is typed is asked.

use super::End;
use super::face::{Asked, Face};
use super::lines::{Input, read_lines};
use super::terminal;
use super::words::{event, shape, status};
use crate::recorder::live::{LiveEvent, LiveJob};
use crate::shell::clock::Clock;
use crate::shell::out::{self, Voice};
use crate::shell::stop;
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::{Answer, Presses};
use trundle_show::words as texts;

/// How often typed lines and the wish to stop are looked at.
const LOOK: Duration = Duration::from_millis(20);
/// How often the impulses of an open pass are shown without being asked for.
const SHOW_EVERY: Duration = Duration::from_secs(5);

/// The job line by line.
pub struct Lines {
    voice: Voice,
    lines: Receiver<Input>,
    standing: Option<Standing>,
}

/// How things stood when that was said last.
struct Standing {
    shape: String,
    status: String,
    at: Instant,
}

impl Lines {
    /// Read what is typed; `standing`: say how things stand, too, when that changes.
    #[must_use]
    pub fn open(clock: Clock, voice: Voice, standing: bool) -> Self {
        let never = || Standing { shape: String::new(), status: String::new(), at: Instant::now() };
        Self { voice, lines: read_lines(clock), standing: standing.then(never) }
    }

    /// Say what there is to say, and read nothing.
    #[must_use]
    pub fn unread(voice: Voice) -> Self {
        // Nobody types: the other end is gone at once, and never says that the input ended.
        let (_, lines) = std::sync::mpsc::sync_channel(1);
        Self { voice, lines, standing: None }
    }

    /// Lines typed since the last look; true with the last ones there will be. A terminal that was
    /// closed is noted as the wish to stop.
    pub(super) fn typed(&self) -> (Vec<(u64, String)>, bool) {
        let mut typed = Vec::new();
        while let Ok(line) = self.lines.try_recv() {
            match line {
                Input::Typed(host_ns, text) => typed.push((host_ns, text)),
                Input::End => return (typed, true),
                Input::Closed => drop(stop::terminal_closed()),
                Input::EndOfTerminal => self.voice.say("q ends the job."),
            }
        }
        (typed, false)
    }
}

impl Face for Lines {
    fn pace(&self) -> (Duration, Option<Duration>) {
        (LOOK, None)
    }

    fn asked(&mut self) -> Vec<Asked> {
        let (typed, ended) = self.typed();
        let mut asked: Vec<Asked> =
            typed.into_iter().map(|(host_ns, text)| Asked::Line(host_ns, text)).collect();
        // Who started it with `nohup` wants it to go on without anybody who types or reads.
        if stop::outlives_terminal() {
            return asked;
        }
        if ended {
            asked.push(Asked::Line(0, "q".to_owned()));
        }
        if out::closed() {
            // A terminal that is closed may be seen here first; it means the same as its signal.
            if terminal::is_closed() {
                stop::terminal_closed();
            }
            asked.push(Asked::End(End::Finished));
        }
        asked
    }

    fn happened(&mut self, happened: &LiveEvent, job: &LiveJob) {
        // A failure ends the command and is shown there.
        if matches!(happened, LiveEvent::Failed(_)) {
            return;
        }
        if let Some(words) = event(happened) {
            self.say(&words);
        }
        let LiveEvent::Acknowledged(SessionEvent::Mark {
            ruling: Ruling::Start { number, .. },
            from_board: true,
            ..
        }) = happened
        else {
            return;
        };
        // The board's button cannot be refused: the press is a fact. What it began may not be fit.
        if let (Some(_), Err(reasons)) = (&self.standing, job.fit_to_start()) {
            self.say(&format!("Pass {number} was begun although it is not fit to be:"));
            reasons.iter().for_each(|reason| self.say(&format!("- {reason}")));
        }
    }

    fn answered(&mut self, answer: &Answer) {
        for words in texts::answer(answer, |host_ns| format!("{:.1} s", host_ns as f64 * 1e-9)) {
            self.say(&words);
        }
    }

    fn say(&mut self, words: &str) {
        self.voice.say(words);
    }

    fn result(&mut self, text: &str) {
        self.voice.say(text.trim_end());
    }

    fn turn(&mut self, job: &LiveJob, _: &Presses) {
        let Some(last) = &mut self.standing else { return };
        let now = job.look();
        let shape = shape(&now);
        let due = now.open_pass.is_some() && last.at.elapsed() > SHOW_EVERY;
        if shape != last.shape || due {
            let status = status(&now);
            // A tractor at standstill changes nothing, and says nothing.
            if status != last.status {
                self.voice.say(&format!("[{status}]"));
            }
            *last = Standing { shape, status, at: Instant::now() };
        }
    }
}
