//! A job as a page for phone or tablet, and line by line in the terminal.

use super::End;
use super::face::{Asked, Face};
use super::typed::Lines;
use crate::recorder::live::{LiveEvent, LiveJob};
use crate::shell::clock::{Clock, wall_offset_s, wall_utc_ns};
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::web::{self, Ask, PageServer, Setup, lan_address, qr};
use std::net::{IpAddr, Ipv4Addr};
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
    fn lan_address(&self) -> Result<Option<IpAddr>, Trouble> {
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
    server: PageServer,
    last: Option<Shown>,
}

impl Closing {
    /// Give the pages the last result, a page of its own, and end. They keep it, and are shown
    /// that the job is over and where its capture is, or what went wrong.
    pub fn close(self, result: &str, capture: &str, trouble: Option<&Trouble>) {
        let words = trouble.map_or_else(|| texts::over(capture), Trouble::to_string);
        let result = with_notice(result, &words);
        let last = self.last.map(|last| Shown { over: Some(words), ..last });
        let json = serde_json::to_string(&last).unwrap_or_default();
        self.server.end(&json, result);
    }
}

/// The page, and the lines beside it.
pub struct Page {
    voice: Voice,
    clock: Clock,
    server: PageServer,
    lines: Lines,
    last: Option<Shown>,
    /// Presses of pages that have no answer yet, by key.
    waiting: Vec<(u64, oneshot::Sender<PressResponse>)>,
}

impl Page {
    /// Begin to serve the page of a job, which has passes or logs slip.
    ///
    /// # Errors
    /// [`Trouble`]: an address that cannot be had.
    pub fn open(
        args: &PageArgs,
        title: &str,
        passes: bool,
        clock: Clock,
        voice: Voice,
    ) -> Result<Self, Trouble> {
        let lan = args.lan_address()?;
        let port = args.page_port.unwrap_or(0);
        let setup = Setup { port, lan, title: title.to_owned(), passes, clock };
        let server = PageServer::start(&setup)?;
        introduce(&server, voice);
        let lines = Lines::open(clock, voice, false);
        Ok(Self { voice, clock, server, lines, last: None, waiting: Vec::new() })
    }

    /// The job is over: what is left of the page.
    #[must_use]
    pub fn close(self) -> Closing {
        Closing { server: self.server, last: self.last }
    }

    fn ask(&mut self, ask: Ask) -> Asked {
        match ask {
            Ask::Press { key, host_ns, wish, reply } => {
                self.waiting.push((key, reply));
                Asked::Page(Press { place: PressPlace::Page, key, host_ns, wish })
            }
            Ask::Result(reply) => Asked::Result(Some(reply)),
            Ask::End(reply) => {
                self.voice.say(texts::ENDED_BY_PAGE);
                // A page that has gone meanwhile finds the job over when it comes back.
                let _ = reply.send(PressResponse::plain(texts::ENDING));
                Asked::End(End::Finished)
            }
        }
    }

    fn response(&self, answer: &Answer) -> PressResponse {
        let at = |host_ns: u64| {
            clock_words(wall_utc_ns(), f64::from(wall_offset_s()) - self.clock.age_s(host_ns))
        };
        response(answer, &at(self.clock.now_ns()), at)
    }

    fn new_links(&mut self) {
        match self.server.new_links() {
            Ok(()) => introduce(&self.server, self.voice),
            Err(trouble) => self.voice.say(&trouble.to_string()),
        }
    }
}

impl Face for Page {
    fn pace(&self) -> (Duration, Option<Duration>) {
        (LOOK, Some(PICTURE))
    }

    fn asked(&mut self) -> Vec<Asked> {
        let mut asked = Vec::new();
        while let Ok(ask) = self.server.asks.try_recv() {
            asked.push(self.ask(ask));
        }
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
        let shown = page(view);
        // What cannot be written as JSON is shown at the next look.
        if let Ok(json) = serde_json::to_string(&shown) {
            self.server.show(&json);
        }
        self.last = Some(shown);
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
        self.server.show_map(map);
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
