//! A live job as a page for phone or tablet, and line by line in the terminal: one state machine
//! rules the presses of both. The same loop serves a job with passes and one that logs slip.

use super::words::{Command, HELP, command, event};
use crate::cli::desk::End;
use crate::cli::recording::Voice;
use crate::cli::watching::Watching;
use crate::shell::clock::{wall_offset_s, wall_utc_ns};
use crate::shell::exit::{self, Trouble};
use crate::shell::lines::{Line, read_lines};
use crate::shell::live::{LiveEvent, LiveJob};
use crate::shell::page::{Ask, PageServer, Setup, lan_address, qr};
use crate::shell::stop;
use std::net::IpAddr;
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};
use tokio::sync::oneshot;
use trundle_core::session::presses::{Answer, Place, Press, Wish};
use trundle_core::units::clock_words;
use trundle_show::html::with_notice;
use trundle_show::live::page::Shown;
use trundle_show::live::page::told::{Told, told};
use trundle_show::model::View;
use trundle_show::words as texts;

/// How often presses, lines and events are looked at: a small part of the tenth of a second in
/// which a press is to be answered.
const LOOK: Duration = Duration::from_millis(10);
/// Least time between two pictures where nothing happened: what is shown is at most so much older
/// than it must be.
const PICTURE: Duration = Duration::from_millis(60);
/// Keys of a job without passes.
const SLIP_HELP: &str = "n TEXT      a note\nq           finish";
/// The key that a page alone has.
const NEW_LINKS: &str = "k           new links: whoever joined the page has to join again";

/// The page.
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

/// What a command puts on its page.
pub struct Play<'a> {
    /// Heading.
    pub title: &'a str,
    /// The job has passes; without, it logs slip.
    pub passes: bool,
    /// Work the result so far and give it to whoever asked.
    pub result: &'a dyn Fn(Reply),
    /// What the page shows of this view; and a map, when there is a newer one.
    pub picture: &'a mut dyn FnMut(&View) -> (Shown, Option<String>),
}

/// Who waits for a result: the page of it, or why there is none.
pub type Reply = oneshot::Sender<Result<String, String>>;

/// A page whose job is over but for its result.
pub struct Closing {
    /// How the job came to its end.
    pub end: End,
    server: PageServer,
    last: Shown,
}

impl Closing {
    /// Give the pages the last result, a page of its own, and end. They keep it, and are told
    /// that the job is over and where its capture is, or what went wrong.
    pub fn close(self, result: &str, capture: &str, trouble: Option<&Trouble>) {
        let words = trouble.map_or_else(|| texts::over(capture), Trouble::to_string);
        let result = with_notice(result, &words);
        let last = Shown { over: Some(words), ..self.last };
        let json = serde_json::to_string(&last).unwrap_or_default();
        self.server.end(&json, result);
    }
}

/// Serve until the job is to end; `None` when no page is wanted.
///
/// # Errors
/// [`Trouble`]: an address that cannot be had, a course that cannot be read (2).
pub fn serve<'a>(
    args: &PageArgs,
    job: &'a LiveJob,
    voice: Voice,
    play: Play<'a>,
) -> Result<Option<Closing>, Trouble> {
    if !args.page {
        return Ok(None);
    }
    let lan = args.lan.map(|given| given.or_else(lan_address).ok_or_else(no_lan)).transpose()?;
    let setup = Setup {
        port: args.page_port.unwrap_or(0),
        lan,
        title: play.title.to_owned(),
        passes: play.passes,
        clock: job.clock(),
    };
    let server = PageServer::start(&setup)?;
    introduce(&server, voice);
    voice.say(&format!("\n{}\n{NEW_LINKS}\n", if play.passes { HELP } else { SLIP_HELP }));
    let mut watching = Watching::new(job)?;
    let view = watching.turn(job, &[]);
    let last = (play.picture)(&view).0;
    let mut desk = Desk {
        job,
        voice,
        server,
        watching,
        play,
        last,
        lines: read_lines(job.clock()),
        waiting: Vec::new(),
        next_key: 1,
    };
    let end = desk.serve(view);
    let Desk { server, last, .. } = desk;
    Ok(Some(Closing { end, server, last }))
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
    voice.say(&format!("\nThe page, to look only, on this computer: {}", links.look));
    voice.say(&format!("Whoever opens this link may mark: {}", links.mark));
    let Some(view) = &links.view else { return };
    voice.say(&format!("Whoever opens this link may only look: {view}"));
    if let Some(picture) = qr::picture(&links.mark) {
        voice.say(&format!("\n{picture}\n"));
    }
    voice.say(
        "This picture is the link to mark. Who sees it, and everyone who listens in the same \
         wireless network, may mark: use the hotspot of your own phone. It ends with this program.",
    );
}

/// A press of the page that has no answer yet.
struct Waiting {
    key: u64,
    reply: oneshot::Sender<Told>,
}

struct Desk<'a> {
    job: &'a LiveJob,
    voice: Voice,
    server: PageServer,
    watching: Watching,
    play: Play<'a>,
    last: Shown,
    lines: Receiver<Line>,
    waiting: Vec<Waiting>,
    next_key: u64,
}

