//! Everything in one file, and back.
//!
//! A backup is an SQLite file of its own: the whole register, and one more table with the captures
//! (`capture (sha256, bytes)`), so that the stock program can look into it.

use super::captures;
use super::place::DataFolder;
use super::register::Register;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::shell::progress::Progress;
use rusqlite::{Connection, OpenFlags, params};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::io::ErrorKind;
use std::path::Path;
use trundle_core::units::hex;

/// Longest capture that a backup takes, bytes: no value of an SQLite file is longer
/// (<https://www.sqlite.org/limits.html>, 1).
const CAPTURE_MAX: u64 = 1_000_000_000;
/// The marker in the file's head: "Trnd" in ASCII.
const MARK: i64 = 0x5472_6e64;

/// What was backed up or restored.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Done {
    /// Number of signed-off records.
    pub records: usize,
    /// Number of captures.
    pub captures: usize,
    /// What is damaged or missing, in words; everything else was taken.
    pub damaged: Vec<String>,
}

/// Write everything into one file. It is read back before it takes its name.
///
/// # Errors
/// Exit code 2 when the file exists, 6 when it cannot be written.
pub fn write(place: &DataFolder, to: &Path) -> Result<Done, Trouble> {
    free(to)?;
    // The lock keeps register and captures at one moment.
    let register = Register::write(place)?;
    let beside = files::beside(to).map_err(|e| not_written(to, &e))?;
    let failed = |e: rusqlite::Error| not_written(to, &e);
    let prepare = || -> rusqlite::Result<Connection> {
        register.copy_whole(&beside)?;
        let db = Connection::open(&beside)?;
        db.pragma_update(None, "synchronous", "FULL")?;
        db.pragma_update(None, "application_id", MARK)?;
        db.execute_batch(
            "CREATE TABLE capture (sha256 TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;",
        )?;
        Ok(db)
    };
    let db = prepare().map_err(failed)?;
    let wanted = digests(&db).map_err(failed)?;
    let mut done = Done { records: count(&db).map_err(failed)?, ..Done::default() };
    let progress = Progress::start(wanted.len() as u64, "captures");
    for sha256 in wanted {
        let path = captures::path(place, &sha256);
        match files::read(&path, CAPTURE_MAX) {
            Ok(Some(bytes)) if digest(&bytes) == sha256 => {
                let sql = "INSERT INTO capture VALUES (?1, ?2)";
                db.execute(sql, params![sha256, bytes]).map_err(failed)?;
                done.captures += 1;
            }
            Ok(_) => done.damaged.push(format!("capture {sha256} is damaged")),
            Err(e) => done.damaged.push(format!("capture {sha256} cannot be read: {e}")),
        }
        progress.step();
    }
    progress.end();
    db.close().map_err(|(_, e)| failed(e))?;
    // Another program may have given it the name meanwhile.
    free(to)?;
    files::take_name(&beside, to).map_err(|e| not_written(to, &e))?;
    Ok(done)
}

/// Nothing has this name yet, not even a link that leads nowhere.
fn free(to: &Path) -> Result<(), Trouble> {
    if to.symlink_metadata().is_err() {
        return Ok(());
    }
    let what = format!("{} exists.", to.display());
    let next = "Choose another name; a backup never overwrites.";
    Err(Trouble::new(exit::USAGE, what, "Nothing was written.", next))
}

