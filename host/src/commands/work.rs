//! `trundle work`: the result of a capture.

use super::result::{course_in_force, exit_code, say_practice, work_session};
use super::typed::{length_within, positive};
use super::{active, piped};
use crate::packed::plain;
use crate::shell::exit::{self, Trouble};
use crate::shell::{files, out};
use std::path::{Path, PathBuf};
use trundle_core::figure::{Work, WorkOptions};
use trundle_core::result::origin_v1;
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::{Keeps, Session};
use trundle_core::units::parse_length_m;
use trundle_show::html::work as html;
use trundle_show::text::work as text;

/// The course to use.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct CourseOptions {
    /// Course file: length, sections, tape; it wins over the course in a capture.
    #[arg(long, value_name = "FILE", conflicts_with = "length")]
    pub course: Option<PathBuf>,
    /// Length of the course instead of a course file: "100 m", "328 ft 1 in".
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
}

impl CourseOptions {
    /// The text of the course that is asked for, if one is.
    ///
    /// # Errors
    /// Exit code 2 for a length that cannot be read, 5 for a file that cannot be read.
    pub fn text(&self) -> Result<Option<String>, Trouble> {
        if let Some(path) = &self.course {
            return files::read_text(path).map(Some);
        }
        let Some(length) = &self.length else { return Ok(None) };
        let nominal_m = parse_length_m(length).map_err(|fault| {
            let means = "Without a course there is no value by tape.";
            let next = "Give it like \"100 m\" or \"328 ft 1 in\".";
            Trouble::new(exit::USAGE, fault.to_string(), means, next)
        })?;
        Ok(Some(format!("[course]\nnominal_m = {nominal_m}\n")))
    }
}

/// Calculate the result of a capture.
#[derive(Debug, clap::Args)]
pub struct WorkArgs {
    /// The capture to read; - reads it from the standard input and prints one line of JSON.
    pub capture: PathBuf,
    /// The course to use.
    #[command(flatten)]
    pub course: CourseOptions,
    /// Check the interval by this many Monte Carlo trials (JCGM 101).
    #[arg(long, value_name = "N", value_parser = trials)]
    pub monte_carlo: Option<u64>,
    /// Wheel value found in the terminal: shows what it did to speed and rate.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub as_found: Option<u32>,
    /// Rate the implement was set to, litres per hectare.
    #[arg(long, value_name = "L/HA", requires = "as_found", value_parser = positive)]
    pub rate: Option<f64>,
    /// Impulses of one turn of the wheel: shows the rolling circumference.
    #[arg(long, value_name = "N", value_parser = positive)]
    pub impulses_per_turn: Option<f64>,
    /// Rolling circumference by the tyre's data: "5.1 m".
    #[arg(long, value_name = "LENGTH", requires = "impulses_per_turn",
        value_parser = length_within(0.1, 20.0))]
    pub circumference: Option<f64>,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
    /// Print the result as text within another JSON object, beside date and rig of the capture.
    #[arg(long)]
    pub with_origin: bool,
    /// Also write the result as a page for browser and paper; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
}

fn trials(word: &str) -> Result<u64, String> {
    match word.parse::<u64>() {
        Ok(trials) if (1_000..=10_000_000).contains(&trials) => Ok(trials),
        _ => Err("from 1000 to 10000000".to_owned()),
    }
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`] when the capture or the course cannot be read, or the page cannot be written.
pub fn run(args: &WorkArgs) -> Result<u8, Trouble> {
    let piped = piped::is_piped(&args.capture);
    piped::without("--report", piped && args.report.is_some())?;
    let worked =
        if piped { worked_of(args, || piped::replay(Session::default()))? } else { worked(args)? };
    let Worked { work, session, given, remarks } = worked;
    remarks.iter().for_each(|remark| out::notice(remark));
    if let Some(path) = &args.report {
        write_page(path, &work, &facts(&session, &args.capture, given.as_deref(), false)?)?;
    }
    let json = args.json || args.with_origin || piped;
    let document = || {
        let document = WorkV1::of(&work).to_json();
        if !args.with_origin {
            return document;
        }
        let rig = active::named_in(&session);
        origin_v1::to_json(session.header(), rig, &out::clean_json(&document))
    };
    out::say_either(json, document, || text::render(&WorkV1::of(&work)));
    say_practice(&session, json);
    Ok(exit_code(&work))
}

/// A capture that was worked.
pub struct Worked {
    /// The result.
    pub work: Work,
    /// What the capture holds.
    pub session: Session,
    /// The course that was given beside the capture, as text.
    pub given: Option<String>,
    /// Remarks on the course.
    pub remarks: Vec<String>,
}

/// Work a capture, and print nothing.
///
/// # Errors
/// [`Trouble`] when the capture or the course cannot be read.
pub fn worked(args: &WorkArgs) -> Result<Worked, Trouble> {
    worked_of(args, || replay(&args.capture))
}

fn worked_of(
    args: &WorkArgs,
    read: impl FnOnce() -> Result<Session, Trouble>,
) -> Result<Worked, Trouble> {
    let given = args.course.text()?;
    let session = read()?;
    let (course, remarks) = course_in_force(&session, given.as_deref())?;
    let options = WorkOptions {
        course,
        monte_carlo: args.monte_carlo.map(|n| n as usize),
        as_found: args.as_found.map(f64::from),
        rate_l_per_ha: args.rate,
        impulses_per_turn: args.impulses_per_turn,
        circumference_m: args.circumference,
    };
    let work = work_session(&session, options, false);
    Ok(Worked { work, session, given, remarks })
}

/// Write the result as a page for browser and paper.
///
/// # Errors
/// Exit code 6.
pub fn write_page(path: &Path, work: &Work, facts: &html::Facts) -> Result<(), Trouble> {
    files::replace_page(path, &html::page(&WorkV1::of(work), facts))?;
    out::notice(&format!("The page is in {}", path.display()));
    Ok(())
}

/// Feed a whole capture to a session.
///
/// # Errors
/// [`Trouble`] when it cannot be read or is not a capture.
pub fn replay(path: &Path) -> Result<Session, Trouble> {
    crate::recorder::replay::replay(path, Session::default)
}

/// The same, keeping all samples too: counts at least `apart_us` apart.
///
/// # Errors
/// As [`replay`].
pub fn replay_with_trail(path: &Path, apart_us: u64) -> Result<Session, Trouble> {
    crate::recorder::replay::replay(path, || Keeps::Trail(apart_us).session())
}

/// What the page says beside the result; a capture that is still `growing` has no digest yet.
///
/// # Errors
/// [`Trouble`] when the capture cannot be read for its digest.
pub fn facts(
    session: &Session,
    capture: &Path,
    course_given: Option<&str>,
    growing: bool,
) -> Result<html::Facts, Trouble> {
    let header = session.header();
    Ok(html::Facts {
        capture_name: files::name(capture),
        capture_digest: if growing { String::new() } else { plain::name(capture)?.sha256 },
        started_utc: header.map(|h| h.started_utc.clone()).unwrap_or_default(),
        software: env!("CARGO_PKG_VERSION").to_owned(),
        practice: header.is_some_and(|h| h.practice),
        course_text: course_given.or(session.course_text()).map(str::to_owned),
        notes: session.notes().iter().map(|note| note.1.clone()).collect(),
    })
}
