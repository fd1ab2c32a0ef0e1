//! `trundle drive`: a live job, as a screen in the terminal, as a page, or line by line.

use super::recording::{PortArgs, ScreenArgs, begin, serve};
use super::typed::within;
use super::{result, work};
use crate::desk::face::Manner;
use crate::desk::paged::{PageArgs, PageWish};
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::shell::exit::{self, Trouble};
use crate::shell::out::{Voice, scrub};
use crate::shell::stop;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::course::tape::{CourseSpec, course_length};
use trundle_core::figure::ground::{Ground, ground};
use trundle_core::figure::plan::TARGET;
use trundle_core::figure::{Work, WorkOptions};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::presses::Wish;
use trundle_core::session::{Keeps, Session};
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;
use trundle_show::html::work as html;
use trundle_show::live::page::course::{CoursePart, course_part};
use trundle_show::live::page::{Shown, shown};
use trundle_show::live::results::Results;
use trundle_show::model::View;
use trundle_show::svg::course_map;
use trundle_show::text::work as text;

/// Courses outside this are called unusual, metres; 100 m is the usual one.
const USUAL_M: (f64, f64) = (50.0, 400.0);
/// The keys, one line each.
const HELP: &str = "\
Enter or m  mark: start at one peg, end at the other (the board's button does the same)
u           undo the last mark
x REASON    reject the last pass
n TEXT      note; one like \"gear: C2\" is a condition (see --help) and stands on the record
s           how things stand
r           calculate now
q           close the job and show the result
h           this list";

/// Measure a course live: record both ports, mark the passes, show the value.
#[derive(Debug, clap::Args)]
pub struct DriveArgs {
    /// Ports and file of the recording.
    #[command(flatten)]
    pub ports: PortArgs,
    /// Screen or lines in the terminal.
    #[command(flatten)]
    pub screen: ScreenArgs,
    /// As a page for phone or tablet.
    #[command(flatten)]
    pub page: PageArgs,
    /// The course to use.
    #[command(flatten)]
    pub course: work::CourseOptions,
    /// Half-width of the 95 % interval wanted, per cent of the value: under way it is said how far
    /// the value is from it.
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0 * TARGET,
        value_parser = within(0.001, 10.0))]
    pub target: f64,
    /// Wheel value found in the terminal: speed is shown by it until there is a better one, and the
    /// result says what it did.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub as_found: Option<u32>,
    /// Also write the result as a page for browser and paper; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
}

/// Passes to values, as `trundle work` does it.
struct Values {
    course: Option<CourseSpec>,
    capture: PathBuf,
    as_found: Option<f64>,
    /// Impulses per 100 m known before, by channel.
    known: [Option<f64>; CHANNELS],
}

/// The values, and where the passes went.
struct Driven {
    work: Work,
    ground: Option<Ground>,
}

impl Method for Values {
    type Worked = Driven;

    fn work(&self, session: &Session, growing: bool) -> Driven {
        let (course, as_found) = (self.course.clone(), self.as_found);
        let options = WorkOptions { course, as_found, ..Default::default() };
        let work = result::work_session(session, options, growing);
        Driven { ground: ground(session.passes(), &work), work }
    }

    fn rendered(&self, worked: &Driven) -> Rendered {
        let result = WorkV1::of(&worked.work);
        let code = result::exit_code(&worked.work);
        Rendered { text: text::render(&result), json: result.to_json(), code }
    }

    fn page(&self, worked: &Driven, session: &Session, growing: bool) -> Result<String, String> {
        let facts = work::facts(session, &self.capture, None, growing);
        let facts = facts.map_err(|trouble| trouble.to_string())?;
        Ok(html::page(&WorkV1::of(&worked.work), &facts))
    }
}

/// The passes that are marked.
struct Passes {
    values: Arc<Values>,
    /// The passes that were calculated last: number, and whether rejected.
    worked: Vec<(u32, bool)>,
    /// Half-width of the 95 % interval wanted, as a share.
    wanted: f64,
    /// The map that is shown, with its numbers.
    map: Option<CoursePart>,
}

impl Task for Passes {
    type Method = Values;

    fn method(&self) -> Arc<Values> {
        Arc::clone(&self.values)
    }

    fn passes(&self) -> bool {
        true
    }

    fn typed(&mut self, line: &str, now: &Standing) -> Do {
        typed(line, now)
    }

    /// There are other passes than before, and somebody sees what they give.
    fn due(&mut self, turn: &Turn<'_>) -> bool {
        turn.pictures && {
            let now = turn.job.recorded();
            now != std::mem::replace(&mut self.worked, now.clone())
        }
    }

    fn news(&mut self, worked: Driven, _: Duration) -> News {
        let results = Some(Results::of(&worked.work, self.wanted));
        let drawn = worked.ground.and_then(|ground| Some((course_map::alone(&ground)?, ground)));
        let map = drawn.map(|((map, wider), ground)| {
            let number = self.map.as_ref().map_or(0, |map| map.map) + 1;
            self.map = Some(course_part(&ground, number, wider));
            map
        });
        News { results, map, ..News::default() }
    }

    fn known(&self) -> [Option<f64>; CHANNELS] {
        let mut known = self.values.known;
        // What is in the terminal shows the speed that the driver sees there.
        let wheel = &mut known[Channel::Wheel.index()];
        *wheel = self.values.as_found.or(*wheel);
        known
    }

