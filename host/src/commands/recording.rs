//! What every live command does first: find the ports, say what is behind them, record.

mod find;
pub mod practise;

use super::active;
use super::conditions::ConditionArgs;
use super::result::say_practice;
use crate::desk::face::{self, Manner};
use crate::desk::given::{self, Given};
use crate::desk::screen::Play;
use crate::desk::task::{Method, Rendered, Task};
use crate::desk::{End, terminal, words};
use crate::ports::choose::BusPart;
use crate::ports::practice::{PACES, Practice};
use crate::recorder::capture_file::new_name;
use crate::recorder::live::{Finished, LiveEvent};
use crate::recorder::live::{LiveJob, LiveSetup};
use crate::recorder::replay::replay;
use crate::shell::exit::Trouble;
use crate::shell::out::Voice;
use crate::shell::{out, stop};
use crate::store::settings::Settings;
use clap::Args;
use find::{find, needs};
use practise::PracticeArgs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use trundle_core::capture::HostMarkAction;
use trundle_core::cautions;
use trundle_core::course::tape::CourseSpec;
use trundle_core::rig::{NAME_MAX, TEXT_MAX};
use trundle_core::session::{Keeps, Session};
use trundle_core::units::with_point;

/// Where the bytes come from and where they go.
#[derive(Clone, Debug, clap::Args)]
pub struct PortArgs {
    /// Port of the counter board; searched for if not given.
    #[arg(long, value_name = "PORT", add = super::handbook::serial_ports())]
    pub board: Option<String>,
    /// Port of the satellite receiver; searched for if not given.
    #[arg(long, value_name = "PORT", conflicts_with = "no_receiver",
        add = super::handbook::serial_ports())]
    pub receiver: Option<String>,
    /// Port of an adapter on the implement bus; searched for if not given, and done without where
    /// none is found or the job can do without and there are several. It is only listened to.
    #[arg(long, value_name = "PORT", add = super::handbook::serial_ports())]
    pub bus: Option<String>,
    /// Go without a satellite receiver.
    #[arg(long)]
    pub no_receiver: bool,
    /// Go without a counter board.
    #[arg(skip)]
    pub no_board: bool,
    /// What the bus is to the job.
    #[arg(skip)]
    pub bus_part: BusPart,
    /// Speed of the receiver's line in baud; searched for if not given.
    #[arg(long, value_name = "BAUD", value_parser = clap::value_parser!(u32).range(1_200..))]
    pub receiver_speed: Option<u32>,
    /// The capture to create; named after the time (UTC) if not given, in the folder that the
    /// settings name. Never overwrites.
    #[arg(long, value_name = "FILE")]
    pub capture: Option<PathBuf>,
    /// Why this counter board is right although the active rig goes with another one; saved in the
    /// capture and printed on its record.
    #[arg(long, value_name = "WHY")]
    pub other_board: Option<String>,
    /// The conditions, said once before driving; saved in the capture and printed on its record.
    #[command(flatten)]
    pub conditions: ConditionArgs,
    /// Practice without hardware.
    #[command(flatten)]
    pub practice: PracticeArgs,
    /// The simulated tractor, here or at the ports, is this many times faster than time.
    #[arg(long, value_name = "N", help_heading = "Practice", default_value_t = 1.0,
        value_parser = pace)]
    pub pace: f64,
}

/// All options of [`PortArgs`]. Beside a recorded capture they are refused, not passed over:
/// whoever typed one believes that it does something.
#[must_use]
pub fn recording_only() -> Vec<clap::Id> {
    let options = PortArgs::augment_args(clap::Command::new("ports"));
    options.get_arguments().map(|option| option.get_id().clone()).collect()
}

/// How a live command shows itself.
#[derive(Clone, Copy, Debug, clap::Args)]
pub struct ScreenArgs {
    /// Line by line, not as a screen; so it is anyway with --json and without a terminal.
    #[arg(long)]
    pub lines: bool,
    /// No bell when a mark is taken or trouble begins.
    #[arg(long)]
    pub no_bell: bool,
}

