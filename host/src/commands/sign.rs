//! `trundle sign`: sign the results of a visit off as a record.

pub mod course;

use super::active;
use super::conditions::ConditionArgs;
use super::parts::{PartArgs, Ready};
use super::typed::positive;
use super::work::{CourseOptions, replay};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, OK, Trouble};
use crate::shell::out;
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use course::Course;
use std::path::PathBuf;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::records_v1::RecordRow;
use trundle_core::result::sign_off::{Said, SignRefusal, Visit, left_in_terminal, sign_off};
use trundle_core::rig::conditions::Conditions;
use trundle_core::rig::{NAME_MAX, Snapshot, TEXT_MAX, clean};
use trundle_core::session::Session;
use trundle_show::html::record::PaperFacts;
use trundle_show::text::record as record_text;

/// Sign a visit off: calculate it once more, and save values, rig, conditions and captures as a
/// record that never changes.
#[derive(Debug, clap::Args)]
pub struct SignArgs {
    /// The capture of a measured course; not needed when something else is signed off.
    #[arg(required_unless_present_any = ["pto", "mount", "speeds", "proof"])]
    pub capture: Option<PathBuf>,
    /// The rig; the active one if not given.
    #[arg(long, value_name = "NAME", add = super::handbook::rigs())]
    pub rig: Option<String>,
    /// What is said with it.
    #[command(flatten)]
    pub said: SaidArgs,
    /// What becomes of the record.
    #[command(flatten)]
    pub keep: KeepArgs,
}

/// What becomes of a record.
#[derive(Clone, Copy, Debug, clap::Args)]
pub struct KeepArgs {
    /// Only show the record; keep nothing.
    #[arg(long)]
    pub dry_run: bool,
    /// Print the record as one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// What a person says when signing off.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct SaidArgs {
    /// Sensor whose value is signed off; the one the implement's speed comes from if not given.
    #[arg(long, value_name = "SENSOR", value_parser = ["wheel", "radar"])]
    pub channel: Option<String>,
    /// The course to use, for the proof drive too where it was over the same one.
    #[command(flatten)]
    pub course: CourseOptions,
    /// Value found in the terminal before.
    #[arg(long, value_name = "N", value_parser = positive)]
    pub as_found: Option<f64>,
    /// Value read in the terminal after entering.
    #[arg(long, value_name = "N", value_parser = positive)]
    pub as_left: Option<f64>,
    /// Rate the implement was set to, litres per hectare; with --as-found or --proof.
    #[arg(long, value_name = "L/HA", value_parser = positive)]
    pub rate: Option<f64>,
    /// Where: field, yard, road.
    #[arg(long, value_name = "TEXT")]
    pub location: Option<String>,
    /// Conditions; those said before driving need not be said again.
    #[command(flatten)]
    pub conditions: ConditionArgs,
    /// What the customer stated and nobody checked, such as "as_found,tyres.inflation".
    #[arg(long, value_name = "KEY", value_delimiter = ',')]
    pub stated: Vec<String>,
    /// What else was measured.
    #[command(flatten)]
    pub parts: PartArgs,
    /// Why a flagged result is signed off anyway.
    #[arg(long, value_name = "TEXT")]
    pub because: Option<String>,
    /// Opinion or remark; printed as such.
    #[arg(long, value_name = "TEXT")]
    pub remark: Option<String>,
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5), options (2), the register (4, 5, 6).
pub fn run(args: &SignArgs) -> Result<u8, Trouble> {
    let place = DataFolder::in_force()?;
    let course = args.capture.as_deref().map(|file| Ok((file, replay(file)?))).transpose()?;
    let given = args.said.parts.given()?;
    let sessions = course.iter().map(|course| &course.1);
    let sessions: Vec<_> = sessions.chain(given.iter().map(|given| &given.session)).collect();
    let (rig_id, rig, other_board) = rig_of(&place, args, &sessions)?;
    let notes = sessions.iter().flat_map(|session| session.notes());
    let before = Conditions::of_notes(notes.map(|(_, note)| note.as_str()));
    let course_toml = args.said.course.text()?;
    let tyres = rig.tyres.as_ref();
    let typed = args.said.said()?;
    let said = Said {
        conditions: typed.conditions.over(before),
        issued_utc: wall_rfc3339(),
        course_toml,
        impulses_per_turn: tyres.and_then(|tyres| tyres.number("impulses_per_turn")),
        circumference_m: tyres.and_then(|tyres| tyres.number("circumference")),
        rig,
        other_board,
        newest_utc: newest(&place, None)?,
        ..typed
    };
    let course = course.as_ref().map(|(file, session)| Course::of(file, session, &said));
    let course = course.transpose()?;
    let parts = args.said.parts.ready(given, &said, course.as_ref())?;
    let (record, files) = signed(course, parts, said)?;
    finish(&place, &record, rig_id, &files, args.keep)
}

