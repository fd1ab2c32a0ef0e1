//! A job as a page for phone or tablet, and line by line in the terminal.

use super::End;
use super::face::{Asked, Face};
use super::typed::Lines;
use crate::recorder::live::{LiveEvent, LiveJob};
use crate::shell::clock::{Clock, wall_offset_s, wall_utc_ns};
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::web::hub::{Hub, Place, Shows};
use crate::web::{self, Ask, Handbook, PageServer, Setup, lan_address, qr};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::oneshot;
use trundle_core::session::presses::{Answer, Press, PressPlace, Presses};
use trundle_core::units::clock_words;
use trundle_show::html::with_notice;
use trundle_show::live::page::Shown;
use trundle_show::live::page::press::{PressResponse, response};
use trundle_show::model::View;
use trundle_show::words as texts;

/// How often presses, lines and events are looked at: a small part of the tenth of a second in
/// which a press is to be answered.
const LOOK: Duration = Duration::from_millis(10);
/// Least time between two pictures where nothing happened: what is shown is at most so much older
/// than it must be.
const PICTURE: Duration = Duration::from_millis(60);
/// Keys of typed lines that are remembered: far more than a page sends again.
const KEYS: usize = 256;
/// The key that a page alone has.
pub(super) const NEW_LINKS: &str =
    "k           new links: whoever opened the page has to open the new link";

/// Options of the live page.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct PageArgs {
    /// Show the job as a page for a browser on this computer, and take marks from there.
    #[arg(long, conflicts_with = "json")]
    pub page: bool,
    /// Port of the page; chosen if not given.
    #[arg(long, value_name = "PORT", requires = "page")]
    pub page_port: Option<u16>,
    /// Show the page to phones and tablets in the same network too; the address of this computer
    /// there, if it is not the one found.
    #[arg(long, value_name = "ADDRESS", requires = "page", num_args = 0..=1)]
    pub lan: Option<Option<IpAddr>>,
}

/// A job as a page.
#[derive(Clone, Copy, Debug)]
pub struct PageWish<'a> {
    /// Whether, and where.
    pub args: &'a PageArgs,
    /// Its heading.
    pub title: &'static str,
    /// What makes the handbook.
    pub handbook: Handbook,
}

impl PageArgs {
    /// Before anything is recorded: can the page be had at these addresses?
    ///
    /// # Errors
    /// [`Trouble`] of code 2 when it cannot.
    pub fn check(&self) -> Result<(), Trouble> {
        let lan = self.lan_address()?.into_iter();
        let own = self.page.then_some(IpAddr::V4(Ipv4Addr::LOCALHOST));
        for address in own.into_iter().chain(lan) {
            web::open(address, self.page_port.unwrap_or(0))?;
        }
        Ok(())
    }

    /// The address for other devices, where one is wanted.
    ///
    /// # Errors
    /// [`Trouble`] of code 2 without one.
    pub fn lan_address(&self) -> Result<Option<IpAddr>, Trouble> {
        let found = |given: Option<IpAddr>| given.or_else(lan_address).ok_or_else(no_lan);
        let lan = self.lan.map(found).transpose()?;
        match lan {
            Some(own) if own.is_loopback() || own.is_unspecified() => Err(Trouble {
                what: format!("No other device can reach this computer at {own}."),
                ..no_lan()
            }),
            lan => Ok(lan),
        }
    }
}

/// A page whose job is over but for its result.
pub struct Closing {
    /// The server that ends with the job, where it has one of its own.
    server: Option<PageServer>,
    place: Arc<Place>,
}

impl Closing {
    /// Give the pages the last result, a page of its own. They keep it, and are shown that the job
    /// is over and where its capture is, or what went wrong; a server of the job's own then ends.
    pub fn close(self, result: &str, capture: &str, trouble: Option<&Trouble>) {
        let words = trouble.map_or_else(|| texts::over(capture), Trouble::to_string);
        let result = with_notice(result, &words);
        self.place.capture_is(capture);
        match self.server {
            Some(_) => self.place.over_and_wait(&words, result),
            // Whoever offered the place says that the job is over.
            None => self.place.result(result),
        }
    }
}

thread_local! {
    /// A place that is offered to the job which this thread will do.
    static OFFERED: RefCell<Option<Arc<Place>>> = const { RefCell::new(None) };
}

/// Offer the job that this thread does next a place at a server that is there already: whatever
/// it is told to show itself as, it is shown there. `None` takes the offer back.
pub fn offer(place: Option<Arc<Place>>) {
    OFFERED.with_borrow_mut(|offered| *offered = place);
}

/// The place that was offered to this thread.
pub(super) fn offered() -> Option<Arc<Place>> {
    OFFERED.with_borrow(Clone::clone)
}

/// The page, and the lines beside it.
pub struct Page {
    voice: Voice,
    clock: Clock,
    server: Option<PageServer>,
    place: Arc<Place>,
    /// Lines typed in the terminal; none where a server is there without one.
    lines: Lines,
    /// Presses of pages that have no answer yet, by key.
    waiting: Vec<(u64, oneshot::Sender<PressResponse>)>,
    /// Keys of the lines that were typed on a page.
    typed: VecDeque<u64>,
}