    fn shown(&self, view: &View) -> Shown {
        Shown { course: self.map.clone(), ..shown(view) }
    }
}

/// What a typed line asks.
fn typed(line: &str, now: &Standing) -> Do {
    let (key, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim();
    let press = |wish: Option<Wish>| wish.map_or(Do::NotDue, Do::Press);
    match (key, rest.is_empty()) {
        ("" | "m", true) => Do::Press(Wish::Mark(now.due)),
        ("u", true) => press(now.undo.map(Wish::Undo)),
        ("n", false) => Do::Press(Wish::Note(rest.to_owned())),
        ("n", true) => Do::Say("A note needs a text: n TEXT".to_owned()),
        ("x", false) => press(now.last_pass.map(|n| Wish::Reject(n, rest.to_owned()))),
        ("x", true) => {
            Do::Say("Give the reason why the pass is to be rejected: x REASON".to_owned())
        }
        ("s", true) => Do::Status,
        ("r", true) => Do::Result,
        ("q", true) => Do::End,
        ("h" | "?" | "help", true) => Do::Say(HELP.to_owned()),
        _ => Do::Say(format!("{:?} is none of the keys; h lists them.", scrub(line, 40))),
    }
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`]: course (2, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &DriveArgs) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    args.page.check()?;
    let (course, text) = course(&args.course, voice)?.unzip();
    let known = super::active::last_values(voice);
    let Some(recording) = begin(&args.ports, text, Keeps::Passes, voice)? else {
        return Ok(stop::code());
    };
    let capture = recording.capture.clone();
    let values = Arc::new(Values {
        course,
        capture: capture.clone(),
        as_found: args.as_found.map(f64::from),
        known,
    });
    let manner = Manner {
        voice,
        help: HELP,
        standing: true,
        screen: args.screen.play("trundle drive", &capture, args.json),
        page: Some(PageWish {
            args: &args.page,
            title: "Trundle: live job",
            handbook: super::book::whole,
        }),
    };
    let task = Passes {
        values: Arc::clone(&values),
        worked: Vec::new(),
        wanted: args.target / 100.0,
        map: None,
    };
    let ended = serve(recording, task, values.course.as_ref(), manner)?;
    let capture = ended.capture.clone();
    let code = ended.show()?;
    let Some(path) = &args.report else {
        let capture = capture.display();
        voice.say(&format!("As a page: trundle work {capture} --report FILE.html"));
        return Ok(code);
    };
    let facts = work::facts(&ended.session, &capture, None, false)?;
    work::write_page(path, &ended.worked.work, &facts)?;
    Ok(code)
}

/// The course and its text as TOML, checked before anybody drives.
///
/// # Errors
/// [`Trouble`]: a course that cannot be read (2, 5).
pub(super) fn course(
    options: &work::CourseOptions,
    voice: Voice,
) -> Result<Option<(CourseSpec, String)>, Trouble> {
    let Some(text) = options.text()? else {
        voice.say("No course is given (--length or --course): there will be no value by tape.\n");
        return Ok(None);
    };
    let (spec, remarks) = result::course(&text)?;
    for remark in remarks {
        voice.say(&remark);
    }
    if let Err(refusal) = course_length(&spec, &mut trundle_core::stats::budget::Sources::default())
    {
        let (what, means) = (refusal.to_string(), refusal.meaning());
        return Err(Trouble::new(exit::USAGE, what, means, refusal.remedy()));
    }
    if !(USUAL_M.0..=USUAL_M.1).contains(&spec.nominal_m) {
        voice.say(&format!(
            "The course is given as {} m. 100 m is usual: check that no digit is missing or too \
             many, or the value will be as wrong as the length.\n",
            spec.nominal_m
        ));
    }
    Ok(Some((spec, text)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use trundle_core::session::presses::{Due, End};

    #[test]
    fn typed_lines_are_read_as_the_help_says() {
        let due = Due { number: 2, end: End::Finish };
        let undo = Due { number: 2, end: End::Start };
        let now = Standing { due, undo: Some(undo), last_pass: Some(2) };
        for (line, wanted) in [
            ("", Do::Press(Wish::Mark(due))),
            ("m", Do::Press(Wish::Mark(due))),
            ("u", Do::Press(Wish::Undo(undo))),
            ("n wet  grass", Do::Press(Wish::Note("wet  grass".to_owned()))),
            ("x wheel spun", Do::Press(Wish::Reject(2, "wheel spun".to_owned()))),
            ("s", Do::Status),
            ("r", Do::Result),
            ("q", Do::End),
            ("h", Do::Say(HELP.to_owned())),
        ] {
            assert_eq!(typed(line, &now), wanted, "{line:?}");
        }
        let none = Standing { undo: None, last_pass: None, ..now };
        assert_eq!((typed("u", &none), typed("x spun", &none)), (Do::NotDue, Do::NotDue));
        // A mark is too dear to be given by a slip of the finger.
        for line in ["mm", "m 1", "q now", "n", "x", "\u{1b}[A"] {
            assert!(matches!(typed(line, &now), Do::Say(_)), "{line:?}");
        }
        let Do::Say(words) = typed("\u{1b}[2J", &now) else { panic!() };
        assert!(!words.contains('\u{1b}'));
    }
}
