//! `trundle record`: signed-off records, looked up, checked, printed, amended.

mod check;
pub mod history;

use super::parts::{self, Ready, in_order};
use super::sign::course::Course;
use super::sign::{KeepArgs, SaidArgs, finish, newest, other_boards, signed, text};
use super::work::replay;
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, FLAGGED, OK, Trouble};
use crate::shell::{files, out};
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use crate::store::settings::Settings;
use std::path::PathBuf;
use trundle_core::result::part_v1::PartV1;
use trundle_core::result::record_v1::{AmendsV1, RecordV1};
use trundle_core::result::records_v1;
use trundle_core::result::sign_off::Said;
use trundle_core::rig::TEXT_MAX;
use trundle_show::html::record::{Paper, PaperFacts};
use trundle_show::html::{record as record_html, record_short as record_short_html};
use trundle_show::text::{record as record_text, records as records_text};

/// Records listed when no other number is asked for: a long screen.
const LISTED: usize = 100;

/// What to do with records.
#[derive(Debug, clap::Subcommand)]
pub enum RecordVerb {
    /// The newest first; damaged ones are named as such.
    List(ListArgs),
    /// Show one record.
    Show(ShowArgs),
    /// Recalculate captures and compare bytes and digests with what was signed off.
    Verify(VerifyArgs),
    /// What is different between two records.
    Compare(CompareArgs),
    /// Has the value of a rig changed: each record against those before it, and the trend.
    History(HistoryArgs),
    /// The paper to hand over, as a page for browser and printer.
    Print(PrintArgs),
    /// Sign a new record off that takes the place of an earlier one; the earlier one stays.
    Amend(Box<AmendArgs>),
}

