//! What every live command does first: find the ports, say what is behind them, record.

use super::active;
use super::conditions::ConditionArgs;
use crate::desk::face::{self, Manner};
use crate::desk::given::{self, Given};
use crate::desk::screen::Play;
use crate::desk::task::{Method, Rendered, Task};
use crate::desk::{End, terminal, words};
use crate::ports::PortChoice;
use crate::ports::adapter;
use crate::ports::choose::{BusPart, Chosen, Wanted, choose};
use crate::ports::probe::Probe;
use crate::recorder::capture_file::new_name;
use crate::recorder::live::{Finished, LiveEvent};
use crate::recorder::live::{LiveJob, LiveSetup};
use crate::recorder::replay::replay;
use crate::shell::exit::Trouble;
use crate::shell::out::Voice;
use crate::shell::{out, stop};
use crate::store::settings::Settings;
use clap::Args;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use trundle_core::capture::HostMarkAction;
use trundle_core::cautions;
use trundle_core::course::tape::CourseSpec;
use trundle_core::rig::{NAME_MAX, TEXT_MAX};
use trundle_core::session::{Keeps, Session};

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
    /// Practice only: the simulator on the ports runs this many times faster than time.
    #[arg(long, value_name = "N", default_value_t = 1.0, value_parser = pace)]
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
    match typed.parse::<f64>() {
        Ok(pace) if (0.1..=100.0).contains(&pace) => Ok(pace),
        _ => Err("a number from 0.1 to 100".to_owned()),
    }
}

/// A job that records.
pub struct Recording {
    /// The job that records.
    pub job: LiveJob,
    /// The capture it writes.
    pub capture: PathBuf,
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
    voice.say("\nLooking for the ports ...");
    let settings = Settings::read()?;
    let receiver = || settings.receiver.clone().filter(|_| !args.no_receiver);
    let board = || settings.board.clone().filter(|_| !args.no_board);
    let chosen = choose(&Wanted {
        board: args.board.clone().or_else(board),
        bus: args.bus.clone(),
        no_board: args.no_board,
        bus_part: args.bus_part,
        receiver: args.receiver.clone().or_else(receiver),
        no_receiver: args.no_receiver,
        receiver_baud: args.receiver_speed.or(settings.receiver_speed),
    });
    // Who stops meanwhile does not care what was not found by then.
    if stop::wanted() {
        return Ok(None);
    }
    let mut chosen = chosen?;
    introduce(&chosen, voice);
    listens(args, &mut chosen, voice)?;
    let rig = active::rig(voice);
    let confirmed = match &rig {
        Some(rig) => {
            let board_id = chosen.board.as_ref().and_then(Probe::board_id);
            let confirmed = active::confirmed(rig, board_id, args.other_board.as_deref())?;
            voice.say(&format!("Rig: {}", out::scrub(&rig.rig.name, NAME_MAX)));
            confirmed
        }
        None => None,
    };
    if let Some(words) = &confirmed {
        voice.say(&out::scrub(words, TEXT_MAX));
    }
    let port = |probe: &Probe| PortChoice { path: probe.path.clone(), baud: probe.baud };
    let setup = LiveSetup {
        board: chosen.board.as_ref().map(port),
        receiver: chosen.receiver.as_ref().map(port),
        bus: chosen.bus.as_ref().map(port),
        capture: args.capture.clone().unwrap_or_else(|| {
            settings.captures.as_deref().unwrap_or(Path::new("")).join(new_name())
        }),
        course_text,
        keeps,
        pace: args.pace,
        started_utc: None,
        practice: (args.pace - 1.0).abs() > f64::EPSILON,
    };
    let job = LiveJob::start(&setup)?;
    let rig = rig.as_ref().map(active::note);
    for note in rig.iter().chain(&confirmed).chain(&conditions) {
        job.host_mark(HostMarkAction::Note, note);
    }
    conditions.iter().for_each(|note| voice.say(&out::scrub(note, TEXT_MAX)));
    voice.say(&format!("Recording to {}", setup.capture.display()));
    Ok(Some(Recording { job, capture: setup.capture }))
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
    let Recording { job, capture } = recording;
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
        self.voice.say(&format!("The capture is {}", self.capture.display()));
        Ok(self.end.code(code))
    }
}

/// An adapter that does not listen only is not used; a job that does not need one goes on without.
fn listens(args: &PortArgs, chosen: &mut Chosen, voice: Voice) -> Result<(), Trouble> {
    let Some(probe) = &chosen.bus else { return Ok(()) };
    let Err(trouble) = adapter::check(&probe.path, probe.baud) else { return Ok(()) };
    if args.bus.is_some() || args.bus_part == BusPart::Needed {
        return Err(trouble);
    }
    voice.say(&format!("{}\n  {}", trouble.what, trouble.next));
    chosen.bus = None;
    Ok(())
}

fn introduce(chosen: &Chosen, voice: Voice) {
    for probe in chosen.board.iter().chain(&chosen.receiver).chain(&chosen.bus) {
        let path = out::scrub(&probe.path, 200);
        let (role, why, next) = probe.words();
        voice.say(&format!("{path}: {role}, {why}"));
        if !next.is_empty() {
            voice.say(&format!("  {next}"));
        }
    }
    chosen.without_bus.iter().for_each(|words| voice.say(words));
}
