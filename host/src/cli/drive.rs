//! `trundle drive`: a live job, as a screen in the terminal or line by line.

pub mod paged;
mod result_page;
pub mod screen;
pub mod words;

use super::desk::End;
use super::recording::{PortArgs, Recording, ScreenArgs, Voice, before_driving, begin};
use super::{result, work};
use crate::shell::exit::{self, Trouble};
use crate::shell::lines::{Line, read_lines};
use crate::shell::live::{LiveEvent, LiveJob};
use crate::shell::{out, stop};
use std::path::{Path, PathBuf};
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};
use trundle_core::capture::HostMarkAction;
use trundle_core::course::tape::course_length;
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::Session;
use trundle_show::text::work as text;
use words::{Command, HELP, command, event, shape, status};

/// How often typed lines and the wish to stop are looked at.
const LOOK: Duration = Duration::from_millis(20);
/// How often the impulses of an open pass are shown without being asked for.
const SHOW_EVERY: Duration = Duration::from_secs(5);
/// How long marks may wait for the disk before a result without them is shown.
const DISK_WAIT: Duration = Duration::from_secs(2);
/// Courses outside this are called unusual, metres; 100 m is the usual one.
const USUAL_M: (f64, f64) = (50.0, 400.0);

/// Measure a course live: record both ports, mark the passes, show the figure.
#[derive(Debug, clap::Args)]
pub struct DriveArgs {
    /// Ports and file.
    #[command(flatten)]
    pub ports: PortArgs,
    /// Screen or lines.
    #[command(flatten)]
    pub screen: ScreenArgs,
    /// As a page for phone or tablet.
    #[command(flatten)]
    pub page: paged::PageArgs,
    /// Course file: length, sections, tape.
    #[arg(long, value_name = "FILE", conflicts_with = "length")]
    pub course: Option<PathBuf>,
    /// Length of the course instead of a course file: "100 m", "328 ft 1 in".
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Also write the result as a page for browser and paper; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
}

/// A result, ready to be printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown {
    /// For people.
    pub human: String,
    /// The same as one JSON object.
    pub json: String,
    /// Exit code that it deserves.
    pub code: u8,
}