impl ScreenArgs {
    /// The screen, where one is wanted and there is a terminal for it; `json`: stdout is for an
    /// object.
    #[must_use]
    pub fn play(self, title: &'static str, capture: &Path, json: bool) -> Option<Play> {
        let wanted = !json && !self.lines && terminal::is_there();
        let before = || {
            // To be read before the screen covers it.
            let cautions: Vec<String> =
                cautions::ALL.iter().map(|line| format!("- {line}")).collect();
            let capture = out::scrub(&capture.display().to_string(), 200);
            format!("Before you drive:\n{}\n\nRecording to {capture}", cautions.join("\n"))
        };
        wanted.then(|| Play { title, before: before(), bell: !self.no_bell })
    }
}

/// What a page shows whose result cannot be made a page, as when its capture has another name now.
const RESULT_IN_TERMINAL: &str = "<!DOCTYPE html><html lang=\"en\"><meta charset=\"utf-8\">\
    <title>Trundle</title><body><p>The result is shown at the computer.</p></body></html>";

fn pace(typed: &str) -> Result<f64, String> {
    match with_point(typed).parse::<f64>() {
        Ok(pace) if PACES.contains(&pace) => Ok(pace),
        _ => Err("a number from 0.1 to 100".to_owned()),
    }
}

/// A job that records.
pub struct Recording {
    /// The job that records.
    pub job: LiveJob,
    /// The capture it writes.
    pub capture: PathBuf,
    /// The simulated tractor that it measures, in practice.
    pub practice: Option<Practice>,
}

/// Say the cautions, find the ports and begin to record; `None` when asked to stop meanwhile.
///
/// # Errors
/// [`Trouble`]: ports (2, 3, 4), storage (2, 4, 6).
pub fn begin(
    args: &PortArgs,
    course_text: Option<String>,
    keeps: Keeps,
    voice: Voice,
) -> Result<Option<Recording>, Trouble> {
    let conditions = args.conditions.notes(course_text.as_deref())?;
    stop::listen()?;
    stop::capture_is_open();
    out::live();
    voice.say("Before you drive:");
    for caution in cautions::ALL {
        voice.say(&format!("- {caution}"));
    }
    let settings = Settings::read()?;
    let Some(found) = find(args, &settings, voice)? else { return Ok(None) };
    let rig = active::rig(voice);
    let confirmed = match &rig {
        Some(rig) => {
            let practice = found.practice.as_ref().map(|_| practise::OTHER_BOARD);
            let why = args.other_board.as_deref().or(practice);
            let confirmed = active::confirmed(rig, found.board_id, why)?;
            voice.say(&format!("Rig: {}", out::scrub(&rig.rig.name, NAME_MAX)));
            confirmed
        }
        None => None,
    };
    if let Some(words) = &confirmed {
        voice.say(&out::scrub(words, TEXT_MAX));
    }
    let pace = found.practice.as_ref().map_or(args.pace, Practice::pace);
    let [board, receiver, bus] = found.choices;
    let setup = LiveSetup {
        board,
        receiver,
        bus,
        capture: args.capture.clone().unwrap_or_else(|| {
            settings.captures.as_deref().unwrap_or(Path::new("")).join(new_name())
        }),
        course_text,
        keeps,
        pace,
        started_utc: None,
        practice: found.practice.is_some() || (pace - 1.0).abs() > f64::EPSILON,
    };
    let job = match &found.practice {
        Some(tractor) => LiveJob::start_on(&setup, tractor.connect(needs(args))?)?,
        None => LiveJob::start(&setup)?,
    };
    found.practice.iter().for_each(|tractor| tractor.tell(job.tractor_tells()));
    let rig = rig.as_ref().map(active::note);
    for note in rig.iter().chain(&confirmed).chain(&conditions) {
        job.host_mark(HostMarkAction::Note, note);
    }
    conditions.iter().for_each(|note| voice.say(&out::scrub(note, TEXT_MAX)));
    voice.say(&format!("Recording to {}", setup.capture.display()));
    Ok(Some(Recording { job, capture: setup.capture, practice: found.practice }))
}

/// A capture that was calculated and shown.
pub struct Done<W> {
    /// What it holds.
    pub session: Session,
    /// The capture.
    pub capture: PathBuf,
    /// Its result.
    pub worked: W,
    /// Exit code that the result deserves.
    pub code: u8,
}

