//! A live command on a thread of its own: the same as in a terminal, shown on the page.
//!
//! One recording at a time, since two cannot have the same ports. It goes on whatever becomes of
//! page and browser.

use super::form;
use super::house::{House, Refused, lock};
use super::job::Recording;
use crate::commands;
use crate::desk::paged::offer;
use crate::shell::clock::Clock;
use crate::shell::exit::{self, Trouble};
use crate::shell::{out, stop};
use crate::web::hub::{Hub, Shows};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use trundle_show::live::page::document::PageKind;
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;

/// The live recording, and how the last ones ended.
pub struct Live {
    hub: Hub,
    /// Where something is recorded now.
    now: Mutex<Option<Station>>,
    ended: Mutex<BTreeMap<Station, Ended>>,
    practice: AtomicBool,
}

/// How a recording ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ended {
    /// Exit code.
    pub code: u8,
    /// All that was said, in order.
    pub lines: Vec<String>,
    /// What went wrong.
    pub trouble: Option<Trouble>,
    /// The capture.
    pub capture: PathBuf,
    /// The command.
    pub command: String,
}

impl Live {
    /// Nothing is recorded yet.
    #[must_use]
    pub fn new(hub: Hub) -> Self {
        Self {
            hub,
            now: Mutex::new(None),
            ended: Mutex::default(),
            practice: AtomicBool::default(),
        }
    }

    /// Where something is recorded now.
    #[must_use]
    pub fn station(&self) -> Option<Station> {
        *lock(&self.now)
    }

    /// How the last recording of a station ended, since the program was started.
    #[must_use]
    pub fn ended(&self, station: Station) -> Option<Ended> {
        lock(&self.ended).get(&station).cloned()
    }

    /// A simulated tractor is driven.
    #[must_use]
    pub fn practice(&self) -> bool {
        self.practice.load(Ordering::SeqCst)
    }

    /// From now on one is, or none.
    pub fn practise(&self, practice: bool) {
        self.practice.store(practice, Ordering::SeqCst);
    }
}

/// In practice the same command measures the simulated tractor.
fn practised(house: &House, station: Station, argv: &[String]) -> Vec<String> {
    let job = house.job();
    let Some(chosen) = &job.practice else { return argv.to_vec() };
    let Some((command, rest)) = argv.split_first() else { return Vec::new() };
    let bench = rest.iter().any(|word| word == "--bench");
    let case = job.typed(station, super::practice::CASE);
    let options = chosen.options(if bench { "bench" } else { command }, &case);
    std::iter::once(command.clone()).chain(options).chain(rest.iter().cloned()).collect()
}

/// Begin to record at a station, by this command, into `capture`.
///
/// # Errors
/// [`Refused`]: a command that was not understood, a recording that goes on already.
pub fn begin(
    house: &House,
    station: Station,
    argv: &[String],
    capture: PathBuf,
) -> Result<(), Refused> {
    let argv = practised(house, station, argv);
    let command = form::read(&argv).map_err(Refused::Misread)?;
    let shows =
        Shows { title: station.name(), kind: PageKind::Said, lines: &[], after: station.path() };
    let taken = || {
        let [what, means, next] = words::TAKEN;
        Refused::Trouble(Trouble::new(exit::BLOCKED, what, means, next))
    };
    if house.front.closing() {
        return Err(Refused::Trouble(Trouble::internal("The page is closing.")));
    }
    let place = house.live.hub.place(shows, Clock::start(1.0)).map(Arc::new).ok_or_else(taken)?;
    let recording = Recording { station: station.word().to_owned(), argv, capture };
    house.change(|job| job.recording = Some(recording.clone())).map_err(Refused::Trouble)?;
    *lock(&house.live.now) = Some(station);
    let Some(house) = house.own.upgrade() else {
        return Err(Refused::Trouble(Trouble::internal("The page is closing.")));
    };
    std::thread::spawn(move || {
        // Nobody of this program has the ports open any more.
        house.front.plugged.wait();
        offer(Some(Arc::clone(&place)));
        let heard = Arc::clone(&place);
        let ear = move |_, bytes: &[u8]| {
            String::from_utf8_lossy(bytes).lines().for_each(|line| heard.say(line));
        };
        let done = catch_unwind(AssertUnwindSafe(|| out::heard(|| commands::run(command), ear)));
        offer(None);
        let done =
            done.unwrap_or_else(|_| Err(Trouble::internal("The recording stopped unexpectedly.")));
        let capture = place.capture().map_or(recording.capture, PathBuf::from);
        let trouble = done.as_ref().err().cloned();
        let over = trouble
            .as_ref()
            .map_or_else(|| words::recorded(&capture.display().to_string()), Trouble::to_string);
        let code = done.unwrap_or_else(|trouble| trouble.code);
        let command = form::shown(&recording.argv);
        let there = capture.exists();
        let kept = house.change(|job| {
            job.recording = None;
            if there {
                job.recorded(station, capture.clone());
                job.ended(station, code);
            }
        });
        let mut lines = place.said();
        // What could not be noted can be found again: the capture is in its folder.
        lines.extend(kept.err().map(|trouble| trouble.to_string()));
        let ended = Ended { code, lines, trouble, capture, command };
        lock(&house.live.ended).insert(station, ended);
        // From here on a signal is a wish again, also where a result had let it end the program.
        stop::capture_is_open();
        *lock(&house.live.now) = None;
        place.over(&over);
    });
    Ok(())
}