impl Desk<'_> {
    fn serve(&mut self, first: View) -> End {
        let mut view = first;
        let mut drawn = Instant::now();
        loop {
            let events = self.job.poll(LOOK);
            events.iter().for_each(|happened| self.tell(happened));
            let mut touched = !events.is_empty();
            while let Ok(ask) = self.server.asks.try_recv() {
                touched = true;
                if self.ask(ask) {
                    return End::Finished;
                }
            }
            while let Ok(line) = self.lines.try_recv() {
                touched = true;
                if self.line(&line, &view) {
                    return End::Finished;
                }
            }
            if touched || drawn.elapsed() >= PICTURE {
                view = self.watching.turn(self.job, &events);
                self.answer();
                self.show(&view);
                drawn = Instant::now();
            }
            if events.iter().any(|event| matches!(event, LiveEvent::Failed(_))) {
                return End::Finished;
            }
            if stop::wanted() {
                return End::Stopped;
            }
        }
    }

    fn tell(&self, happened: &LiveEvent) {
        // A failure ends the command and is told there.
        if !matches!(happened, LiveEvent::Failed(_))
            && let Some(words) = event(happened)
        {
            self.voice.say(&words);
        }
    }

    fn show(&mut self, view: &View) {
        let (shown, map) = (self.play.picture)(view);
        if let Some(map) = map {
            self.server.show_map(map);
        }
        // What cannot be written as JSON is shown at the next look.
        if let Ok(json) = serde_json::to_string(&shown) {
            self.server.show(&json);
        }
        self.last = shown;
    }

    /// Do what a page asks; true when it asks to finish.
    fn ask(&mut self, ask: Ask) -> bool {
        match ask {
            Ask::Press { key, host_ns, wish, reply } => {
                let press = Press { place: Place::Page, key, host_ns, wish };
                self.watching.press(self.job, press);
                self.waiting.push(Waiting { key, reply });
                self.answer();
            }
            Ask::Result(reply) => (self.play.result)(reply),
            Ask::End(reply) => {
                self.voice.say(texts::ENDED_BY_PAGE);
                // A page that has gone meanwhile finds the job over when it comes back.
                let _ = reply.send(Told::plain(texts::ENDING));
                return true;
            }
        }
        false
    }

    /// Tell the pages what is known by now.
    fn answer(&mut self) {
        for Waiting { key, reply } in std::mem::take(&mut self.waiting) {
            match self.watching.presses().answer(Place::Page, key) {
                // Who no longer waits asks again under the same key.
                Some(Answer::Waiting) if reply.is_closed() => {}
                Some(Answer::Waiting) => self.waiting.push(Waiting { key, reply }),
                Some(answer) => drop(reply.send(self.told(answer))),
                None => {}
            }
        }
    }

    fn told(&self, answer: &Answer) -> Told {
        let clock = self.job.clock();
        let at = |host_ns: u64| {
            clock_words(wall_utc_ns(), f64::from(wall_offset_s()) - clock.age_s(host_ns))
        };
        told(answer, &at(clock.now_ns()), at)
    }

    fn new_links(&mut self) {
        match self.server.new_links() {
            Ok(()) => introduce(&self.server, self.voice),
            Err(trouble) => self.voice.say(&trouble.to_string()),
        }
    }

    /// Do what a line asks; true when it asks to finish.
    fn line(&mut self, line: &Line, view: &View) -> bool {
        let (host_ns, text) = match line {
            Line::Typed(host_ns, text) => (*host_ns, text),
            // The page goes on without a terminal; Ctrl-C and its like end it.
            Line::End => return false,
            Line::EndOfTerminal => {
                self.voice.say("q finishes.");
                return false;
            }
        };
        if text.trim() == "k" {
            self.new_links();
            return false;
        }
        if !self.play.passes {
            return self.slip_line(host_ns, text);
        }
        let wish = match command(text) {
            Command::Mark => Some(Wish::Mark(view.due)),
            Command::Undo => view.undo.map(Wish::Undo),
            Command::Note(text) => Some(Wish::Note(text)),
            Command::LeaveOut(reason) => view.last_pass.map(|n| Wish::LeaveOut(n, reason)),
            Command::Status => {
                self.voice.say(&format!("[{}]", super::status(&self.job.status())));
                return false;
            }
            Command::Result => {
                self.voice.say("The page works the result; q finishes and shows it here.");
                return false;
            }
            Command::Finish => return true,
            Command::Help => {
                self.voice.say(HELP);
                return false;
            }
            Command::Unclear(words) => {
                self.voice.say(&words);
                return false;
            }
        };
        let answer = wish.map_or(Answer::NotDue, |wish| self.press(host_ns, wish));
        for words in texts::answer(&answer, |host_ns| format!("{:.1} s", host_ns as f64 * 1e-9)) {
            self.voice.say(&words);
        }
        false
    }

    fn press(&mut self, host_ns: u64, wish: Wish) -> Answer {
        let press = Press { place: Place::Terminal, key: self.next_key, host_ns, wish };
        self.next_key += 1;
        self.watching.press(self.job, press)
    }

    /// The same for a job without passes.
    fn slip_line(&mut self, host_ns: u64, text: &str) -> bool {
        match (text.trim(), text.trim().strip_prefix("n ")) {
            ("q", _) => return true,
            (_, Some(note)) => {
                self.press(host_ns, Wish::Note(note.trim().to_owned()));
            }
            _ => self.voice.say(SLIP_HELP),
        }
        false
    }
}
