//! What stands between a live job and the pages: the newest picture, and a place for one job.
//!
//! A server may outlive its jobs: each takes the place, shows itself there, and leaves it. What it
//! showed last, and its result, stay until the next one comes.

use super::guard::Rules;
use super::guesses::Guesses;
use super::handle::LastSaid;
use super::latch::Latch;
use super::stations::Stations;
use super::streams::Streams;
use super::{Ask, Behind, Handbook};
use crate::shell::clock::Clock;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::Instant;
use trundle_show::live::page::document::{PageKind, PageLine};
use trundle_show::live::page::{Shown, before};

/// Presses that may wait for the job.
const ASKS: usize = 64;
/// Lines that are kept of a job.
const SAID_MAX: usize = 10_000;
/// Lines that a page shows.
const SAID_SHOWN: usize = 24;
/// The pages have so long to fetch the last result of a server that ends with its job.
const LAST_WAIT: Duration = Duration::from_millis(1100);

/// A job that is to be shown.
#[derive(Clone, Copy, Debug)]
pub struct Shows {
    /// Heading of the page.
    pub title: &'static str,
    /// What it shows.
    pub kind: PageKind,
    /// What can be typed on the page.
    pub lines: &'static [PageLine],
    /// Where the page goes when the job is over.
    pub after: &'static str,
}

/// A job as requests see it.
#[derive(Clone)]
pub(super) struct Job {
    pub title: &'static str,
    pub kind: PageKind,
    pub lines: &'static [PageLine],
    pub after: &'static str,
    pub clock: Clock,
    pub asks: SyncSender<Ask>,
}

/// What all requests share.
pub(super) struct Shared {
    /// They change when all that joined are to join again; none before the server is open.
    rules: Mutex<Option<Rules>>,
    stations: Mutex<Option<Arc<dyn Stations>>>,
    handbook: Mutex<Option<Handbook>>,
    /// The newest picture in another language, for all its pages.
    pub(super) last_said: Arc<LastSaid>,
    latch: Mutex<Option<Latch>>,
    /// Links for one use that were used.
    used: Mutex<BTreeSet<String>>,
    job: Mutex<Option<Job>>,
    /// Somebody has the place.
    taken_by_job: Mutex<bool>,
    clock: Clock,
    now: watch::Sender<Arc<str>>,
    /// What is shown last, for a page that is opened now.
    pub last: Mutex<Option<Shown>>,
    /// Streams that go out.
    pub streams: Mutex<Streams>,
    pub guesses: Mutex<Guesses>,
    pub result: Mutex<Option<String>>,
    /// The newest map; empty: none yet.
    pub map: Mutex<Arc<str>>,
    /// How often the result was given out.
    pub taken: AtomicUsize,
}

impl Shared {
    /// The rules in force; without any nobody is let in.
    pub fn rules(&self) -> Rules {
        lock(&self.rules).clone().unwrap_or_else(Rules::closed)
    }

    pub fn stations(&self) -> Option<Arc<dyn Stations>> {
        lock(&self.stations).clone()
    }

    /// What makes the handbook; none before the server is open.
    pub fn handbook(&self) -> Option<Handbook> {
        *lock(&self.handbook)
    }

    /// Is this a link for one use that was not used yet?
    pub fn is_once(&self, shown: &str) -> bool {
        let made = lock(&self.latch).as_ref().is_some_and(|latch| latch.made(shown));
        made && !lock(&self.used).contains(shown)
    }

    /// A device joined by it.
    pub fn use_up(&self, shown: &str) {
        if self.is_once(shown) {
            lock(&self.used).insert(shown.to_owned());
        }
    }

    /// What shows that this server is ours.
    pub fn answer(&self, question: &str) -> Option<String> {
        lock(&self.latch).as_ref().and_then(|latch| latch.answer(question))
    }

    /// The job that is shown, or was last.
    pub fn job(&self) -> Option<Job> {
        lock(&self.job).clone()
    }

