//! `trundle import`: make a capture of recordings made elsewhere.

use crate::shell::clock::wall_utc_ns;
use crate::shell::exit::{self, Trouble};
use crate::shell::{files, out};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use trundle_core::capture::{Record, encode};
use trundle_core::import::{ImportFault, Inputs, to_records_at};

/// Longest file read, bytes: two days of sentences at 10 Hz are less.
const FILE_MAX: u64 = 64 << 20;

/// Make a capture of recordings made elsewhere: the receiver's sentences and a table of counts.
///
/// counts.csv: a header line; board_s (seconds) or utc (RFC 3339); any of wheel, radar, pto
/// (running counts, 32-bit wrap allowed); working (0 or 1).
/// marks.csv: board_s or utc; mark (start, finish or note); note.
/// Counts without utc are matched to the receiver by matching their speeds.
#[derive(Debug, clap::Args)]
pub struct ImportArgs {
    /// The receiver's NMEA 0183 sentences, one a line, each with its time of arrival before it
    /// or without.
    #[arg(long, value_name = "FILE")]
    pub nmea: PathBuf,
    /// The table of counts.
    #[arg(long, value_name = "FILE")]
    pub counts: PathBuf,
    /// The table of marks; without it there are no passes.
    #[arg(long, value_name = "FILE")]
    pub marks: Option<PathBuf>,
    /// The course file, as for `drive`.
    #[arg(long, value_name = "FILE")]
    pub course: Option<PathBuf>,
    /// The capture to make; an existing file is never overwritten.
    #[arg(long, value_name = "CAPTURE")]
    pub out: PathBuf,
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`]: code 2 when the capture exists, 4 without permission, 5 when a file cannot be
/// read or made sense of, 6 when the capture cannot be written.
pub fn run(args: &ImportArgs) -> Result<u8, Trouble> {
    if args.out.symlink_metadata().is_ok() {
        return Err(exists(&args.out));
    }
    let nmea = read(&args.nmea)?;
    let counts = read(&args.counts)?;
    let marks = args.marks.as_deref().map(read).transpose()?;
    let course = args.course.as_deref().map(files::read_text).transpose()?;
    let inputs =
        Inputs { nmea: &nmea, counts: &counts, marks: marks.as_deref(), course: course.as_deref() };
    let (records, summary) =
        to_records_at(&inputs, Some(wall_utc_ns())).map_err(|fault| trouble(&fault))?;
    write(&args.out, &records)?;
    for line in summary.joined() {
        out::say(&line);
    }
    // Bad lines quote the file, and files come from outside.
    for line in summary.remarks.iter().chain(&summary.bad_lines()) {
        out::notice(&out::scrub(line, 300));
    }
    out::say(&format!("The capture is in {}", args.out.display()));
    out::say("Next: trundle work on it gives the value.");
    Ok(exit::OK)
}

fn trouble(fault: &ImportFault) -> Trouble {
    // Some faults quote what stands in a file, which comes from outside.
    let what: Vec<String> = fault.to_string().lines().map(|line| out::scrub(line, 300)).collect();
    Trouble::new(exit::INPUT, what.join("\n"), fault.means(), fault.next())
}

fn exists(path: &Path) -> Trouble {
    Trouble::new(
        exit::USAGE,
        format!("{} exists already.", path.display()),
        "Nothing was read or changed: a capture is evidence and is never overwritten.",
        "Give another name with --out.",
    )
}

fn read(path: &Path) -> Result<Vec<u8>, Trouble> {
    let failed = |error: std::io::Error| {
        Trouble::new(
            files::read_code(error.kind()),
            format!("{} cannot be read: {error}.", path.display()),
            "No capture was made.",
            "Check the name and the file.",
        )
    };
    files::read(path, FILE_MAX).map_err(failed)?.ok_or_else(|| {
        Trouble::new(
            exit::INPUT,
            format!("{} is longer than 64 MiB.", path.display()),
            "No capture was made: recordings of a job are shorter.",
            "Cut the recording to the hours of the job.",
        )
    })
}

/// Write the capture whole, or leave nothing behind.
fn write(path: &Path, records: &[Record]) -> Result<(), Trouble> {
    let mut bytes = Vec::new();
    for record in records {
        encode(record, &mut bytes);
    }
    let failed = |error: std::io::Error| {
        let code = match error.kind() {
            ErrorKind::PermissionDenied => exit::BLOCKED,
            _ => exit::STORAGE,
        };
        Trouble::new(
            code,
            format!("{} cannot be written: {error}.", path.display()),
            "No capture was made; the recordings are as they were.",
            "Check folder and disk, or give another place with --out.",
        )
    };
    let mut file = match OpenOptions::new().write(true).create_new(true).open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::AlreadyExists => return Err(exists(path)),
        Err(error) => return Err(failed(error)),
    };
    file.write_all(&bytes).and_then(|()| file.sync_all()).map_err(|error| {
        // Made here a moment ago, and of no use in part.
        let _ = std::fs::remove_file(path);
        failed(error)
    })
}