/// Calculate a capture and print its result.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5).
pub fn replayed<M: Method>(
    path: &Path,
    keeps: Keeps,
    voice: Voice,
    method: impl FnOnce() -> Arc<M>,
) -> Result<Done<M::Worked>, Trouble> {
    let session = replay(path, || keeps.session())?;
    let method = method();
    let worked = method.work(&session, false);
    given::give(|| Given {
        card: method.card(&worked, &session),
        drawing: None,
        paper: method.page(&worked, &session, false).ok(),
    });
    let Rendered { text, json, code } = method.rendered(&worked);
    out::say_either(voice.json, || json, || text.trim_end().to_owned() + "\n");
    say_practice(&session, voice.json);
    Ok(Done { session, capture: path.to_owned(), worked, code })
}

/// Calculate the capture `recorded`, where one is named; else record one line by line, with all
/// samples that it `keeps`. `None` when asked to stop before it recorded.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn replay_or_record<T: Task>(
    recorded: Option<&Path>,
    ports: &PortArgs,
    keeps: Keeps,
    voice: Voice,
    help: &str,
    task: impl FnOnce() -> T,
) -> Result<Option<Done<WorkedOf<T>>>, Trouble> {
    if let Some(path) = recorded {
        return replayed(path, keeps, voice, || task().method()).map(Some);
    }
    let Some(recording) = begin(ports, None, keeps, voice)? else {
        return Ok(None);
    };
    let ended = serve(recording, task(), None, Manner::lines(voice, help))?;
    let code = ended.show()?;
    let Ended { session, capture, worked, .. } = ended;
    Ok(Some(Done { session, capture, worked, code }))
}

type WorkedOf<T> = <<T as Task>::Method as Method>::Worked;

/// A recording that is over.
pub struct Ended<M: Method> {
    method: Arc<M>,
    /// The session that was recorded.
    pub session: Session,
    /// The result of that session.
    pub worked: M::Worked,
    end: End,
    /// The capture, where it is now.
    pub capture: PathBuf,
    /// It was deleted or renamed meanwhile, and saved again.
    moved: bool,
    trouble: Option<Trouble>,
    voice: Voice,
}

/// Serve a recording until it ends, close it, and calculate its result.
///
/// # Errors
/// [`Trouble`]: an address for the page that cannot be had (2).
pub fn serve<T: Task>(
    recording: Recording,
    task: T,
    course: Option<&CourseSpec>,
    manner: Manner<'_>,
) -> Result<Ended<T::Method>, Trouble> {
    // The simulated tractor is there until its job is over.
    let Recording { job, capture, practice: _tractor } = recording;
    let (method, voice) = (task.method(), manner.voice);
    let (end, closing) = face::serve(&job, task, course, manner).map_err(|trouble| {
        let path = capture.display();
        let means = format!("The job was not begun. The capture {path} was, and holds no pass.");
        Trouble { means, ..trouble }
    })?;
    let Finished { session, events, saved_as, trouble } = job.finish();
    stop::capture_is_closed();
    // A failure is shown by whoever called.
    let last = events.iter().filter(|event| !matches!(event, LiveEvent::Failed(_)));
    last.filter_map(words::event).for_each(|words| voice.say(&words));
    let moved = saved_as.is_some();
    let capture = saved_as.unwrap_or(capture);
    let worked = method.work(&session, false);
    if let Some(closing) = closing {
        let page = method.page(&worked, &session, false);
        let page = page.unwrap_or_else(|_| RESULT_IN_TERMINAL.to_owned());
        closing.close(&page, &capture.display().to_string(), trouble.as_ref());
    }
    Ok(Ended { method, session, worked, end, capture, moved, trouble, voice })
}

impl<M: Method> Ended<M> {
    /// Print the result and [`Self::close`].
    ///
    /// # Errors
    /// As there.
    pub fn show(&self) -> Result<u8, Trouble> {
        let Rendered { text, json, code } = self.method.rendered(&self.worked);
        self.voice.result(&text, &json);
        self.close(code)
    }

    /// The result is shown: say where the capture is, and give the exit code, where the result
    /// alone deserves `code`.
    ///
    /// # Errors
    /// Why the capture is not whole.
    pub fn close(&self, code: u8) -> Result<u8, Trouble> {
        if let Some(trouble) = &self.trouble {
            return Err(trouble.clone());
        }
        if self.moved {
            self.voice.say(
                "The capture was deleted, renamed, or its disk was replaced while it was recorded. \
                 A whole copy was saved.",
            );
        }
        say_practice(&self.session, self.voice.json);
        self.voice.say(&format!("The capture is {}", self.capture.display()));
        Ok(self.end.code(code))
    }
}