impl Page {
    /// Begin to serve the page of a job.
    ///
    /// # Errors
    /// [`Trouble`]: an address that cannot be had.
    pub fn open(
        PageWish { args, handbook, .. }: PageWish<'_>,
        shows: Shows,
        clock: Clock,
        voice: Voice,
    ) -> Result<Self, Trouble> {
        let lan = args.lan_address()?;
        let port = args.page_port.unwrap_or(0);
        let hub = Hub::default();
        let server = PageServer::start(&Setup { port, lan, handbook }, &hub, None)?;
        let place = hub.place(shows, clock).map(Arc::new).ok_or_else(|| {
            Trouble::internal("The page of the job is taken before the job began.")
        })?;
        introduce(&server, voice);
        let lines = Lines::open(clock, voice, false);
        Ok(Self::with(Some(server), place, lines, clock, voice))
    }

    /// Take the place that was offered.
    #[must_use]
    pub fn at(place: Arc<Place>, shows: Shows, clock: Clock, voice: Voice) -> Self {
        place.shows(shows, clock);
        Self::with(None, place, Lines::unread(voice), clock, voice)
    }

    fn with(
        server: Option<PageServer>,
        place: Arc<Place>,
        lines: Lines,
        clock: Clock,
        voice: Voice,
    ) -> Self {
        let (waiting, typed) = (Vec::new(), VecDeque::new());
        Self { voice, clock, server, place, lines, waiting, typed }
    }

    /// The job is over: what is left of the page.
    #[must_use]
    pub fn close(self) -> Closing {
        Closing { server: self.server, place: self.place }
    }

    fn ask(&mut self, ask: Ask) -> Option<Asked> {
        Some(match ask {
            Ask::Press { key, host_ns, wish, reply } => {
                self.waiting.push((key, reply));
                Asked::Page(Press { place: PressPlace::Page, key, host_ns, wish })
            }
            Ask::Line { key, host_ns, text, reply } => {
                let again = self.typed.contains(&key);
                // A page that has gone meanwhile sees in the lines what became of it.
                let _ = reply.send(PressResponse::plain(texts::TYPED));
                if again {
                    return None;
                }
                self.typed.push_back(key);
                self.typed.drain(..self.typed.len().saturating_sub(KEYS));
                Asked::Line(host_ns, text)
            }
            Ask::Result(reply) => Asked::Result(Some(reply)),
            Ask::End(reply) => {
                self.voice.say(texts::ENDED_BY_PAGE);
                // A page that has gone meanwhile finds the job over when it comes back.
                let _ = reply.send(PressResponse::plain(texts::ENDING));
                Asked::End(End::Finished)
            }
        })
    }

    fn response(&self, answer: &Answer) -> PressResponse {
        let at = |host_ns: u64| {
            clock_words(wall_utc_ns(), f64::from(wall_offset_s()) - self.clock.age_s(host_ns))
        };
        response(answer, &at(self.clock.now_ns()), at)
    }

    fn new_links(&mut self) {
        let Some(server) = &mut self.server else { return };
        match server.new_links(|_| Ok(())) {
            Ok(()) => introduce(server, self.voice),
            Err(trouble) => self.voice.say(&trouble.to_string()),
        }
    }
}

impl Face for Page {
    fn pace(&self) -> (Duration, Option<Duration>) {
        (LOOK, Some(PICTURE))
    }

    fn asked(&mut self) -> Vec<Asked> {
        let asks = self.place.asked();
        let mut asked: Vec<Asked> = asks.into_iter().filter_map(|ask| self.ask(ask)).collect();
        // The page goes on without a terminal; Ctrl-C and its like end it.
        for (host_ns, text) in self.lines.typed().0 {
            match text.trim() {
                "k" => self.new_links(),
                _ => asked.push(Asked::Line(host_ns, text)),
            }
        }
        asked
    }

    fn happened(&mut self, event: &LiveEvent, job: &LiveJob) {
        self.lines.happened(event, job);
    }

    fn show(&mut self, view: &View, page: &dyn Fn(&View) -> Shown) {
        self.place.show(page(view));
    }

    fn answered(&mut self, answer: &Answer) {
        self.lines.answered(answer);
    }

    fn say(&mut self, words: &str) {
        self.lines.say(words);
    }

    fn result(&mut self, text: &str) {
        self.lines.result(text);
    }

    fn map(&mut self, map: String) {
        self.place.show_map(map);
    }

    /// Give the pages the answers known by now.
    fn turn(&mut self, _: &LiveJob, presses: &Presses) {
        for (key, reply) in std::mem::take(&mut self.waiting) {
            match presses.answer(PressPlace::Page, key) {
                // Who no longer waits asks again under the same key.
                Some(Answer::Waiting) if reply.is_closed() => {}
                Some(Answer::Waiting) => self.waiting.push((key, reply)),
                Some(answer) => drop(reply.send(self.response(answer))),
                None => {}
            }
        }
    }
}

fn no_lan() -> Trouble {
    Trouble::new(
        exit::USAGE,
        "This computer has no address in a network.",
        "No other device can open the page. Nothing was recorded.",
        "Join the hotspot of the phone first, or give the address: --lan ADDRESS.",
    )
}

fn introduce(server: &PageServer, voice: Voice) {
    let links = &server.links;
    voice.say(&format!("\nThe page, view only, on this computer: {}", links.look));
    voice.say(&format!("Whoever opens this link may mark: {}", links.mark));
    let Some(view) = &links.view else { return };
    voice.say(&format!("Whoever opens this link may view only: {view}"));
    if let Some(picture) = qr::picture(&links.mark) {
        voice.say(&format!("\n{picture}\n"));
    }
    voice.say(
        "This picture is the link to mark. Who sees it, and everyone who listens in the same \
         wireless network, may mark: use the hotspot of your own phone. It ends with this program.",
    );
}
