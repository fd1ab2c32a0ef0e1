//! `trundle pack` and `trundle unpack`: closed captures made smaller, and back.

use crate::packed::plain::is_packed;
use crate::packed::rewrite::{Rewritten, Way, rewrite};
use crate::recorder::capture_read::read_capture;
use crate::shell::exit::{self, OK, Trouble};
use crate::shell::storage::RealDisk;
use crate::shell::{files, out};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::time::Duration;
use trundle_core::capture::{Entry, Piece};
use trundle_show::words::packed as words;

/// A job adds to its capture many times in this time.
const QUIET: Duration = Duration::from_secs(60);

/// Which captures.
#[derive(Debug, clap::Args)]
pub struct PackArgs {
    /// The captures; each stays where it is, under its name.
    #[arg(value_name = "CAPTURE", required = true)]
    pub captures: Vec<PathBuf>,
}

/// Pack or unpack each capture; gives the exit code, that of the first that could not be.
///
/// # Errors
/// None: what is wrong with one is said, and the others are done.
pub fn run(args: &PackArgs, way: Way) -> Result<u8, Trouble> {
    let mut code = OK;
    for path in &args.captures {
        match one(path, way) {
            Ok(line) => out::say(&line),
            Err(trouble) => {
                out::notice(&trouble.to_string());
                code = if code == OK { trouble.code } else { code };
            }
        }
    }
    Ok(code)
}

/// Gives what was done, in words.
fn one(path: &Path, way: Way) -> Result<String, Trouble> {
    let name = path.display().to_string();
    // It is a capture, and where it is, behind any link.
    let mut ended = false;
    read_capture(path, |piece| {
        ended = matches!(piece, Piece::Record(record) if record.entry == Entry::End);
    })?;
    let failed = |error: io::Error| failed(&name, &error);
    let place = path.canonicalize().map_err(failed)?;
    match (way, files::open(&place).and_then(is_packed).map_err(failed)?) {
        (Way::Pack, true) => return Ok(words::packed_already(&name)),
        (Way::Unpack, false) => return Ok(words::not_packed(&name)),
        _ => {}
    }
    let found = place.metadata().map_err(failed)?;
    // A time to come says nothing: a clock was set back, or that of another machine is ahead.
    let quiet = found.modified().ok().and_then(|at| at.elapsed().ok());
    if way == Way::Pack && !ended && quiet.is_none_or(|quiet| quiet < QUIET) {
        let [what, means, next] = words::recording(&name);
        return Err(Trouble::new(exit::BLOCKED, what, means, next));
    }
    let before = |beside: &Path, _: &Rewritten| {
        let now = place.metadata()?;
        if (now.len(), now.modified().ok()) != (found.len(), found.modified().ok()) {
            let what = "something was added while it was read";
            return Err(io::Error::new(ErrorKind::InvalidData, what));
        }
        files::as_of(&found, beside)
    };
    files::clear_left_behind(&place);
    let done = rewrite(&RealDisk, way, &place, &place, &before).map_err(failed)?;
    Ok(match way {
        Way::Pack => words::packed(&name, done.plain, done.length),
        Way::Unpack => words::unpacked(&name, done.plain),
    })
}

fn failed(name: &str, error: &io::Error) -> Trouble {
    let code = match error.kind() {
        ErrorKind::PermissionDenied => exit::BLOCKED,
        ErrorKind::InvalidData | ErrorKind::InvalidInput | ErrorKind::Unsupported => exit::INPUT,
        _ => exit::STORAGE,
    };
    let [what, means, next] = words::as_it_was(name, &error.to_string());
    Trouble::new(code, what, means, next)
}
