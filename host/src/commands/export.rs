//! `trundle export`: results as tables for other programs.
//!
//! A kind of table is a variant of [`What`], its arguments, and a line in [`run`] that makes its
//! [`Export`] and hands it to `put`.

#[cfg(feature = "parquet")]
mod parquet;

use super::active;
use super::slip::{HowArgs, from_rig};
use super::work::{facts, replay_with_trail};
use crate::shell::exit::{self, Trouble};
use crate::shell::progress::Progress;
use crate::shell::{cores, files, out};
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::session::Session;
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::slip::slip;
use trundle_core::survey::speeds::{SpeedsOptions, speeds};
use trundle_show::export::slip::Origin;
use trundle_show::export::{self, Export, ExportRefusal, Format};
use trundle_show::html::work::Facts;

/// Write results as tables.
#[derive(Debug, clap::Args)]
pub struct ExportArgs {
    /// The table to write.
    #[command(subcommand)]
    pub what: What,
}

/// The tables that can be written.
#[derive(Debug, clap::Subcommand)]
pub enum What {
    /// Signed-off records: a row a record.
    Records(RecordsExport),
    /// Passes of signed-off records: a row a pass and sensor.
    Passes(RecordsExport),
    /// Wheel, radar and satellite speed: a row for each steady run.
    Speeds(SpeedsExport),
    /// Slip: a row for each section.
    Slip(SlipExport),
}

/// A table of signed-off records.
#[derive(Debug, clap::Args)]
pub struct RecordsExport {
    /// Only those with all of these words.
    #[arg(value_name = "WORD")]
    pub words: Vec<String>,
    /// Only those of this rig.
    #[arg(long, value_name = "NAME", add = super::handbook::rigs())]
    pub rig: Option<String>,
    /// Where the table goes to.
    #[command(flatten)]
    pub to: ToArgs,
}

/// A table of the speeds of captures.
#[derive(Debug, clap::Args)]
pub struct SpeedsExport {
    /// The captures to read.
    #[arg(value_name = "CAPTURE", required = true)]
    pub captures: Vec<PathBuf>,
    /// Where the table goes to.
    #[command(flatten)]
    pub to: ToArgs,
}

/// A table of the slip of captures.
#[derive(Debug, clap::Args)]
pub struct SlipExport {
    /// The captures, of one tractor on the same tyres.
    #[arg(value_name = "CAPTURE", required = true)]
    pub captures: Vec<PathBuf>,
    /// How to calculate slip.
    #[command(flatten)]
    pub how: HowArgs,
    /// Where the table goes to.
    #[command(flatten)]
    pub to: ToArgs,
}

/// Where a table goes, and how.
#[derive(Debug, clap::Args)]
pub struct ToArgs {
    /// The file; its ending gives the format: .csv, .json, .parquet, .geojson or .gpx. An existing
    /// file is replaced.
    #[arg(long, value_name = "FILE", required_unless_present = "format")]
    pub to: Option<PathBuf>,
    /// The format, whatever the file is called; without --to it is printed.
    #[arg(long, value_name = "FORMAT", value_parser = format)]
    pub format: Option<Format>,
    /// In CSV, leave text as it is, even where a spreadsheet would take it for a formula.
    #[arg(long)]
    pub raw: bool,
}

fn format(word: &str) -> Result<Format, String> {
    let known = || Format::ALL.map(Format::word).join(", ");
    Format::named(word).ok_or_else(|| format!("it can be {}", known()))
}

/// Run it; gives the exit code: 1 when a capture gave no rows, with the reason.
///
/// # Errors
/// [`Trouble`]: a format that cannot be had (2), a capture (4, 5), the file (6).
pub fn run(args: &ExportArgs) -> Result<u8, Trouble> {
    match &args.what {
        What::Records(args) => of_records(args, export::records::export),
        What::Passes(args) => of_records(args, export::passes::export),
        What::Speeds(args) => {
            let given = |session: &Session| {
                speeds(&session.trail().unwrap_or_default(), SpeedsOptions::default())
                    .map_err(|e| [e.to_string(), e.means().to_owned(), e.next().to_owned()])
            };
            let (given, code) = each(&args.captures, given)?;
            put(&args.to, &export::speeds::export(&given), code)
        }
        What::Slip(args) => {
            let options = args.how.options()?;
            let given = |session: &Session| {
                let mut options = options.clone();
                from_rig(&mut options, active::named_in(session))
                    .map_err(|e| [e.what, e.means, e.next])?;
                slip(&session.trail().unwrap_or_default(), &options)
                    .map_err(|e| [e.to_string(), e.means().to_owned(), e.next().to_owned()])
            };
            let (given, code) = each(&args.captures, given)?;
            put(&args.to, &export::slip::export(&given), code)
        }
    }
}

