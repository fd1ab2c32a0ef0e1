//! `trundle demo`: a whole job on a simulated tractor, through the code of a real one.
//!
//! The simulator serves two pseudo-terminals; from there on everything is as with hardware:
//! serial ports, capture, session, result. Only the clock is scaled, so that ten minutes in the
//! field pass in half a minute. Where a system has no pseudo-terminals, such as Windows, the
//! lines stay inside the program and only the serial driver is left out.

mod lines;

use self::lines::{Ends, Lines};
use super::result::{exit_code, work_session};
use super::work::facts;
use crate::recorder::live::{LiveEvent, LiveJob, LiveSetup};
use crate::shell::clock::wall_for_names;
use crate::shell::exit::{self, Trouble};
use crate::shell::{files, out, stop, tongue};
use indicatif::{ProgressBar, ProgressStyle};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::channel;
use std::time::{Duration, Instant};
use trundle_core::figure::{Work, WorkOptions};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::{Keeps, SessionEvent};
use trundle_core::units::rfc3339;
use trundle_core::units::signed;
use trundle_show::html::work as html;
use trundle_show::text::work as text;
use trundle_sim::serve::Pacing;
use trundle_sim::{ReceiverClass, Scenario, Simulation, Truth};

/// Run a whole job on a simulated tractor.
#[derive(Debug, clap::Args)]
pub struct DemoArgs {
    /// Seed of the simulated tractor: the same seed gives the same tractor and receiver.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Class of the simulated receiver: standalone, corrected or rtk.
    #[arg(long, default_value = "corrected", value_parser = class)]
    pub receiver: ReceiverClass,
    /// Number of passes to drive.
    #[arg(long, default_value_t = 6, value_parser = clap::value_parser!(u32).range(1..=20))]
    pub passes: u32,
    /// Simulated seconds for each second.
    #[arg(long, default_value_t = 25.0, value_parser = pace)]
    pub pace: f64,
    /// Keep the lines inside the program: no pseudo-terminals, as always on Windows.
    #[arg(long)]
    pub inside: bool,
    /// Folder to make for the capture and the report [default: trundle-demo-DATE-TIME].
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Name the scenarios that live commands practise with (--practice), say what each is for, and
    /// stop.
    #[arg(long, exclusive = true)]
    pub list: bool,
    /// Print one JSON object and nothing else on the standard output.
    #[arg(long)]
    pub json: bool,
}

fn class(word: &str) -> Result<ReceiverClass, String> {
    ReceiverClass::from_word(word).ok_or_else(|| "standalone, corrected or rtk".to_owned())
}