/// The rig to sign off for: the one asked for, else the one that the captures name, else the
/// active one. A capture of another counter board than the rig's is not signed off without a word,
/// given now or before the drive; the last of the three is what the record says of it.
fn rig_of(
    place: &DataFolder,
    args: &SignArgs,
    sessions: &[&Session],
) -> Result<(i64, Snapshot, Option<String>), Trouble> {
    let mut named: Vec<&str> = Vec::new();
    for name in sessions.iter().filter_map(|session| active::named_in(session)) {
        if !named.contains(&name) {
            named.push(name);
        }
    }
    let shown = |name: &str| format!("\"{}\"", out::scrub(name, NAME_MAX));
    if let (None, [first, second, ..]) = (&args.rig, named.as_slice()) {
        let (first, second) = (shown(first), shown(second));
        let what = format!("The captures were recorded for different rigs: {first} and {second}.");
        let means = "Nothing was signed off: one record is of one rig.";
        let next = "Sign them off one by one, or say with --rig which rig all of them are of.";
        return Err(Trouble::new(exit::USAGE, what, means, next).of_option("rig"));
    }
    let asked = args.rig.as_deref().or(named.first().copied());
    let (id, rig) = Register::read(place)?.rig(asked)?;
    for named in named.into_iter().filter(|named| *named != rig.rig.name) {
        let (named, rig) = (shown(named), shown(&rig.rig.name));
        out::notice(&format!("The capture was recorded for the rig {named}, not {rig}."));
    }
    let because = args.said.because.is_some();
    let said = other_boards(&rig, sessions.iter().copied(), because)?;
    Ok((id, rig, said))
}

/// What the record says of captures of another counter board than the rig's.
///
/// # Errors
/// Exit code 2 for one of which nothing was said, now or before the drive.
pub fn other_boards<'a>(
    rig: &Snapshot,
    sessions: impl Iterator<Item = &'a Session>,
    because: bool,
) -> Result<Option<String>, Trouble> {
    let mut said: Vec<String> = Vec::new();
    for session in sessions {
        let board_id = session.totals().board_id;
        if active::same_board(rig, board_id) != Some(false) {
            continue;
        }
        let trouble = active::other_board(rig, board_id);
        let before = active::confirmed_in(session);
        if !because && before.is_none() {
            let means = "Nothing was signed off: the value may be that of another tractor.";
            let next = "Choose the rig with --rig, or say why it is right with --because.";
            return Err(Trouble::new(trouble.code, trouble.what, means, next));
        }
        let words = before.map_or_else(|| trouble.what.clone(), str::to_owned);
        if !said.contains(&words) {
            out::notice(&trouble.what);
            said.push(words);
        }
    }
    Ok((!said.is_empty()).then(|| said.join(" ")))
}

/// When the newest sound record was signed off that is in force; `amended`: the one that is about
/// to be replaced, whose date may be what was wrong.
///
/// # Errors
/// The register's (4, 5).
pub fn newest(place: &DataFolder, amended: Option<&str>) -> Result<Option<String>, Trouble> {
    // Beyond a few damaged ones it is left out: it only serves a warning.
    let wanted = Wanted { most: Some(8), ..Wanted::default() };
    let rows = Register::read(place)?.records(&wanted)?;
    let in_force = |row: &RecordRow| row.amended_by.is_none() && Some(&*row.id) != amended;
    Ok(rows.into_iter().find(|row| row.damage.is_none() && in_force(row)).map(|row| row.issued_utc))
}