    /// Host time of the job, nanoseconds.
    pub fn now_ns(&self) -> u64 {
        lock(&self.job).as_ref().map_or(&self.clock, |job| &job.clock).now_ns()
    }

    /// Seconds of the person's time, whatever the pace of practice.
    pub fn age_s(&self) -> f64 {
        self.clock.age_s(0)
    }

    /// The newest picture, as it changes.
    pub fn pictures(&self) -> watch::Receiver<Arc<str>> {
        self.now.subscribe()
    }

    /// A stream that begins says nothing of a job that is long over.
    fn show(&self, json: &str) {
        self.now.send_replace(Arc::from(json));
    }
}

pub(super) fn lock<T: ?Sized>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The one place at which a live job is shown.
#[derive(Clone)]
pub struct Hub(Arc<Shared>);

impl Default for Hub {
    fn default() -> Self {
        let (now, _) = watch::channel(Arc::from(""));
        Self(Arc::new(Shared {
            rules: Mutex::new(None),
            stations: Mutex::new(None),
            handbook: Mutex::new(None),
            last_said: Arc::default(),
            latch: Mutex::new(None),
            used: Mutex::default(),
            job: Mutex::new(None),
            taken_by_job: Mutex::new(false),
            clock: Clock::start(1.0),
            now,
            last: Mutex::new(None),
            streams: Mutex::default(),
            guesses: Mutex::default(),
            result: Mutex::new(None),
            map: Mutex::default(),
            taken: AtomicUsize::new(0),
        }))
    }
}

impl Hub {
    pub(super) fn open(
        &self,
        rules: Rules,
        behind: Option<Behind>,
        handbook: Handbook,
    ) -> Arc<Shared> {
        *lock(&self.0.handbook) = Some(handbook);
        let (stations, latch) = behind.map(|behind| (behind.stations, behind.latch)).unzip();
        *lock(&self.0.stations) = stations;
        *lock(&self.0.latch) = latch;
        *lock(&self.0.rules) = Some(rules);
        Arc::clone(&self.0)
    }

    /// Whoever joined has to join again, with these rules, and no link for one use holds that was
    /// not made with this latch.
    pub(super) fn begin_again(&self, rules: Rules, latch: Latch) {
        // Without stations there is none, and no link for one use.
        if let Some(own) = lock(&self.0.latch).as_mut() {
            *own = latch;
        }
        lock(&self.0.used).clear();
        *lock(&self.0.rules) = Some(rules);
        // Whoever was locked out guessed at links that are none any more.
        *lock(&self.0.guesses) = Guesses::default();
        lock(&self.0.streams).clear(Instant::now());
    }

    /// The path of a link to join that holds once; `None` without stations or random numbers.
    pub(super) fn once(&self) -> Option<String> {
        let link = lock(&self.0.latch).as_ref()?.once().ok()?;
        Some(format!("/join/{link}"))
    }

    /// No server any more.
    pub(super) fn close(&self) {
        *lock(&self.0.rules) = None;
        *lock(&self.0.stations) = None;
        *lock(&self.0.latch) = None;
        lock(&self.0.streams).clear(Instant::now());
    }

    /// Take the place for a job whose clock this is; `None` while another job has it.
    #[must_use]
    pub fn place(&self, shows: Shows, clock: Clock) -> Option<Place> {
        let mut taken = lock(&self.0.taken_by_job);
        if std::mem::replace(&mut *taken, true) {
            return None;
        }
        let (to, asks) = sync_channel(ASKS);
        let Shows { title, kind, lines, after } = shows;
        *lock(&self.0.job) = Some(Job { title, kind, lines, after, clock, asks: to });
        *lock(&self.0.result) = None;
        *lock(&self.0.map) = Arc::from("");
        *lock(&self.0.last) = None;
        self.0.show("");
        Some(Place {
            asks: Mutex::new(asks),
            hub: self.clone(),
            said: Mutex::default(),
            last: Mutex::new(None),
            capture: Mutex::new(None),
        })
    }

