//! `trundle export`: results as tables for other programs.
//!
//! A kind of table is a variant of [`What`], its arguments, and a line in [`run`] that makes its
//! [`Export`] and hands it to [`put`].

use super::slip::HowArgs;
use super::work::{facts, replay_with_trail};
use crate::export::slip::Origin;
use crate::export::{self, Export, ExportRefusal, Format};
use crate::report::html::Facts;
use crate::session::Session;
use crate::session::trail::THINNED_US;
use crate::shell::exit::{self, Trouble};
use crate::shell::{files, out};
use crate::slip::slip;
use crate::speeds::{SpeedsOptions, speeds};
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

/// Write results as tables.
#[derive(Debug, clap::Args)]
pub struct ExportArgs {
    /// What to write.
    #[command(subcommand)]
    pub what: What,
}

/// The tables.
#[derive(Debug, clap::Subcommand)]
pub enum What {
    /// Wheel, radar and satellite speed: a row a stretch of steady, straight driving.
    Speeds(SpeedsExport),
    /// Slip: a row a window of distance.
    Slip(SlipExport),
}

/// Speeds of captures.
#[derive(Debug, clap::Args)]
pub struct SpeedsExport {
    /// The captures.
    #[arg(value_name = "CAPTURE", required = true)]
    pub captures: Vec<PathBuf>,
    /// Where it goes.
    #[command(flatten)]
    pub to: ToArgs,
}

/// Slip of captures.
#[derive(Debug, clap::Args)]
pub struct SlipExport {
    /// The captures, of one tractor on the same tyres.
    #[arg(value_name = "CAPTURE", required = true)]
    pub captures: Vec<PathBuf>,
    /// How to work slip.
    #[command(flatten)]
    pub how: HowArgs,
    /// Where it goes.
    #[command(flatten)]
    pub to: ToArgs,
}

/// Where a table goes, and how.
#[derive(Debug, clap::Args)]
pub struct ToArgs {
    /// The file; its end tells the format: .csv, .json, .parquet, .geojson or .gpx. An existing
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
        What::Speeds(args) => {
            let given = |session: &Session| {
                speeds(&session.trail().unwrap_or_default(), SpeedsOptions::default())
                    .map_err(|e| [e.to_string(), e.means().to_owned(), e.next().to_owned()])
            };
            let worked = each(&args.captures, given)?;
            put(&args.to, &export::speeds::export(&worked.given), worked.code())
        }
        What::Slip(args) => {
            let options = args.how.options()?;
            let given = |session: &Session| {
                slip(&session.trail().unwrap_or_default(), &options)
                    .map_err(|e| [e.to_string(), e.means().to_owned(), e.next().to_owned()])
            };
            let worked = each(&args.captures, given)?;
            put(&args.to, &export::slip::export(&worked.given), worked.code())
        }
    }
}

/// What captures gave.
struct Worked<T> {
    given: Vec<(Origin, T)>,
    refused: usize,
}

impl<T> Worked<T> {
    const fn code(&self) -> u8 {
        if self.refused == 0 { exit::OK } else { exit::FLAGGED }
    }
}

/// Work captures one after the other; one that gives nothing is told of, and the others go on.
fn each<T>(
    captures: &[PathBuf],
    work: impl Fn(&Session) -> Result<T, [String; 3]>,
) -> Result<Worked<T>, Trouble> {
    let mut out = Worked { given: Vec::new(), refused: 0 };
    for path in captures {
        let session = replay_with_trail(path, THINNED_US)?;
        match work(&session) {
            Ok(given) => out.given.push((origin(&facts(&session, path, None)?), given)),
            Err([what, means, next]) => {
                out.refused += 1;
                out::tell(&format!("{}: {what}. {means} {next}", path.display()));
            }
        }
    }
    Ok(out)
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
        out::tell("There are no rows, so nothing was written.");
        return Ok(exit::FLAGGED);
    }
    let bytes = export.bytes(format, args.raw).map_err(refused)?;
    match &args.to {
        Some(path) => {
            files::replace(path, &bytes)?;
            let rows = export.table.rows.len();
            out::tell(&format!("{rows} rows of {} are in {}", export.table.name, path.display()));
        }
        None if format == Format::Parquet && std::io::stdout().is_terminal() => {
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
