//! Slip while driving: calculated now and then, the new sections shown, the map drawn.

use crate::commands::work::facts;
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::desk::worker::Rhythm;
use crate::shell::exit;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::result::slip_v1;
use trundle_core::session::Session;
use trundle_core::session::presses::Wish;
use trundle_core::survey::slip::{Slip, SlipOptions, SlipRefusal, slip};
use trundle_show::html::slip as slip_html;
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageKind;
use trundle_show::live::page::slip::shown_slip;
use trundle_show::model::View;
use trundle_show::svg::slip_map;
use trundle_show::text::slip as slip_text;

/// How often the slip is calculated while driving.
const EVERY: Duration = Duration::from_secs(5);
/// Sections on the live map: the newest, so that a long day's map stays small enough for a phone.
const MAPPED: usize = 1500;

/// Calculates slip from a trail.
pub struct Slipping {
    /// Options of the calculation.
    pub options: SlipOptions,
    /// The capture that it is recorded to.
    pub capture: PathBuf,
}

impl Method for Slipping {
    type Worked = Result<Slip, SlipRefusal>;

    fn work(&self, session: &Session, _growing: bool) -> Self::Worked {
        slip(&session.trail().unwrap_or_default(), &self.options)
    }

    fn rendered(&self, worked: &Self::Worked) -> Rendered {
        let clean = |slip: &Slip| slip.sections.iter().all(|section| section.flags.is_empty());
        let (text, json) = match worked {
            Ok(slip) => (slip_text::render(slip, None), slip_v1::to_json(slip, None)),
            Err(refused) => (slip_text::refusal(refused), slip_v1::refusal_to_json(refused)),
        };
        let clean = worked.as_ref().is_ok_and(clean);
        Rendered { text, json, code: if clean { exit::OK } else { exit::FLAGGED } }
    }

    fn page(
        &self,
        worked: &Self::Worked,
        session: &Session,
        growing: bool,
    ) -> Result<String, String> {
        let facts = facts(session, &self.capture, None, growing);
        let facts = facts.map_err(|trouble| trouble.to_string())?;
        match worked {
            Ok(slip) => Ok(slip_html::page(slip, &facts, None)),
            Err(refused) if growing => Err(format!("{refused} {}", refused.next())),
            Err(refused) => Ok(slip_html::refused(refused, &facts)),
        }
    }
}

/// The log of a drive.
pub struct Log {
    method: Arc<Slipping>,
    /// When the slip is calculated next.
    rhythm: Rhythm,
    newest: Option<Result<Slip, SlipRefusal>>,
    /// Sections shown so far.
    said: usize,
    /// Sections when the map was drawn; those on it; how many maps there were.
    drawn: usize,
    mapped: usize,
    maps: u64,
}

impl Log {
    /// A log without any section yet.
    pub fn new(method: Arc<Slipping>) -> Self {
        let rhythm = Rhythm::every(EVERY);
        Self { method, rhythm, newest: None, said: 0, drawn: 0, mapped: 0, maps: 0 }
    }

    /// Lines of the sections that are new. The last one still grows.
    fn lines(&mut self, worked: &Result<Slip, SlipRefusal>) -> Vec<String> {
        match worked {
            Ok(worked) => {
                let whole = worked.sections.len().saturating_sub(1);
                let new = worked.sections.iter().take(whole).skip(self.said);
                let lines = new.map(trundle_show::phrases::slip::section_line).collect();
                self.said = whole.max(self.said);
                lines
            }
            Err(_) if self.said == 0 => {
                vec!["[waiting for a stop, a start and a whole section]".to_owned()]
            }
            Err(_) => Vec::new(),
        }
    }

    /// A map, where there are other sections than on the last one.
    fn map(&mut self, slip: &Slip) -> Option<String> {
        if slip.sections.len() == self.drawn {
            return None;
        }
        self.drawn = slip.sections.len();
        self.mapped = self.drawn.min(MAPPED);
        let map = slip_map::alone(&slip.sections[self.drawn - self.mapped..]);
        self.maps += u64::from(map.is_some());
        map
    }
}

impl Task for Log {
    type Method = Slipping;

    fn method(&self) -> Arc<Slipping> {
        Arc::clone(&self.method)
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Slip
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        match (line, line.strip_prefix("n ")) {
            ("q", _) => Do::End,
            (_, Some(note)) => Do::Press(Wish::Note(note.trim().to_owned())),
            _ => Do::Say("q ends, n TEXT writes a note.".to_owned()),
        }
    }

    fn due(&mut self, _: &Turn<'_>) -> bool {
        self.rhythm.due()
    }

    fn news(&mut self, worked: Result<Slip, SlipRefusal>, took: Duration) -> News {
        self.rhythm.took(took);
        let lines = self.lines(&worked);
        let map = worked.as_ref().ok().and_then(|slip| self.map(slip));
        self.newest = Some(worked);
        News { lines, map, ..News::default() }
    }

    fn shown(&self, view: &View) -> Shown {
        shown_slip(view, self.newest.as_ref(), self.maps, self.mapped)
    }
}
