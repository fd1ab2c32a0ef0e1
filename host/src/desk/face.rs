//! What the loop needs of a face: lines, screen or page; and which of them a job shows.

use super::paged::{Closing, NEW_LINKS, Page, PageWish, offered};
use super::screen::{OnScreen, Play};
use super::task::Task;
use super::typed::Lines;
use super::worker::Reply;
use super::{Desk, End};
use crate::recorder::live::{LiveEvent, LiveJob};
use crate::shell::exit::Trouble;
use crate::shell::out::{self, Voice};
use crate::web::hub::Shows;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Duration;
use trundle_core::course::tape::CourseSpec;
use trundle_core::session::presses::{Answer, Press, Presses, Wish};
use trundle_show::live::page::Shown;
use trundle_show::model::View;
use trundle_show::words as texts;

/// What a person asks.
#[derive(Debug)]
pub enum Asked {
    /// A line was typed at this host time, nanoseconds.
    Line(u64, String),
    /// A key of the screen asks this.
    Key(u64, Wish),
    /// A press on a page.
    Page(Press),
    /// The result so far: for a page, or as text.
    Result(Option<Reply>),
    /// Only to see the next picture soon.
    Look,
    /// The end of the job.
    End(End),
}

/// One way to show a job and to take what its person asks.
pub trait Face {
    /// How long events are waited for; and the longest time from picture to picture, where it
    /// shows any.
    fn pace(&self) -> (Duration, Option<Duration>);

    /// What was asked since the last look, in the light of what was shown then.
    fn asked(&mut self) -> Vec<Asked>;

    /// Show what happened in the job.
    fn happened(&mut self, _event: &LiveEvent, _job: &LiveJob) {}

    /// Show the job; `page` makes of it what a page shows.
    fn show(&mut self, _view: &View, _page: &dyn Fn(&View) -> Shown) {}

    /// The first answer to a press of the terminal.
    fn answered(&mut self, answer: &Answer);

    /// Show a line of text.
    fn say(&mut self, words: &str);

    /// Show the result so far that was asked for as text.
    fn result(&mut self, text: &str);

    /// Show a newer map.
    fn map(&mut self, _map: String) {}

    /// A look is over.
    fn turn(&mut self, _job: &LiveJob, _presses: &Presses) {}
}

/// How a job shows itself.
pub struct Manner<'a> {
    /// Where lines of text go.
    pub voice: Voice,
    /// What can be typed.
    pub help: &'a str,
    /// Lines say how things stand, when that changes.
    pub standing: bool,
    /// As a screen, where that is wanted and there is a terminal.
    pub screen: Option<Play>,
    /// As a page, where that is wanted.
    pub page: Option<PageWish<'a>>,
}

impl<'a> Manner<'a> {
    /// Line by line alone.
    #[must_use]
    pub const fn lines(voice: Voice, help: &'a str) -> Self {
        Self { voice, help, standing: false, screen: None, page: None }
    }
}

/// Serve a job until it is to end; a page stays open for its result.
///
/// # Errors
/// [`Trouble`]: an address for the page that cannot be had (2).
pub fn serve<T: Task>(
    job: &LiveJob,
    task: T,
    course: Option<&CourseSpec>,
    manner: Manner<'_>,
) -> Result<(End, Option<Closing>), Trouble> {
    let Manner { voice, help, standing, screen, page } = manner;
    let shows = Shows {
        title: page.map_or("Trundle", |page| page.title),
        kind: task.page_kind(),
        lines: task.page_lines(),
        after: "/result",
    };
    let mut desk = Desk::new(job, task, course);
    if let Some(place) = offered() {
        let mut page = Page::at(place, shows, job.clock(), voice);
        let end = desk.serve(&mut page);
        return Ok((end, Some(page.close())));
    }
    if let Some(page) = page.filter(|page| page.args.page) {
        let mut page = Page::open(page, shows, job.clock(), voice)?;
        voice.say(&format!("\n{help}\n{NEW_LINKS}\n"));
        let end = desk.serve(&mut page);
        return Ok((end, Some(page.close())));
    }
    if let Some(end) = screen.and_then(|play| on_screen(&mut desk, play)) {
        return Ok((end, None));
    }
    voice.say(&format!("\n{help}\n"));
    Ok((desk.serve(&mut Lines::open(job.clock(), voice, standing)), None))
}

/// Serve it as a screen. `None`: there is none to be had, or it broke down; the job goes on.
pub fn on_screen<T: Task>(desk: &mut Desk<'_, T>, play: Play) -> Option<End> {
    let mut screen = match OnScreen::open(desk.job, play, desk.task.passes()) {
        Ok(screen) => screen,
        Err(error) => {
            out::notice(&format!("The terminal cannot be used as a screen ({error})."));
            return None;
        }
    };
    // Whatever breaks in here is a fault of the picture: the measurement goes on without it.
    let end = catch_unwind(AssertUnwindSafe(|| desk.serve(&mut screen)));
    drop(screen);
    if end.is_err() {
        out::notice(texts::SCREEN_BROKE);
    }
    end.ok().filter(|end| *end != End::ScreenGone)
}