/// Keep a record, or only show it, and say so.
///
/// # Errors
/// The register's (2, 4, 5, 6).
pub fn finish(
    place: &DataFolder,
    record: &RecordV1,
    rig: i64,
    files: &[PathBuf],
    KeepArgs { dry_run, json }: KeepArgs,
) -> Result<u8, Trouble> {
    let kept = if dry_run { None } else { Some(Register::write(place)?.keep(record, rig, files)?) };
    let worked = record.worked().map_err(|e| Trouble::internal(e.to_string()))?;
    out::say_either(
        json,
        || record.to_json(),
        || record_text::render(record, worked.as_ref(), &PaperFacts::default()),
    );
    if let Some(left) = worked.as_ref().and_then(|work| left_in_terminal(record, work)) {
        out::notice(&left);
    }
    if let Some(clock) = &record.clock {
        out::notice(clock);
        out::notice(
            "The record is named and put in order by that date, and carries this warning; its \
             value does not depend on it.",
        );
        out::notice(
            "Next: look at date and time of this computer. If they are wrong, set them and give \
             the record its date with `trundle record amend`; if they are right, say so in it \
             with --remark.",
        );
    }
    match kept {
        Some(kept) => {
            out::notice(&format!("Signed off as record {}.", kept.id));
            out::notice("All that is to be keyed in, on one sheet: `trundle sheet`.");
        }
        None => out::notice("Nothing was saved (--dry-run)."),
    }
    Ok(OK)
}

impl SaidArgs {
    /// What was said, every text checked.
    ///
    /// # Errors
    /// Exit code 2.
    pub fn said(&self) -> Result<Said, Trouble> {
        if self.rate.is_some() && self.as_found.is_none() && self.parts.proof.is_none() {
            let what = "A rate was given, and nothing that it belongs to.";
            let next = "Give the value found with --as-found, or a proof drive with --proof.";
            let trouble = Trouble::new(exit::USAGE, what, "Nothing was signed off.", next);
            return Err(trouble.of_option("as-found"));
        }
        Ok(Said {
            channel: self.channel.clone(),
            place: text("Location", self.location.as_deref(), NAME_MAX)?,
            conditions: self.conditions.said("Nothing was signed off.")?,
            stated_by_customer: self.stated.clone(),
            as_found: self.as_found,
            as_left: self.as_left,
            accepted_because: text("Because", self.because.as_deref(), TEXT_MAX)?,
            remark: text("Remark", self.remark.as_deref(), TEXT_MAX)?,
            rate_l_per_ha: self.rate,
            ..Said::default()
        })
    }
}

/// A typed text, checked.
///
/// # Errors
/// Exit code 2.
pub fn text(
    label: &'static str,
    typed: Option<&str>,
    most: usize,
) -> Result<Option<String>, Trouble> {
    typed.map(|typed| clean(label, typed, most)).transpose().map_err(|fault| {
        Trouble::new(exit::USAGE, format!("{fault}."), "Nothing was signed off.", "Give it again.")
    })
}

/// Make the record of a course and the parts; gives the files to save with it.
///
/// # Errors
/// Exit code 1 when it may not be signed off.
pub fn signed(
    course: Option<Course<'_>>,
    parts: Vec<Ready>,
    said: Said,
) -> Result<(RecordV1, Vec<PathBuf>), Trouble> {
    // An amendment has a date of its own, of another computer perhaps.
    let clocks = course.as_ref().and_then(|course| course.session.totals().receiver.clock);
    let clocks = clocks.or_else(|| parts.iter().find_map(|part| part.clocks));
    let said = Said { clocks: clocks.filter(|_| said.amends.is_none()), ..said };
    let header = course.as_ref().and_then(|course| course.session.header());
    let practice = header.is_some_and(|header| header.practice);
    let visit = Visit {
        course: course.as_ref().map(|course| (&course.work, course.capture.clone())),
        practice: practice || parts.iter().any(|part| part.practice),
        parts: parts.iter().map(|part| part.part.clone()).collect(),
    };
    let files = course.as_ref().map(|course| course.file.to_owned()).into_iter();
    let files: Vec<PathBuf> = files.chain(parts.into_iter().map(|part| part.file)).collect();
    let first = files.first().map(|file| file.display().to_string()).unwrap_or_default();
    let record = sign_off(visit, said).map_err(|refusal| {
        let what = match refusal {
            SignRefusal::PartFlagged { .. } | SignRefusal::NoCourse(_) | SignRefusal::Nothing => {
                sentence(&refusal)
            }
            _ => format!("{first}: {refusal}."),
        };
        Trouble::new(exit::FLAGGED, what, refusal.means(), refusal.next())
    })?;
    Ok((record, files))
}

/// A refusal as a sentence of its own.
fn sentence(refusal: &SignRefusal) -> String {
    let text = refusal.to_string();
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}
