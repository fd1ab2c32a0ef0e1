//! Everything in one file, and back.
//!
//! A backup is an SQLite file of its own: the whole register, and one more table with the captures
//! (`capture (sha256, bytes)`), so that the stock program can look into it. Its bytes are a packed
//! capture (`host/src/packed/mod.rs`), its digest is that of the plain ones; plain captures are
//! read too.
//!
//! Neither way is a file copied: rows are taken over into tables of our own
//! (`register/copy.rs`), so that damage costs only what it struck, and whatever else a file's
//! schema holds does nothing.

use super::captures;
use super::place::DataFolder;
use super::register::{
    Cell, Fault, Register, Table, Tried, Wanted, distrust, is_damage, known_backup, lock,
    part_captures, take_rows,
};
use crate::packed::pack::pack;
use crate::packed::plain::named;
use crate::packed::unpack::Lost;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::shell::progress::Progress;
use rusqlite::{Connection, ErrorCode, OpenFlags, params};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Longest capture that a backup takes, bytes: no row of an SQLite file is longer than 10^9
/// (<https://www.sqlite.org/limits.html>, 1), and something stands beside it in its row.
const CAPTURE_MAX: u64 = 1_000_000_000 - 4096;
/// The marker in the file's head: "Trnd" in ASCII.
const MARK: i64 = 0x5472_6e64;
/// Steps of SQLite between two looks at how many it has taken.
const LOOK: i32 = 1000;
/// Steps allowed for reading any backup; a row takes some 40.
const STEPS: u64 = 10_000_000;
/// Steps allowed besides for each byte of the file: no row is shorter than ten bytes.
const STEPS_A_BYTE: u64 = 4;

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

/// What was made so far; removed again, unless all of it is done.
#[derive(Default)]
struct Made {
    /// In the order of making.
    paths: Vec<PathBuf>,
}

impl Made {
    /// Note what is going to be made, unless it is there.
    fn note(&mut self, path: &Path) {
        if !path.exists() {
            self.paths.push(path.to_owned());
        }
    }

    fn done(mut self) {
        self.paths.clear();
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for path in self.paths.iter().rev() {
            // Each is a file or an empty folder; what somebody else put there stays.
            let _ = std::fs::remove_file(path).or_else(|_| std::fs::remove_dir(path));
        }
    }
}

/// Write everything into one file. It is read back before it takes its name.
///
/// # Errors
/// Exit code 2 when the file exists, 5 when the register cannot be read at all, 6 when the backup
/// cannot be written.
pub fn write(place: &DataFolder, to: &Path) -> Result<Done, Trouble> {
    unused(to)?;
    place.make()?;
    let register = Register::read(place)?;
    // The lock keeps register and captures at one moment.
    let _lock = lock(place)?;
    let beside = files::beside(to).map_err(|e| not_written(to, &e))?;
    let failed = |e: rusqlite::Error| not_written(to, &e);
    let db = fresh(&beside).map_err(failed)?;
    let damaged = register.copy_into(&db).map_err(|fault| match fault {
        Fault::Sql(e) if !is_damage(&e) => failed(e),
        fault => fault.trouble(place),
    })?;
    let prepare = || -> rusqlite::Result<()> {
        db.pragma_update(None, "application_id", MARK)?;
        db.execute_batch(
            "CREATE TABLE capture (sha256 TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;",
        )
    };
    prepare().map_err(failed)?;
    let wanted = digests(&db).map_err(failed)?;
    let mut done = Done { records: count(&db).map_err(failed)?, captures: 0, damaged };
    let progress = Progress::start(wanted.len() as u64, "captures");
    for sha256 in wanted {
        let path = captures::path(place, &sha256);
        match taken(&path, &sha256) {
            Ok(Some(bytes)) => {
                let sql = "INSERT INTO capture VALUES (?1, ?2)";
                db.execute(sql, params![sha256, bytes]).map_err(failed)?;
                done.captures += 1;
            }
            Err(e) if e.kind() == ErrorKind::InvalidData => {
                done.damaged.push(format!("capture {sha256} is damaged"));
            }
            Ok(None) => done.damaged.push(format!(
                "capture {sha256} is longer than a backup takes and is not in it; copy {} by hand",
                path.display()
            )),
            Err(e) => done.damaged.push(format!("capture {sha256} cannot be read: {e}")),
        }
        progress.step();
    }
    progress.end();
    let back: String =
        db.query_row("PRAGMA integrity_check(1)", (), |row| row.get(0)).map_err(failed)?;
    if back != "ok" {
        return Err(not_written(to, &format!("read back, it is damaged: {back}")));
    }
    db.close().map_err(|(_, e)| failed(e))?;
    // Another program may have given it the name meanwhile.
    unused(to)?;
    files::take_name(&beside, to).map_err(|e| not_written(to, &e))?;
    Ok(done)
}