/// Take everything out of a backup into a place that holds no register yet. With `dry`, only say
/// what the file holds.
///
/// # Errors
/// Exit code 5 for a file that is no backup, 2 where a register is already, 6 when it cannot be
/// written.
pub fn restore(place: &DataFolder, from: &Path, dry: bool) -> Result<Done, Trouble> {
    let db = open(from)?;
    let failed = |e: rusqlite::Error| unreadable(from, &e);
    let mut done = Done { records: count(&db).map_err(failed)?, ..Done::default() };
    if place.register().exists() && !dry {
        let what = format!("{} holds a register already.", place.folder().display());
        let means = "Nothing was changed: a backup is never written over what is there.";
        let next = "Move that folder away first, or name another one with --data.";
        return Err(Trouble::new(exit::USAGE, what, means, next));
    }
    if !dry {
        place.make()?;
    }
    let wanted = digests(&db).map_err(failed)?;
    let progress = Progress::start(wanted.len() as u64, "captures");
    for sha256 in wanted {
        let sql = "SELECT bytes FROM capture WHERE sha256 = ?1";
        match db.query_row(sql, [&sha256], |row| row.get::<_, Vec<u8>>(0)) {
            Ok(bytes) if digest(&bytes) == sha256 => {
                if !dry {
                    let to = captures::path(place, &sha256);
                    captures::write_beside(&to, &mut bytes.as_slice())
                        .map_err(|e| not_written(&to, &e))?;
                }
                done.captures += 1;
            }
            Ok(_) => done.damaged.push(format!("capture {sha256} is damaged in the backup")),
            Err(_) => done.damaged.push(format!("capture {sha256} is not in the backup")),
        }
        progress.step();
    }
    progress.end();
    if !dry {
        // The register comes last: before it is there, nothing is restored.
        take_register(&db, place).map_err(|e| not_written(&place.register(), &e))?;
        let register = Register::write(place)?;
        done.damaged.extend(register.complaints()?);
    }
    Ok(done)
}

fn take_register(db: &Connection, place: &DataFolder) -> rusqlite::Result<()> {
    let invalid = |_| rusqlite::Error::InvalidPath(place.register());
    let beside = files::beside(&place.register()).map_err(invalid)?;
    db.execute("VACUUM INTO ?1", [beside.to_string_lossy()])?;
    let copy = Connection::open(&beside)?;
    copy.pragma_update(None, "synchronous", "FULL")?;
    copy.pragma_update(None, "application_id", 0)?;
    copy.execute_batch("DROP TABLE capture; VACUUM;")?;
    copy.close().map_err(|(_, e)| e)?;
    files::take_name(&beside, &place.register()).map_err(invalid)
}

fn open(from: &Path) -> Result<Connection, Trouble> {
    // A file that is not there would be made, and a pipe waited for.
    if let Err(error) = files::open(from) {
        let what = match error.kind() {
            ErrorKind::NotFound => format!("{} is not there.", from.display()),
            _ => format!("{} cannot be read: {error}.", from.display()),
        };
        let code = files::read_code(error.kind());
        return Err(Trouble::new(code, what, "Nothing was restored.", "Check the name."));
    }
    let db = Connection::open_with_flags(from, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|e| unreadable(from, &e))?;
    let mark: i64 = db
        .pragma_query_value(None, "application_id", |row| row.get(0))
        .map_err(|e| unreadable(from, &e))?;
    if mark == MARK {
        return Ok(db);
    }
    let what = format!("{} is not a backup of this program.", from.display());
    let next = "Name a file that `trundle backup` wrote.";
    Err(Trouble::new(exit::INPUT, what, "Nothing was restored.", next))
}

fn digests(db: &Connection) -> rusqlite::Result<BTreeSet<String>> {
    let mut asked = db.prepare("SELECT DISTINCT capture_sha256 FROM record")?;
    asked.query_map([], |row| row.get(0))?.collect()
}

fn count(db: &Connection) -> rusqlite::Result<usize> {
    let count = db.query_row("SELECT count(*) FROM record", [], |row| row.get::<_, i64>(0))?;
    Ok(usize::try_from(count).unwrap_or(0))
}

fn digest(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn not_written(to: &Path, error: &dyn std::fmt::Display) -> Trouble {
    let what = format!("{} cannot be written: {error}.", to.display());
    Trouble::new(exit::STORAGE, what, MEANS, "Make room or choose another place, then try again.")
}

/// What a backup or restore that failed means.
const MEANS: &str = "What was saved before is untouched.";

fn unreadable(from: &Path, error: &rusqlite::Error) -> Trouble {
    let what = format!("{} cannot be read: {error}.", from.display());
    let next = "Use another backup.";
    Trouble::new(files::read_code(ErrorKind::InvalidData), what, MEANS, next)
}
