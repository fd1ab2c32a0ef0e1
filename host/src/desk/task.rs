//! What a command brings to its desk.

use crate::recorder::live::{LiveEvent, LiveJob};
use std::sync::Arc;
use std::time::Duration;
use trundle_core::session::Session;
use trundle_core::session::presses::{Due, Wish};
use trundle_protocol::message::CHANNELS;
use trundle_show::html::plain;
use trundle_show::live::page::document::{PageKind, PageLine};
use trundle_show::live::page::{Shown, shown};
use trundle_show::live::results::Results;
use trundle_show::model::View;
use trundle_show::stations::Markup;

/// How a command calculates: the same for the result so far, the last one and a capture's.
pub trait Method: Send + Sync + 'static {
    /// Result of the calculation.
    type Worked: Send + 'static;

    /// Calculate what a session holds. `growing`: its capture is still open, which is no fault.
    fn work(&self, session: &Session, growing: bool) -> Self::Worked;

    /// The result in every form but that of a page.
    fn rendered(&self, worked: &Self::Worked) -> Rendered;

    /// The result as a page for a browser.
    ///
    /// # Errors
    /// Why there is none, in words.
    fn page(
        &self,
        worked: &Self::Worked,
        session: &Session,
        _growing: bool,
    ) -> Result<String, String> {
        let practice = session.header().is_some_and(|header| header.practice);
        Ok(plain::page("Result", &self.rendered(worked).text, practice))
    }

    /// The parts of the result that a station shows beside its lines; `None` where the lines say
    /// it all.
    fn card(&self, _worked: &Self::Worked, _session: &Session) -> Option<Markup> {
        None
    }
}

/// A result, rendered.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rendered {
    /// It for the terminal.
    pub text: String,
    /// It as one JSON object.
    pub json: String,
    /// Exit code that it deserves.
    pub code: u8,
}

/// What a command does while its job goes on.
pub trait Task {
    /// The method it calculates by.
    type Method: Method;

    /// The same, for the thread that does it.
    fn method(&self) -> Arc<Self::Method>;

    /// The job has passes to mark.
    fn passes(&self) -> bool {
        false
    }

    /// Marks of the board are shown as starts and ends of passes. Where they are only looked at,
    /// that would be wrong.
    fn shows_marks(&self) -> bool {
        true
    }

    /// What its page shows.
    fn page_kind(&self) -> PageKind {
        if self.passes() { PageKind::Passes } else { PageKind::Said }
    }

    /// What can be typed, for a page.
    fn page_lines(&self) -> &'static [PageLine] {
        ONLY_END
    }

    /// What a typed line asks, where `now` is what its person was shown.
    fn typed(&mut self, line: &str, now: &Standing) -> Do;

    /// Looked at each time; true when the result so far is to be calculated.
    fn due(&mut self, _turn: &Turn<'_>) -> bool {
        false
    }

    /// The result so far; it took so long.
    fn news(&mut self, _worked: <Self::Method as Method>::Worked, _took: Duration) -> News {
        News::default()
    }

    /// Impulses per 100 m known before the job, by channel: speeds are shown by them at first.
    fn known(&self) -> [Option<f64>; CHANNELS] {
        [None; CHANNELS]
    }

    /// What a page shows of this view.
    fn shown(&self, view: &View) -> Shown {
        shown(view)
    }
}

/// What the last press means next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// The mark that is due.
    pub due: Due,
    /// The mark that can be undone.
    pub undo: Option<Due>,
    /// The last pass begun.
    pub last_pass: Option<u32>,
}

/// What a typed line asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Do {
    /// Take this as a press.
    Press(Wish),
    /// A press for which there is nothing.
    NotDue,
    /// Show how things stand.
    Status,
    /// The result so far.
    Result,
    /// Show only this text.
    Say(String),
    /// Close the job.
    End,
}

/// One look at a job.
pub struct Turn<'a> {
    /// The job looked at.
    pub job: &'a LiveJob,
    /// What happened since the last one.
    pub events: &'a [LiveEvent],
    /// Somebody sees pictures of it.
    pub pictures: bool,
}

/// What a result so far changes.
#[derive(Clone, Debug, Default)]
pub struct News {
    /// Lines of text to show.
    pub lines: Vec<String>,
    /// Passes and values for the screen.
    pub results: Option<Results>,
    /// A newer map, an SVG file.
    pub map: Option<String>,
    /// The task is over.
    pub over: bool,
}

/// Nothing can be typed but the end, for which every page has a button.
const ONLY_END: &[PageLine] = &[];

/// A task that shows nothing before its end.
pub struct OnlyAtTheEnd<M> {
    /// How it calculates then.
    pub method: Arc<M>,
    /// What is said to whatever is typed.
    pub help: &'static str,
}

impl<M: Method> Task for OnlyAtTheEnd<M> {
    type Method = M;

    fn method(&self) -> Arc<M> {
        Arc::clone(&self.method)
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        if line == "q" { Do::End } else { Do::Say(self.help.to_owned()) }
    }
}