/// Records as a table; damaged ones are reported, and the others go out.
fn of_records(
    args: &RecordsExport,
    table: fn(&[RecordV1]) -> Result<Export, RecordFault>,
) -> Result<u8, Trouble> {
    let register = Register::read(&DataFolder::in_force()?)?;
    let wanted = Wanted { rig: args.rig.clone(), words: args.words.clone(), ..Wanted::default() };
    let (records, code) = sound(&register, &wanted)?;
    let export = table(&records).map_err(|e| Trouble::internal(e.to_string()))?;
    put(&args.to, &export, code)
}

/// Every record that is sound, the oldest first; exit code 1 when others were skipped, with a
/// word about each.
///
/// # Errors
/// The register's.
pub fn sound(register: &Register, wanted: &Wanted) -> Result<(Vec<RecordV1>, u8), Trouble> {
    let listed: Vec<RecordRow> = register.records(wanted)?.into_iter().rev().collect();
    let record = |register: &Register, listed: &RecordRow| {
        let record = match &listed.damage {
            Some(damage) if listed.state == DAMAGED => Err(damage.clone()),
            _ => register.whole_record(&listed.id).map_err(|trouble| trouble.what),
        };
        let skipped = |why: &String| {
            out::notice(&format!("Record {} is damaged and was skipped: {why}", listed.id));
        };
        Ok(record.inspect_err(skipped).ok())
    };
    let progress = Progress::start(listed.len() as u64, "records");
    let place = register.place();
    let all = cores::each(&listed, &progress, || Register::read(place), record);
    progress.end();
    let records: Vec<_> = all?.into_iter().flatten().collect();
    let code = if records.len() == listed.len() { exit::OK } else { exit::FLAGGED };
    Ok((records, code))
}

/// Calculate captures on all processors; one that gives nothing is reported, and the others go on,
/// for exit code 1.
fn each<T: Send>(
    captures: &[PathBuf],
    work: impl Fn(&Session) -> Result<T, [String; 3]> + Sync,
) -> Result<(Vec<(Origin, T)>, u8), Trouble> {
    let given = |_: &(), path: &PathBuf| {
        let session = replay_with_trail(path, THINNED_US)?;
        match work(&session) {
            Ok(given) => Ok(Some((origin(&facts(&session, path, None, false)?), given))),
            Err([what, means, next]) => {
                out::notice(&format!("{}: {what}. {means} {next}", path.display()));
                Ok(None)
            }
        }
    };
    let progress = Progress::start(captures.len() as u64, "captures");
    let all = cores::each(captures, &progress, || Ok(()), given);
    progress.end();
    let all: Vec<_> = all?.into_iter().flatten().collect();
    let code = if all.len() == captures.len() { exit::OK } else { exit::FLAGGED };
    Ok((all, code))
}

/// What a row says of its capture.
#[must_use]
pub fn origin(facts: &Facts) -> Origin {
    Origin {
        capture: facts.capture_name.clone(),
        capture_sha256: facts.capture_digest.clone(),
        started_utc: facts.started_utc.clone(),
        practice: facts.practice,
    }
}

/// A refusal as what ends a command.
#[must_use]
pub fn refused(refusal: ExportRefusal) -> Trouble {
    Trouble::new(exit::USAGE, format!("{refusal}."), refusal.means(), refusal.next())
}

/// The bytes of the file, Parquet included.
///
/// # Errors
/// [`ExportRefusal`] when this cannot be had in that format.
pub fn bytes(export: &Export, format: Format, raw: bool) -> Result<Vec<u8>, ExportRefusal> {
    #[cfg(feature = "parquet")]
    if format == Format::Parquet {
        return Ok(parquet::write(&export.table));
    }
    export.bytes(format, raw)
}

/// Write a table where it was asked for; gives `code` back when it is there.
fn put(args: &ToArgs, export: &Export, code: u8) -> Result<u8, Trouble> {
    let named = |path: &Path| Format::of_file(&files::name(path)).map_err(refused);
    let format = match (args.format, &args.to) {
        (Some(format), _) => format,
        (None, Some(path)) => named(path)?,
        // The arguments ask for one of the two.
        (None, None) => Format::Json,
    };
    if export.table.rows.is_empty() {
        out::notice("There are no rows, so nothing was written.");
        return Ok(exit::FLAGGED);
    }
    let bytes = bytes(export, format, args.raw).map_err(refused)?;
    match &args.to {
        Some(path) => {
            files::replace(path, &bytes)?;
            let rows = export.table.rows.len();
            out::notice(&format!("{rows} rows of {} are in {}", export.table.name, path.display()));
        }
        None if format == Format::Parquet
            && !out::is_heard()
            && std::io::stdout().is_terminal() =>
        {
            return Err(Trouble::new(
                exit::USAGE,
                "Parquet is not for the screen.",
                "Nothing was written.",
                "Name a file with --to, or send it on to another program.",
            ));
        }
        None => out::say_bytes(&bytes),
    }
    Ok(code)
}