/// Which records to list.
#[derive(Debug, clap::Args)]
pub struct ListArgs {
    /// Only those with all of these words: rig, place, size, value, remark.
    #[arg(value_name = "WORD")]
    pub words: Vec<String>,
    /// Only those of this rig.
    #[arg(long, value_name = "NAME", add = super::handbook::rigs())]
    pub rig: Option<String>,
    /// At most so many.
    #[arg(long, value_name = "N", default_value_t = LISTED, conflicts_with = "all")]
    pub most: usize,
    /// List all of them.
    #[arg(long)]
    pub all: bool,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Which record to show.
#[derive(Debug, clap::Args)]
pub struct ShowArgs {
    /// The record, or the beginning of its name.
    #[arg(value_name = "RECORD", add = super::handbook::records())]
    pub id: String,
    /// Print the record as it is saved, one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Which records to verify.
#[derive(Debug, clap::Args)]
pub struct VerifyArgs {
    /// The records, or the beginnings of their names.
    #[arg(value_name = "RECORD", required_unless_present = "all",
        add = super::handbook::records())]
    pub ids: Vec<String>,
    /// Every record, and the register itself.
    #[arg(long)]
    pub all: bool,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Which records to compare.
#[derive(Debug, clap::Args)]
pub struct CompareArgs {
    /// Name of the earlier record.
    #[arg(value_name = "RECORD", add = super::handbook::records())]
    pub first: String,
    /// Name of the later record.
    #[arg(value_name = "RECORD", add = super::handbook::records())]
    pub second: String,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Which rig's history to show.
#[derive(Debug, clap::Args)]
pub struct HistoryArgs {
    /// The rig; the active one if not given.
    #[arg(value_name = "RIG", add = super::handbook::rigs())]
    pub rig: Option<String>,
    /// The sensor; the one the implement's speed comes from if not given.
    #[arg(long, value_name = "SENSOR", value_parser = ["wheel", "radar"])]
    pub channel: Option<String>,
    /// Records made with the simulator, instead of measured ones.
    #[arg(long)]
    pub practice: bool,
    /// Also write a page with a chart; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Which record to print.
#[derive(Debug, clap::Args)]
pub struct PrintArgs {
    /// The record, or the beginning of its name.
    #[arg(value_name = "RECORD", add = super::handbook::records())]
    pub id: String,
    /// The page to write; named after the record if not given. An existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
    /// One page for the customer instead of everything.
    #[arg(long)]
    pub short: bool,
    /// Size of the sheet.
    #[arg(long, value_name = "SHEET", default_value = "a4", value_parser = ["a4", "letter"],
        ignore_case = true)]
    pub paper: String,
}

/// Which record to amend, and why.
#[derive(Debug, clap::Args)]
pub struct AmendArgs {
    /// The record, or the beginning of its name.
    #[arg(value_name = "RECORD", add = super::handbook::records())]
    pub id: String,
    /// What was wrong or has changed.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
    /// The rig as it is now; the one in the record if not given.
    #[arg(long, value_name = "NAME", add = super::handbook::rigs())]
    pub rig: Option<String>,
    /// Parts of the earlier record that were signed off in error and are not in the new one.
    #[arg(long, value_name = "PART", value_delimiter = ',', value_parser = parts::ORDER)]
    pub without: Vec<String>,
    /// What is to be said otherwise; everything else is taken from the earlier record.
    #[command(flatten)]
    pub said: SaidArgs,
    /// What becomes of the record.
    #[command(flatten)]
    pub keep: KeepArgs,
}

/// Do it; gives the exit code.
///
/// # Errors
/// [`Trouble`]: names (2), the register (4, 5, 6), captures (4, 5).
pub fn run(verb: &RecordVerb) -> Result<u8, Trouble> {
    let place = DataFolder::in_force()?;
    match verb {
        RecordVerb::List(args) => list(&Register::read(&place)?, args),
        RecordVerb::Show(args) => show(&Register::read(&place)?, args),
        RecordVerb::Verify(args) => check::verify(&place, args),
        RecordVerb::Compare(args) => check::compare(&Register::read(&place)?, args),
        RecordVerb::History(args) => history::run(&Register::read(&place)?, args),
        RecordVerb::Print(args) => print(&Register::read(&place)?, args),
        RecordVerb::Amend(args) => amend(&place, args),
    }
}

fn list(register: &Register, args: &ListArgs) -> Result<u8, Trouble> {
    let wanted = Wanted {
        rig: args.rig.clone(),
        words: args.words.clone(),
        most: (!args.all).then_some(args.most),
        ..Wanted::default()
    };
    let (rows, more) = register.listed(&wanted)?;
    let damaged = rows.iter().any(|one| one.damage.is_some());
    out::say_either(
        args.json,
        || records_v1::to_json(&rows, more),
        || records_text::render(&rows, more),
    );
    Ok(if damaged { FLAGGED } else { OK })
}

fn facts(register: &Register, record: &RecordV1, paper: Paper) -> Result<PaperFacts, Trouble> {
    let superseded_by = register.amended_by(&record.id)?;
    Ok(PaperFacts { paper, superseded_by, reading: None })
}

/// The sheet with this name: `letter`, in whatever case, or any other word for A4.
#[must_use]
pub fn paper(name: &str) -> Paper {
    if name.eq_ignore_ascii_case("letter") { Paper::Letter } else { Paper::A4 }
}

fn show(register: &Register, args: &ShowArgs) -> Result<u8, Trouble> {
    let record = register.record(&args.id)?;
    if args.json {
        out::say_json(&record.to_json());
        return Ok(OK);
    }
    out::say_text(&shown(&record, register.amended_by(&record.id)?)?);
    Ok(OK)
}

/// A record in words; with the one that takes its place.
///
/// # Errors
/// A record that is damaged (5).
pub fn shown(record: &RecordV1, superseded_by: Option<String>) -> Result<String, Trouble> {
    let worked = check::worked(record)?;
    let facts = PaperFacts { superseded_by, paper: Paper::default(), reading: None };
    Ok(record_text::render(record, worked.as_ref(), &facts))
}

fn print(register: &Register, args: &PrintArgs) -> Result<u8, Trouble> {
    let record = register.record(&args.id)?;
    let page = printed(register, &record, args.short, &args.paper)?;
    let kind = if args.short { "-short" } else { "" };
    // An identity is digits and one dash: always a sound file name.
    let name = || PathBuf::from(format!("record-{}{kind}.html", record.id));
    let path = args.to.clone().unwrap_or_else(name);
    files::replace_page(&path, &page)?;
    out::say(&format!("The page is in {}", path.display()));
    Ok(OK)
}

/// The page of a record for browser and printer: the short or the long form, on this sheet.
///
/// # Errors
/// A record that is damaged (5), the register's.
pub fn printed(
    register: &Register,
    record: &RecordV1,
    short: bool,
    sheet: &str,
) -> Result<String, Trouble> {
    let worked = check::worked(record)?;
    let facts = facts(register, record, paper(sheet))?;
    let facts = PaperFacts { reading: Some(Settings::reading_in_force()), ..facts };
    let page = if short { record_short_html::page } else { record_html::page };
    Ok(page(record, worked.as_ref(), &facts))
}

fn amend(place: &DataFolder, args: &AmendArgs) -> Result<u8, Trouble> {
    let register = Register::read(place)?;
    let old = register.record(&args.id)?;
    let course = register.capture_of(&old)?;
    let given = args.said.parts.given()?;
    let mut gone: Vec<&str> = given.iter().map(|given| given.word).collect();
    for word in &args.without {
        if old.part(word).is_none() || gone.contains(&word.as_str()) {
            let what = format!("Record {} holds no part {word} to leave out.", old.id);
            let next = format!("See what it holds: `trundle record show {}`.", old.id);
            return Err(Trouble::new(exit::USAGE, what, "Nothing was signed off.", next));
        }
        gone.push(word);
    }
    let kept = kept_parts(&register, &old, &gone)?;
    let reason = text("Reason", Some(&args.reason), TEXT_MAX)?.unwrap_or_default();
    let (rig_id, rig) = match &args.rig {
        Some(name) => register.rig(Some(name))?,
        None => {
            let id = register.rig_of(&old.id)?;
            (id.map_or_else(|| register.rig(None).map(|rig| rig.0), Ok)?, old.rig.clone())
        }
    };
    drop(register);
    let new = args.said.said()?;
    let course_toml = args.said.course.text()?;
    // What was said of the boards of the other captures stands in the words that are taken over.
    let sessions = given.iter().map(|given| &given.session);
    let other_board = other_boards(&rig, sessions, args.said.because.is_some())?;
    let method = old.method.as_ref();
    let stated = new.stated_by_customer;
    let said = Said {
        issued_utc: wall_rfc3339(),
        rig,
        channel: new.channel.or(old.channel.clone()),
        place: new.place.or(old.place.clone()),
        conditions: new.conditions.over(old.conditions.clone()),
        stated_by_customer: if stated.is_empty() { old.stated_by_customer.clone() } else { stated },
        as_found: new.as_found.or(old.as_found),
        as_left: new.as_left.or(old.as_left),
        accepted_because: new.accepted_because.or(old.accepted_because.clone()),
        clocks: None,
        newest_utc: newest(place, Some(&old.id))?,
        other_board,
        remark: new.remark.or(old.remark.clone()),
        amends: Some(AmendsV1 { id: old.id.clone(), reason }),
        course_toml: course_toml.or(method.and_then(|method| method.course_toml.clone())),
        rate_l_per_ha: new.rate_l_per_ha.or(method.and_then(|method| method.rate_l_per_ha)),
        impulses_per_turn: method.and_then(|method| method.impulses_per_turn),
        circumference_m: method.and_then(|method| method.circumference_m),
    };
    let session = course.as_deref().map(replay).transpose()?;
    let course = course.as_deref().zip(session.as_ref());
    let course = course.map(|(file, session)| Course::of(file, session, &said)).transpose()?;
    let mut parts = args.said.parts.ready(given, &said, course.as_ref())?;
    parts.extend(kept);
    let (mut record, files) = signed(course, in_order(parts), said)?;
    // The saved copy is named by its digest; people know the file by the name it came with.
    if let (Some(new), Some(old)) = (&mut record.capture, &old.capture) {
        new.name.clone_from(&old.name);
    }
    finish(place, &record.seal(), rig_id, &files, args.keep)
}

/// The parts of a record that are not `gone`, each from its saved capture.
fn kept_parts(register: &Register, old: &RecordV1, gone: &[&str]) -> Result<Vec<Ready>, Trouble> {
    let kept = old.parts.iter().filter(|part| !gone.contains(&part.method.word()));
    let ready = |part: &PartV1| {
        let file = register.capture_of_part(old, part)?;
        let session = parts::replay_for(&file, part.method.word())?;
        parts::ready(&file, &session, part.method.clone(), Some(&part.capture.name))
    };
    kept.map(ready).collect()
}
