//! The register: one SQLite file with rigs, what they name, and signed-off records.
//!
//! Every change is one transaction, written through to the disk (`synchronous=FULL`) before
//! anything is said about it. One program writes at a time and holds a lock while it does; any
//! number may read.

mod beside;
mod bin;
mod cell;
mod changes;
mod copy;
mod found;
mod records;
mod scan;
mod things;

pub(super) use beside::part_captures;
pub use bin::{Binned, Emptied};
pub(super) use cell::Cell;
pub use changes::Change;
pub(super) use copy::{known as known_backup, rows as take_rows};
pub use records::{FROM_BACKUP, Kept, Wanted, insert};
pub(super) use scan::{Table, is_damage};
pub use things::Named;

use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::store::place::DataFolder;
use changes::Batch;
use rusqlite::{Connection, ErrorCode, OpenFlags, Params, Row};
use std::fs::{File, TryLockError};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::Path;
use std::time::{Duration, Instant};

/// The schema, one step a version; a step is never edited once released.
const STEPS: [&str; 1] = [include_str!("schema.sql")];
/// Version of the register.
pub const VERSION: usize = STEPS.len();
/// How long a program waits for another one that writes.
const PATIENCE: Duration = Duration::from_secs(3);
/// Between two looks whether the other program is done.
const LOOK: Duration = Duration::from_millis(50);

/// The register, open on disk.
#[derive(Debug)]
pub struct Register {
    db: Connection,
    place: DataFolder,
    /// Held while writing; given back by the system when the file is closed, even by a kill.
    _lock: Option<File>,
}

impl Register {
    /// Open for looking things up. Where there is no register yet, an empty one is shown and
    /// nothing is written.
    ///
    /// # Errors
    /// Exit code 5 for a damaged or later register, 4 without permission.
    pub fn read(place: &DataFolder) -> Result<Self, Trouble> {
        let path = place.register();
        let open = |db| Self { db, place: place.clone(), _lock: None };
        let look = || -> Tried<Option<Self>> {
            if !path.exists() {
                let db = Connection::open_in_memory()?;
                migrate(&db)?;
                return Ok(Some(open(db)));
            }
            let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
            let db = Connection::open_with_flags(&path, flags)?;
            db.busy_timeout(PATIENCE)?;
            db.pragma_update(None, "query_only", true)?;
            distrust(&db)?;
            let found = version(&db)?;
            known(place, found)?;
            Ok((found == VERSION).then(|| open(db)))
        };
        // Its first writer was killed before it wrote: nothing is lost, nothing is there.
        look().map_err(|fault| fault.trouble(place))?.map_or_else(|| Self::write(place), Ok)
    }

    /// The folder that it is of: each thread reads by a connection of its own.
    #[must_use]
    pub fn place(&self) -> &DataFolder {
        &self.place
    }

    /// Open for changes; makes the folder and the register when there is none.
    ///
    /// # Errors
    /// Exit code 4 while another program writes or without permission, 5 for a damaged or later
    /// register, 6 when it cannot be written.
    pub fn write(place: &DataFolder) -> Result<Self, Trouble> {
        place.make()?;
        let lock = lock(place)?;
        let path = place.register();
        let open = || -> Tried<Connection> {
            let db = Connection::open(&path)?;
            db.busy_timeout(PATIENCE)?;
            // With FULL, a truncated journal is synced before the commit is reported as done; a
            // deleted one could come back after a power cut and take the last change with it.
            db.pragma_update(None, "journal_mode", "TRUNCATE")?;
            db.pragma_update(None, "synchronous", "FULL")?;
            db.pragma_update(None, "foreign_keys", true)?;
            db.pragma_update(None, "trusted_schema", false)?;
            private(&path);
            known(place, version(&db)?)?;
            migrate(&db)?;
            Ok(db)
        };
        let db = open().map_err(|fault| fault.trouble(place))?;
        Ok(Self { db, place: place.clone(), _lock: Some(lock) })
    }

    /// SQLite's own check of the whole file: its complaints, none when it is sound.
    ///
    /// # Errors
    /// What has nothing to do with damage: another program, permissions.
    pub fn complaints(&self) -> Result<Vec<String>, Trouble> {
        let said = self.all("PRAGMA integrity_check(20)", (), |row| cell::readable(row, 0));
        match said {
            Err(error) if is_damage(&error) => Ok(vec![error.to_string()]),
            Err(error) => Err(trouble(&self.place, &error)),
            Ok(said) => Ok(said.into_iter().filter(|line| line != "ok").collect()),
        }
    }

    /// Take everything over into an empty file; gives what is damaged, in words.
    pub(super) fn copy_into(&self, to: &Connection) -> Tried<Vec<String>> {
        copy::rows(&self.db, to, &self.place.register())
    }

    /// A register of this place that has not taken its name yet.
    pub(super) fn beside(db: Connection, place: &DataFolder) -> Self {
        Self { db, place: place.clone(), _lock: None }
    }

    /// Close it, so that it can take its name.
    pub(super) fn close(self) -> rusqlite::Result<()> {
        self.db.close().map_err(|(_, error)| error)
    }

    /// Every row that `sql` finds, as `read` reads it.
    fn all<T>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> rusqlite::Result<Vec<T>> {
        self.db.prepare(sql)?.query_map(values, read)?.collect()
    }

    /// Do what reads or writes, and say in words for people why it could not be done.
    fn ask<T>(&self, work: impl FnOnce() -> Tried<T>) -> Result<T, Trouble> {
        work().map_err(|fault| fault.trouble(&self.place))
    }