/// Works a session; the flag says that the job is still going on.
pub type Show<'a> = &'a dyn Fn(&Session, bool) -> Result<Shown, Trouble>;

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`]: course (2, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &DriveArgs) -> Result<u8, Trouble> {
    run_with(args, &show)
}

/// What `trundle work` would print.
fn show(session: &Session, live: bool) -> Result<Shown, Trouble> {
    let (course, _) = result::course_in_force(session, &result::CourseChoice::default())?;
    let worked = result::work_session(session, course, live);
    let code = result::exit_code(&worked);
    let worked = WorkV1::of(&worked);
    Ok(Shown { human: text::render(&worked), json: worked.to_json(), code })
}

/// Run it with another way to work the session out.
///
/// # Errors
/// As [`run`].
pub fn run_with(args: &DriveArgs, show: Show<'_>) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    let course_text = course(args, voice)?;
    let Some(Recording { job, capture }) = begin(&args.ports, course_text, None, voice)? else {
        return Ok(stop::code());
    };
    let closing = on_page(args, &job, &capture, voice)?;
    let end = match &closing {
        Some(closing) => closing.end,
        None => in_terminal(args, &job, &capture, show)?,
    };
    let finished = job.finish();
    for last in &finished.events {
        if let Some(words) = event(last) {
            voice.say(&words);
        }
    }
    if let Some(closing) = closing {
        // What cannot be worked is told below.
        if let Ok(page) = result_page::last(&finished.session, &capture) {
            let name = capture.display().to_string();
            closing.close(&page, &name, finished.trouble.as_ref());
        }
    }
    let shown = show(&finished.session, false);
    if let Ok(shown) = &shown {
        voice.result(&shown.human, &shown.json);
    }
    if let Some(trouble) = finished.trouble {
        return Err(trouble);
    }
    let shown = shown?;
    voice.say(&format!("The capture is {}", capture.display()));
    page(args, &finished.session, &capture, voice)?;
    Ok(end.code(shown.code))
}

/// Serve the job as a page for other devices, where one is wanted.
fn on_page(
    args: &DriveArgs,
    job: &LiveJob,
    capture: &Path,
    voice: Voice,
) -> Result<Option<paged::Closing>, Trouble> {
    if !args.page.page {
        return Ok(None);
    }
    let working = result_page::Working::new(job, capture)?;
    let play = paged::Play {
        title: "Trundle: live job",
        passes: true,
        result: &|reply| working.begin(job, reply),
        picture: &mut |view| (trundle_show::live::page::shown(view), None),
    };
    paged::serve(&args.page, job, voice, play)
}

/// Serve it in the terminal: as a screen, or line by line.
fn in_terminal(
    args: &DriveArgs,
    job: &LiveJob,
    capture: &Path,
    show: Show<'_>,
) -> Result<End, Trouble> {
    if let Some(end) = on_screen(args, job, capture, show)? {
        return Ok(end);
    }
    let voice = Voice { json: args.json };
    voice.say(&format!("\n{HELP}\n"));
    Ok(Desk { job, voice, show, lines: read_lines(job.clock()) }.serve())
}

/// The page for browser and paper, or how to get it.
fn page(args: &DriveArgs, session: &Session, capture: &Path, voice: Voice) -> Result<(), Trouble> {
    let Some(path) = &args.report else {
        let capture = capture.display();
        voice.say(&format!("As a page: trundle work {capture} --report FILE.html"));
        return Ok(());
    };
    let (course, _) = result::course_in_force(session, &result::CourseChoice::default())?;
    let worked = result::work_session(session, course, false);
    work::write_page(path, &worked, &work::facts(session, capture, None)?)
}

/// The course as TOML, checked before anybody drives.
fn course(args: &DriveArgs, voice: Voice) -> Result<Option<String>, Trouble> {
    let choice = work::course_choice(args.course.as_deref(), args.length.as_deref())?;
    let Some(text) = choice.given else {
        voice.say("No course is given (--length or --course): there will be no figure by tape.\n");
        return Ok(None);
    };
    let (spec, remarks) = result::course(&text)?;
    for remark in remarks {
        voice.say(&remark);
    }
    if let Err(refusal) = course_length(&spec, &mut trundle_core::stats::budget::Sources::default())
    {
        let (what, means) = (refusal.what(), refusal.meaning());
        return Err(Trouble::new(exit::USAGE, what, means, refusal.remedy()));
    }
    if !(USUAL_M.0..=USUAL_M.1).contains(&spec.nominal_m) {
        voice.say(&format!(
            "The course is given as {} m. 100 m is usual: check that no digit is missing or too \
             many, or the figure will be as wrong as the length.\n",
            spec.nominal_m
        ));
    }
    Ok(Some(text))
}

/// Serve the job as a screen, where one is wanted and can be had.
fn on_screen(
    args: &DriveArgs,
    job: &LiveJob,
    capture: &Path,
    show: Show<'_>,
) -> Result<Option<End>, Trouble> {
    if !args.screen.wanted(args.json) {
        return Ok(None);
    }
    let play = screen::Play {
        title: "trundle drive",
        before: before_driving(capture),
        bell: !args.screen.no_bell,
        passes: true,
        result: &|| result_so_far(job, show),
        meanwhile: &mut Vec::new,
    };
    screen::serve(job, play)
}

/// The result of the passes so far, or why it cannot be shown, in words.
fn result_so_far(job: &LiveJob, show: Show<'_>) -> String {
    if !job.wait_for_disk(DISK_WAIT) {
        return "The disk is slow: the last mark is not safe yet. Try again.".to_owned();
    }
    match job.with_session(|session| show(session, true)) {
        Ok(shown) => shown.human.trim_end().to_owned(),
        Err(trouble) => trouble.to_string(),
    }
}

/// The person's side of the job.
struct Desk<'a> {
    job: &'a LiveJob,
    voice: Voice,
    show: Show<'a>,
    lines: Receiver<Line>,
}

impl Desk<'_> {
    /// Serve until the job is to end.
    fn serve(&self) -> End {
        let mut last_shape = String::new();
        let mut last_shown = Instant::now();
        let mut last_status = String::new();
        loop {
            for happened in self.job.poll(LOOK) {
                self.tell(&happened);
                if matches!(happened, LiveEvent::Failed(_)) {
                    return End::Finished;
                }
            }
            while let Ok(line) = self.lines.try_recv() {
                if self.line(&line) {
                    return End::Finished;
                }
            }
            if stop::wanted() {
                return End::Stopped;
            }
            if out::closed() {
                return End::Finished;
            }
            let now = self.job.status();
            let shape = shape(&now);
            let due = now.open_pass.is_some() && last_shown.elapsed() > SHOW_EVERY;
            if shape != last_shape || due {
                let words = status(&now);
                // A tractor at rest changes nothing, and says nothing.
                if words != last_status {
                    self.voice.say(&format!("[{words}]"));
                }
                (last_shape, last_status, last_shown) = (shape, words, Instant::now());
            }
        }
    }

    fn tell(&self, happened: &LiveEvent) {
        // A failure ends the command and is told there.
        if matches!(happened, LiveEvent::Failed(_)) {
            return;
        }
        if let Some(words) = event(happened) {
            self.voice.say(&words);
        }
        let LiveEvent::Acknowledged(trundle_core::session::SessionEvent::Mark {
            ruling: trundle_core::session::marks::Ruling::Start { number, .. },
            from_board: true,
            ..
        }) = happened
        else {
            return;
        };
        // The board's button cannot be refused: the press is a fact. What it began may not be fit.
        if let Err(reasons) = self.job.fit_to_start() {
            self.voice.say(&format!("Pass {number} was begun although it is not fit to be:"));
            self.reasons(&reasons);
        }
    }

    fn reasons(&self, reasons: &[String]) {
        for reason in reasons {
            self.voice.say(&format!("- {reason}"));
        }
    }

    /// Do what a line asks; true when it asks to finish.
    fn line(&self, line: &Line) -> bool {
        let (host_ns, text) = match line {
            Line::Typed(host_ns, text) => (*host_ns, text),
            Line::End => return true,
            Line::EndOfTerminal => {
                self.voice.say("q finishes.");
                return false;
            }
        };
        let mark = |action, text: &str| {
            self.job.host_mark_at(host_ns, action, text);
        };
        match command(text) {
            Command::Mark => {
                if let Err(reasons) = self.job.mark_at(host_ns) {
                    self.voice.say("Not started, and nothing was marked:");
                    self.reasons(&reasons);
                }
            }
            Command::Undo => mark(HostMarkAction::Undo, ""),
            Command::Note(text) => mark(HostMarkAction::Note, &text),
            Command::LeaveOut(reason) => mark(HostMarkAction::Refuse, &reason),
            Command::Status => self.status(),
            Command::Result => self.result(),
            Command::Finish => return true,
            Command::Help => self.voice.say(HELP),
            Command::Unclear(words) => self.voice.say(&words),
        }
        false
    }

    fn status(&self) {
        self.voice.say(&format!("[{}]", status(&self.job.status())));
        match self.job.fit_to_start() {
            Ok(()) => self.voice.say("Fit to start."),
            Err(reasons) => {
                self.voice.say("Not fit to start:");
                self.reasons(&reasons);
            }
        }
    }

    fn result(&self) {
        self.voice.say(&result_so_far(self.job, self.show));
    }
}