fn pace(word: &str) -> Result<f64, String> {
    let pace: f64 = word.parse().map_err(|_| "a number".to_owned())?;
    if (0.5..=40.0).contains(&pace) { Ok(pace) } else { Err("from 0.5 to 40".to_owned()) }
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`] when ports or files cannot be had.
pub fn run(args: &DemoArgs) -> Result<u8, Trouble> {
    if args.list {
        let width = Scenario::names().map(str::len).max().unwrap_or_default();
        // The names are to be typed: only what they are for is said in the language in force.
        for name in Scenario::names() {
            let about = tongue::in_force().text(Scenario::about(name).unwrap_or_default());
            out::say_raw(&format!("{name:width$}  {about}\n"));
        }
        return Ok(exit::OK);
    }
    stop::listen()?;
    out::live();
    let folder = make_folder(args.out.as_deref())?;
    let capture = folder.join("demo.capture");
    let mut scenario = Scenario::default().with_receiver(args.receiver);
    scenario.passes = args.passes;
    let simulation = Simulation::new(&scenario, args.seed);
    let lines = Lines::open(args.inside)?;
    let (board, receiver) = lines.choices();
    let setup = LiveSetup {
        board: Some(board),
        receiver: Some(receiver),
        bus: None,
        capture: capture.clone(),
        course_text: Some(COURSE.to_owned()),
        keeps: Keeps::Passes,
        pace: args.pace,
        started_utc: Some(rfc3339(simulation.start_utc_ns())),
        practice: true,
    };
    out::notice(INTRODUCTION);
    let (job, ends) = lines.start(&setup)?;
    let (truth, stopped) = drive(simulation, &ends, args.pace, &job)?;
    let finished = job.finish();
    stop::capture_is_closed();
    if let Some(trouble) = finished.trouble {
        return Err(trouble);
    }
    let session = finished.session;
    let (course, _) = super::result::course(COURSE)?;
    let work =
        work_session(&session, WorkOptions { course: Some(course), ..Default::default() }, false);
    let worked = WorkV1::of(&work);
    let report = folder.join("demo.html");
    files::replace_page(&report, &html::page(&worked, &facts(&session, &capture, None, false)?))?;
    let json = worked.to_json();
    files::replace_text(&folder.join("demo.json"), &json)?;
    if args.json {
        out::say_json(&json);
    } else {
        out::say_text(&text::render(&worked));
        out::say(&closing(&work, &truth, &folder));
    }
    Ok(if stopped { stop::code() } else { exit_code(&work) })
}

/// Nothing came for so long: nothing more will.
const QUIET: Duration = Duration::from_millis(300);
/// Longest wait for that.
const SETTLED_BY: Duration = Duration::from_secs(10);

/// The invented course of the demonstration, as its technician would have written it down.
const COURSE: &str = r#"[course]
nominal_m = 100.0
peg_placement_m = 0.01

[tape]
class = "II"
material = "steel"
temperature_c = 16.0
temperature_half_width_c = 4.0
"#;

const INTRODUCTION: &str =
    "Practice with a simulated tractor: it drives a course of 100 m, out and back, and stands
beside each peg while its driver presses the board's button. Nothing here is a real measurement.";

/// Serve the tractor and follow the job until it is done. True: stopped by the person.
fn drive(
    mut simulation: Simulation,
    ends: &Ends,
    pace: f64,
    job: &LiveJob,
) -> Result<(Truth, bool), Trouble> {
    let end_us = simulation.end_us();
    let halt = AtomicBool::new(false);
    let (doing, activities) = channel();
    let stopped = std::thread::scope(|scope| {
        let server = scope.spawn(|| {
            let mut on_change = |_: &Simulation, activity: &str| {
                // Nobody listens any more only when the job is over.
                let _ = doing.send(activity.to_owned());
            };
            let pacing = Pacing { pace, keep_open: false };
            ends.serve(&mut simulation, pacing, &halt, &mut on_change)
        });
        let bar = progress(end_us / 1_000_000);
        while !server.is_finished() && !stop::wanted() {
            for event in job.poll(Duration::from_millis(50)) {
                follow(&event, &bar);
            }
            if let Some(activity) = activities.try_iter().last() {
                bar.set_message(activity);
            }
            bar.set_position(job.clock().now_ns() / 1_000_000_000);
        }
        let stopped = stop::wanted();
        halt.store(true, Ordering::Relaxed);
        settle(job, &mut |event| follow(event, &bar));
        bar.finish_and_clear();
        match server.join() {
            Ok(served) => served.map(|()| stopped),
            Err(_) => Err(Trouble::internal("The simulator stopped unexpectedly.")),
        }
    })?;
    Ok((simulation.truth(), stopped))
}

/// What is still on its way through the ports belongs to the job: wait until nothing more comes of
/// it, however busy the computer is.
fn settle(job: &LiveJob, follow: &mut dyn FnMut(&LiveEvent)) {
    let until = Instant::now() + SETTLED_BY;
    let mut before = None;
    while Instant::now() < until {
        let events = job.poll(QUIET);
        events.iter().for_each(&mut *follow);
        let look = job.look();
        let now = Some((look.sample, look.fix));
        if events.is_empty() && now == before {
            return;
        }
        before = now;
    }
}

fn progress(seconds: u64) -> ProgressBar {
    let bar = ProgressBar::new(seconds);
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos:>4} of {len} s  {msg}") {
        bar.set_style(style);
    }
    bar
}

fn follow(event: &LiveEvent, bar: &ProgressBar) {
    use trundle_core::session::marks::Ruling;
    let line = match event {
        LiveEvent::Acknowledged(SessionEvent::Mark { ruling, .. }) => match ruling {
            Ruling::Start { number, .. } => format!("  pass {number}: start marked and saved"),
            Ruling::Finish { number } => format!("  pass {number}: end marked and saved"),
            _ => return,
        },
        LiveEvent::Failed(what) => what.clone(),
        LiveEvent::PortLost { role, detail, .. } => format!("  {} lost: {detail}", role.name()),
        _ => return,
    };
    bar.suspend(|| out::notice(&line));
}

fn closing(work: &Work, truth: &Truth, folder: &Path) -> String {
    let wheel = work.channels.iter().find(|c| c.name == "wheel");
    let best = wheel.and_then(|c| c.best());
    let compared = best.map_or_else(String::new, |figure| {
        let true_figure = truth.wheel_impulses_per_100m;
        let off = 100.0 * (figure.value() / true_figure - 1.0);
        format!(
            "The simulated wheel truly gives {true_figure:.1} impulses per 100 m: the value is \
             off by {} %.\n",
            signed(off, 3)
        )
    });
    let capture = folder.join("demo.capture");
    format!(
        "{compared}Everything is in {}:\n  demo.capture  the recording; recalculate it with: \
         trundle work {}\n  demo.html     the report; open it in a browser\n  demo.json     the \
         result for other programs",
        folder.display(),
        capture.display()
    )
}

fn make_folder(wanted: Option<&Path>) -> Result<PathBuf, Trouble> {
    let generated = || PathBuf::from(format!("trundle-demo-{}", wall_for_names()));
    let folder = wanted.map_or_else(generated, Path::to_path_buf);
    std::fs::create_dir(&folder).map_err(|e| {
        let what = format!("The folder {} cannot be made: {e}.", folder.display());
        let next = "Name another with --out, or go where you may write.";
        Trouble::new(exit::STORAGE, what, "The demonstration has not begun.", next)
    })?;
    Ok(folder)
}