    /// Run `work` as one transaction: all of it, or nothing; `dry` runs it and undoes all of it.
    fn at_once<T>(&self, dry: bool, work: impl FnOnce(&Batch) -> Tried<T>) -> Result<T, Trouble> {
        self.ask(|| {
            let begun = self.db.unchecked_transaction()?;
            let done = work(&Batch::next(&begun)?)?;
            if dry { begun.rollback() } else { begun.commit() }?;
            Ok(done)
        })
    }
}

/// Why something could not be done.
#[derive(Debug, thiserror::Error)]
pub(super) enum Fault {
    #[error(transparent)]
    Sql(#[from] rusqlite::Error),
    #[error(transparent)]
    Said(#[from] Trouble),
}

pub(super) type Tried<T> = Result<T, Fault>;

impl Fault {
    pub(super) fn trouble(self, place: &DataFolder) -> Trouble {
        match self {
            Self::Sql(error) => trouble(place, &error),
            Self::Said(trouble) => trouble,
        }
    }
}

fn version(db: &Connection) -> rusqlite::Result<usize> {
    let version = db.pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0))?;
    Ok(usize::try_from(version).unwrap_or(usize::MAX))
}

/// Run nothing that the file's schema holds, and read on where the file was cut off or an entry of
/// its schema is damaged. Only for connections that cannot write: the second is what SQLite gives
/// those that may write the schema.
pub(super) fn distrust(db: &Connection) -> rusqlite::Result<()> {
    db.pragma_update(None, "trusted_schema", false)?;
    db.pragma_update(None, "writable_schema", true)
}

fn known(place: &DataFolder, found: usize) -> Result<(), Trouble> {
    if found <= VERSION {
        return Ok(());
    }
    Err(Trouble::new(
        exit::INPUT,
        format!("{} was written by a later version of this program.", place.register().display()),
        "It was not touched, and nothing of it can be shown.",
        "Use the later version, or another folder with --data.",
    ))
}

fn migrate(db: &Connection) -> rusqlite::Result<()> {
    migrate_to(db, VERSION)
}

fn migrate_to(db: &Connection, wanted: usize) -> rusqlite::Result<()> {
    for (at, step) in STEPS.iter().enumerate().take(wanted).skip(version(db)?) {
        // The version stands in the file's head and is part of the transaction.
        db.execute_batch(&format!(
            "BEGIN IMMEDIATE;\n{step}\nPRAGMA user_version = {};\nCOMMIT;",
            at + 1
        ))?;
    }
    Ok(())
}

/// Take the writer's lock, or say who has it.
pub(super) fn lock(place: &DataFolder) -> Result<File, Trouble> {
    let path = place.lock();
    let failed = |e: &std::io::Error| {
        let what = format!("{} cannot be written: {e}.", path.display());
        Trouble::new(
            exit::STORAGE,
            what,
            "Nothing was changed.",
            "Check the folder, or name another with --data.",
        )
    };
    let mut file = files::open_own(&path).map_err(|e| failed(&e))?;
    let began = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => break,
            Err(TryLockError::WouldBlock) if began.elapsed() < PATIENCE => {
                std::thread::sleep(LOOK);
            }
            Err(TryLockError::WouldBlock) => {
                let mut holder = String::new();
                // Only for the message; what cannot be read is left out of it.
                let _ = (&file).take(20).read_to_string(&mut holder);
                let holder = crate::shell::out::scrub(holder.trim(), 20);
                let who =
                    if holder.is_empty() { String::new() } else { format!(" (process {holder})") };
                return Err(Trouble::new(
                    exit::BLOCKED,
                    format!("Another program{who} is changing the register."),
                    "Nothing was changed here, and nothing is lost there.",
                    "End it there, then give this command again.",
                ));
            }
            Err(TryLockError::Error(e)) => return Err(failed(&e)),
        }
    }
    let mut note = || -> std::io::Result<()> {
        file.set_len(0)?;
        file.rewind()?;
        write!(file, "{}", std::process::id())
    };
    note().map_err(|e| failed(&e))?;
    private(&path);
    Ok(file)
}

/// Readable by its owner alone, where the system knows such a thing.
pub(super) fn private(path: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // A file system without permissions has none to set.
        let _ = std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600));
    }
    #[cfg(not(unix))]
    let _ = path;
}

/// What SQLite says, in words for people.
fn trouble(place: &DataFolder, error: &rusqlite::Error) -> Trouble {
    let path = place.register();
    let path = path.display();
    match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Trouble::new(
            exit::BLOCKED,
            "Another program is using the register.",
            "Nothing was changed here, and nothing is lost there.",
            "End it there, then give this command again.",
        ),
        Some(ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => Trouble::new(
            exit::BLOCKED,
            format!("{path} cannot be opened: {error}."),
            "Rigs and records cannot be read.",
            "Check the permissions of the folder, or name another with --data.",
        ),
        Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure | ErrorCode::ReadOnly) => {
            Trouble::new(
                exit::STORAGE,
                format!("{path} cannot be written: {error}."),
                "Nothing was changed: what was saved before is still there.",
                "Make room or check the disk, then give this command again.",
            )
        }
        Some(ErrorCode::ConstraintViolation) => Trouble::new(
            exit::USAGE,
            format!("The register does not allow that: {error}."),
            "Nothing was changed.",
            "See what stands in the way with `trundle rig list` and `trundle bin`.",
        ),
        // Also a table or column that is not there, and a value of another kind.
        _ => Trouble::new(
            exit::INPUT,
            format!("{path} is damaged: {error}."),
            "What was asked for cannot be read from it; other rigs and records still may. The \
             captures beside it are files of their own and can be recalculated with \
             `trundle work`.",
            "Keep the damaged file, see what is damaged with `trundle record verify --all`, and \
             restore the last backup with `trundle restore`.",
        ),
    }
}