/// Nothing has this name yet, not even a link that leads nowhere.
fn unused(to: &Path) -> Result<(), Trouble> {
    if to.symlink_metadata().is_err() {
        return Ok(());
    }
    let what = format!("{} exists.", to.display());
    let next = "Choose another name; a backup never overwrites.";
    Err(Trouble::new(exit::USAGE, what, "Nothing was written.", next))
}

/// Take everything out of a backup into a place that holds no register yet. With `dry`, only say
/// what the file holds. What is refused leaves nothing behind.
///
/// # Errors
/// Exit code 5 for a file that is no backup or of a later version, 2 where a register is already,
/// 6 when it cannot be written.
pub fn restore(place: &DataFolder, from: &Path, dry: bool) -> Result<Done, Trouble> {
    let db = open(from)?;
    let failed = |fault: Fault| not_restored(from, place, fault);
    known_backup(&db, from).map_err(failed)?;
    if dry {
        let take = || -> Tried<Done> {
            let to = Connection::open_in_memory()?;
            let damaged = take_rows(&db, &to, from)?;
            let mut done = Done { records: count(&to)?, captures: 0, damaged };
            take_captures(&db, &to, &mut done, |_, _| Ok(()))?;
            Ok(done)
        };
        return take().map_err(failed);
    }
    free(place)?;
    let mut made = Made::default();
    let folders: Vec<&Path> = place.folder().ancestors().take_while(|one| !one.exists()).collect();
    folders.iter().rev().for_each(|folder| made.note(folder));
    made.note(&place.captures());
    place.make()?;
    made.note(&place.lock());
    let lock = lock(place)?;
    free(place)?;
    let beside =
        files::beside(&place.register()).map_err(|e| not_written(&place.register(), &e))?;
    let mut take = || -> Tried<Done> {
        let to = fresh(&beside)?;
        let damaged = take_rows(&db, &to, from)?;
        let mut done = Done { records: count(&to)?, captures: 0, damaged };
        // The register comes last: before it is there, nothing is restored.
        take_captures(&db, &to, &mut done, |sha256, bytes| {
            let to = captures::path(place, sha256);
            made.note(&to);
            captures::write_beside(&to, &mut &*bytes).map_err(|e| not_written(&to, &e))
        })?;
        let register = Register::beside(to, place);
        check(&register, &mut done)?;
        register.close()?;
        Ok(done)
    };
    let done = take().map_err(failed)?;
    let register = place.register();
    files::take_name(&beside, &register).map_err(|e| not_written(&register, &e))?;
    made.done();
    drop(lock);
    Ok(done)
}

/// There must be no register yet.
fn free(place: &DataFolder) -> Result<(), Trouble> {
    if !place.register().exists() {
        return Ok(());
    }
    let what = format!("{} holds a register already.", place.folder().display());
    let means = "Nothing was changed: a backup is never written over what is there.";
    let next = "Move that folder away first, or name another one with --data.";
    Err(Trouble::new(exit::USAGE, what, means, next))
}

/// Give every capture that the records of `to` name to `each`, if it is sound.
fn take_captures(
    db: &Connection,
    to: &Connection,
    done: &mut Done,
    mut each: impl FnMut(&str, &[u8]) -> Result<(), Trouble>,
) -> Tried<()> {
    let wanted = digests(to)?;
    let mut there = BTreeMap::new();
    let table = Table { name: "capture", key: "rowid", columns: &["sha256"] };
    let damage = table.walk(db, |key, cells| {
        there.extend(cells.first().map(|sha256| (sha256.readable(), key)));
        Ok::<_, Fault>(())
    })?;
    done.damaged.extend(damage);
    let sql = "SELECT bytes FROM main.capture NOT INDEXED WHERE rowid = ?1";
    let progress = Progress::start(wanted.len() as u64, "captures");
    for sha256 in wanted {
        let bytes = there.get(&sha256).map(|key| db.query_row(sql, [key], |row| Cell::at(row, 0)));
        match bytes {
            Some(Ok(Cell::Blob(bytes))) if has_digest(&bytes, &sha256) => {
                each(&sha256, &bytes)?;
                done.captures += 1;
            }
            Some(Err(error)) if !is_damage(&error) => return Err(error.into()),
            Some(_) => done.damaged.push(format!("capture {sha256} is damaged in the backup")),
            None => done.damaged.push(format!("capture {sha256} is not in the backup")),
        }
        progress.step();
    }
    progress.end();
    Ok(())
}

/// Look at what was restored as at any register, before it takes its name.
fn check(register: &Register, done: &mut Done) -> Result<(), Trouble> {
    done.damaged.extend(register.complaints()?);
    for row in register.records(&Wanted::default())? {
        let Some(damage) = row.damage else { continue };
        let named = format!("record {}", row.id);
        if !done.damaged.iter().any(|said| said.starts_with(&named)) {
            done.damaged.push(format!("{named}: {damage}"));
        }
    }
    Ok(())
}

/// An empty file that is synced when it takes its name, and not before.
fn fresh(path: &Path) -> rusqlite::Result<Connection> {
    let db = Connection::open(path)?;
    db.pragma_update(None, "journal_mode", "MEMORY")?;
    db.pragma_update(None, "synchronous", "OFF")?;
    Ok(db)
}