    /// True while a job has the place.
    #[must_use]
    pub fn is_taken(&self) -> bool {
        *lock(&self.0.taken_by_job)
    }
}

/// The place of one job, until it is dropped.
pub struct Place {
    asks: Mutex<Receiver<Ask>>,
    hub: Hub,
    said: Mutex<Vec<String>>,
    last: Mutex<Option<Shown>>,
    capture: Mutex<Option<String>>,
}

impl Place {
    /// What the pages asked for since the last look.
    pub fn asked(&self) -> Vec<Ask> {
        lock(&self.asks).try_iter().collect()
    }

    /// The job goes by this clock from now on, and is shown so.
    pub fn shows(&self, shows: Shows, clock: Clock) {
        if let Some(job) = &mut *lock(&self.hub.0.job) {
            (job.title, job.kind, job.lines, job.clock) =
                (shows.title, shows.kind, shows.lines, clock);
        }
    }

    /// A line was said in the job. Before there is anything else to show, it is shown.
    pub fn say(&self, line: &str) {
        let mut said = lock(&self.said);
        if said.len() < SAID_MAX {
            said.push(line.to_owned());
        }
        if lock(&self.last).is_none() {
            self.send(&before(newest(&said), false));
        }
    }

    /// Everything that was said so far.
    pub fn said(&self) -> Vec<String> {
        lock(&self.said).clone()
    }

    /// Show this from now on.
    pub fn show(&self, shown: Shown) {
        let shown = Shown { lines: newest(&lock(&self.said)), ..shown };
        self.send(&shown);
        *lock(&self.last) = Some(shown);
    }

    fn send(&self, shown: &Shown) {
        let kind = lock(&self.hub.0.job).as_ref().map_or(shown.kind, |job| job.kind);
        let shown = &Shown { kind, ..shown.clone() };
        // What cannot be written as JSON is shown at the next look.
        if let Ok(json) = serde_json::to_string(shown) {
            self.hub.0.show(&json);
        }
        *lock(&self.hub.0.last) = Some(shown.clone());
    }

    /// The map from now on, an SVG file.
    pub fn show_map(&self, map: String) {
        *lock(&self.hub.0.map) = Arc::from(map);
    }

    /// The capture lies there now.
    pub fn capture_is(&self, path: &str) {
        *lock(&self.capture) = Some(path.to_owned());
    }

    /// Where the capture lies, once it is closed.
    pub fn capture(&self) -> Option<String> {
        lock(&self.capture).clone()
    }

    /// The page of the last result.
    pub fn result(&self, page: String) {
        *lock(&self.hub.0.result) = Some(page);
    }

    /// The job is over: every page that listens is told so, in these words.
    pub fn over(&self, words: &str) {
        let last = lock(&self.last).clone();
        let last = last.unwrap_or_else(|| before(newest(&lock(&self.said)), false));
        self.send(&Shown { over: Some(words.to_owned()), ..last });
    }

    /// The same, and wait about a second for the pages to ask for the result: the server ends with
    /// the job.
    pub fn over_and_wait(&self, words: &str, result: String) {
        let shared = &self.hub.0;
        shared.taken.store(0, Ordering::SeqCst);
        let listening = lock(&shared.streams).listening();
        self.result(result);
        self.over(words);
        let until = Instant::now() + LAST_WAIT;
        while shared.taken.load(Ordering::SeqCst) < listening && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(20));
            // Whoever presses now finds the job over.
            drop(self.asked());
        }
    }
}

/// The newest lines, as many as a page shows.
fn newest(said: &[String]) -> Vec<String> {
    said[said.len().saturating_sub(SAID_SHOWN)..].to_vec()
}

impl Drop for Place {
    fn drop(&mut self) {
        *lock(&self.hub.0.taken_by_job) = false;
    }
}
