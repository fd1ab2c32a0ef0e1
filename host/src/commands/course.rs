//! `trundle course`: the taped course on its own, and the plan before driving.

use super::conditions::in_course_file;
use super::result::{course, read_course};
use super::work::CourseOptions;
use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use std::path::PathBuf;
use trundle_core::course::tape::{CourseLength, course_length};
use trundle_core::figure::plan::{Plan, PlanInputs, ReceiverKind, STOP_HALF_WIDTH_M, TARGET, plan};
use trundle_core::result::course_v1::{self, TapedCourse};
use trundle_core::stats::budget::Sources;
use trundle_show::text::course as text;

/// Calculate the length of a taped course, or plan a job.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct CourseArgs {
    /// What to do instead of calculating the length.
    #[command(subcommand)]
    pub command: Option<CourseCommand>,
    /// Course file: length, sections, tape.
    #[arg(value_name = "FILE", conflicts_with = "length")]
    pub file: Option<PathBuf>,
    /// Length of the course instead of a course file: "100 m", "328 ft 1 in".
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// What else can be done with a course.
#[derive(Debug, clap::Subcommand)]
pub enum CourseCommand {
    /// Before driving: how many passes of what length reach the uncertainty wanted, and what would
    /// help most.
    Plan(PlanArgs),
}

/// What a plan is made for.
#[derive(Debug, clap::Args)]
pub struct PlanArgs {
    /// Course file, for its tape and its length.
    #[arg(long, value_name = "FILE", conflicts_with = "length")]
    pub course: Option<PathBuf>,
    /// Length of the course; without a length, 50, 100, 200 and 400 m are looked at.
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Kind of satellite receiver.
    #[arg(long, value_enum, default_value_t = ReceiverWord::None)]
    pub receiver: ReceiverWord,
    /// How far from a peg the driver stops at the most, metres.
    #[arg(long, value_name = "METRES", default_value_t = STOP_HALF_WIDTH_M)]
    pub stop: f64,
    /// Half-width of the 95 % interval wanted, per cent of the value.
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0 * TARGET)]
    pub target: f64,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Kinds of receiver, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum ReceiverWord {
    /// Satellites alone, without corrections.
    Standalone,
    /// With differential or satellite corrections.
    Corrected,
    /// With a carrier-phase fix.
    Rtk,
    /// No receiver: by tape alone.
    None,
}

impl ReceiverWord {
    fn kind(self) -> Option<ReceiverKind> {
        match self {
            Self::Standalone => Some(ReceiverKind::Standalone),
            Self::Corrected => Some(ReceiverKind::Corrected),
            Self::Rtk => Some(ReceiverKind::Rtk),
            Self::None => None,
        }
    }
}

/// Run it; gives the exit code: 1 when a key of the course file was not used, or the uncertainty
/// wanted cannot be reached.
///
/// # Errors
/// [`Trouble`] when no course is given, or it cannot be read or calculated.
pub fn run(args: &CourseArgs) -> Result<u8, Trouble> {
    match &args.command {
        Some(CourseCommand::Plan(plan_args)) => run_plan(plan_args),
        None => run_length(args),
    }
}

fn run_length(args: &CourseArgs) -> Result<u8, Trouble> {
    let asked = CourseOptions { course: args.file.clone(), length: args.length.clone() };
    let given = asked.text()?.ok_or_else(|| {
        Trouble::new(
            exit::USAGE,
            "No course is given.",
            "There is nothing to calculate.",
            "Give a course file, or a length like `--length \"100 m\"`.",
        )
        .of_option("length")
    })?;
    let taped = taped(&given)?;
    let course = taped.course();
    out::say_either(
        args.json,
        || course_v1::course_to_json(&course),
        || text::render_course(&course),
    );
    Ok(if taped.unknown.is_empty() { exit::OK } else { exit::FLAGGED })
}

/// A course that was calculated.
#[derive(Debug)]
pub struct Taped {
    nominal_m: f64,
    length: CourseLength,
    sources: Sources,
    unknown: Vec<String>,
}

impl Taped {
    /// As it is shown.
    #[must_use]
    pub fn course(&self) -> TapedCourse<'_> {
        TapedCourse {
            nominal_m: self.nominal_m,
            length: &self.length,
            sources: &self.sources,
            unknown_keys: &self.unknown,
        }
    }
}

/// Calculate the length of a course by the text of its file.
///
/// # Errors
/// Exit code 2 when it cannot be read or calculated.
pub fn taped(text: &str) -> Result<Taped, Trouble> {
    let read = read_course(text)?;
    in_course_file(Some(text), "With it no job can be begun; nothing is wrong with the course.")?;
    let mut sources = Sources::new();
    let length = course_length(&read.spec, &mut sources).map_err(|refusal| {
        Trouble::new(exit::USAGE, refusal.to_string(), refusal.meaning(), refusal.remedy())
    })?;
    Ok(Taped { nominal_m: read.spec.nominal_m, length, sources, unknown: read.unknown })
}

fn run_plan(args: &PlanArgs) -> Result<u8, Trouble> {
    let (made, unknown) = planned(args)?;
    unknown.iter().for_each(|remark| out::notice(remark));
    out::say_either(args.json, || course_v1::plan_to_json(&made), || text::render_plan(&made));
    Ok(if reached(&made) && unknown.is_empty() { exit::OK } else { exit::FLAGGED })
}

/// Make a plan; with it a remark on each key of the course file that is not known.
///
/// # Errors
/// [`Trouble`] when the course cannot be read, or a number cannot be right.
pub fn planned(args: &PlanArgs) -> Result<(Plan, Vec<String>), Trouble> {
    let asked = CourseOptions { course: args.course.clone(), length: args.length.clone() };
    let given = asked.text()?;
    let (spec, unknown) = given.as_deref().map(course).transpose()?.unzip();
    let inputs = PlanInputs {
        receiver: args.receiver.kind(),
        stop_half_width_m: args.stop,
        target: args.target / 100.0,
        ..PlanInputs::new(spec)
    };
    let made = plan(&inputs).map_err(|fault| {
        Trouble::new(exit::USAGE, fault.what(), fault.meaning(), fault.remedy())
    })?;
    Ok((made, unknown.unwrap_or_default()))
}

/// Some length does.
fn reached(plan: &Plan) -> bool {
    plan.lengths.iter().any(|length| length.needed.is_some())
}