/// Open a backup: nothing that its schema holds is run, and reading it comes to an end.
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
    let bytes = std::fs::metadata(from).map_or(0, |found| found.len());
    let look = || -> rusqlite::Result<(Connection, i64)> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut db = Connection::open_with_flags(from, flags)?;
        distrust(&db)?;
        db.pragma_update(None, "cell_size_check", true)?;
        let mut left = (STEPS + bytes.saturating_mul(STEPS_A_BYTE)) / LOOK.unsigned_abs() as u64;
        let ended = move || {
            left = left.saturating_sub(1);
            left == 0
        };
        db.progress_handler(LOOK, Some(ended))?;
        let mark = db.pragma_query_value(None, "application_id", |row| row.get(0))?;
        Ok((db, mark))
    };
    let (db, mark) = look().map_err(|e| unreadable(from, &e))?;
    if mark == MARK {
        return Ok(db);
    }
    let what = format!("{} is not a backup of this program.", from.display());
    let next = "Name a file that `trundle backup` wrote.";
    Err(Trouble::new(exit::INPUT, what, "Nothing was restored.", next))
}

/// Digests of all captures that the records name, of courses and of parts.
fn digests(db: &Connection) -> rusqlite::Result<BTreeSet<String>> {
    let mut asked = db.prepare("SELECT capture_sha256, parts FROM record")?;
    let mut answer = asked.query([])?;
    let mut all = BTreeSet::new();
    while let Some(row) = answer.next()? {
        let course = Cell::at(row, 0)?;
        all.extend((course != Cell::Null).then(|| course.readable()));
        all.extend(part_captures(&Cell::at(row, 1)?.readable()).map(|(_, digest, _)| digest));
    }
    Ok(all)
}

fn count(db: &Connection) -> rusqlite::Result<usize> {
    let count = db.query_row("SELECT count(*) FROM record", [], |row| row.get::<_, i64>(0))?;
    Ok(usize::try_from(count).unwrap_or(0))
}

/// A saved capture as it goes into the backup, packed; `None` for one that is too long.
///
/// # Errors
/// The system's; [`ErrorKind::InvalidData`] when its plain bytes have another digest.
fn taken(path: &Path, sha256: &str) -> io::Result<Option<Vec<u8>>> {
    let found = named(files::open(path)?, Lost::Refused)?;
    if found.sha256 != sha256 {
        return Err(ErrorKind::InvalidData.into());
    }
    if found.packed {
        return files::read(path, CAPTURE_MAX);
    }
    // One that was saved plain.
    let mut room = Room(Vec::new());
    match pack(&mut files::open(path)?, found.bytes, &mut room) {
        Ok(packed) if packed.sha256 == sha256 => Ok(Some(room.0)),
        Ok(_) => Err(ErrorKind::InvalidData.into()),
        Err(error) if TOO_LONG.contains(&error.kind()) => Ok(None),
        Err(error) => Err(error),
    }
}

/// What packing says of a capture that is too long, before it and on the way.
const TOO_LONG: [ErrorKind; 2] = [ErrorKind::InvalidInput, ErrorKind::FileTooLarge];

/// Takes as many bytes as a backup does of one capture.
struct Room(Vec<u8>);

impl io::Write for Room {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if (self.0.len() + bytes.len()) as u64 > CAPTURE_MAX {
            return Err(ErrorKind::FileTooLarge.into());
        }
        self.0.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Whether a capture in a backup, packed or plain, is whole and has this digest.
fn has_digest(bytes: &[u8], sha256: &str) -> bool {
    named(bytes, Lost::Refused).is_ok_and(|found| found.sha256 == sha256)
}

fn not_written(to: &Path, error: &dyn std::fmt::Display) -> Trouble {
    let what = format!("{} cannot be written: {error}.", to.display());
    Trouble::new(exit::STORAGE, what, MEANS, "Make room or choose another place, then try again.")
}

/// What a backup or restore that failed means.
const MEANS: &str = "What was saved before is untouched.";

fn unreadable(from: &Path, error: &dyn std::fmt::Display) -> Trouble {
    let what = format!("{} cannot be read: {error}.", from.display());
    let next = "Use another backup.";
    Trouble::new(files::read_code(ErrorKind::InvalidData), what, MEANS, next)
}

/// Why a restore was given up.
fn not_restored(from: &Path, place: &DataFolder, fault: Fault) -> Trouble {
    match fault {
        Fault::Said(trouble) => trouble,
        Fault::Sql(error) if error.sqlite_error_code() == Some(ErrorCode::OperationInterrupted) => {
            unreadable(from, &"reading it does not come to an end")
        }
        Fault::Sql(error) if is_damage(&error) => unreadable(from, &error),
        Fault::Sql(error) => match error.sqlite_error_code() {
            Some(ErrorCode::NotADatabase | ErrorCode::CannotOpen) => unreadable(from, &error),
            _ => not_written(&place.register(), &error),
        },
    }
}
