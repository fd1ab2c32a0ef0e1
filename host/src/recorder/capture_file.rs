//! Writing the capture: created new, only ever appended to, synced on a thread of its own.
//!
//! What has been appended is the order of the world; what has been synced is what may be
//! acknowledged. After the first failure nothing more is appended and nothing more is
//! acknowledged: a sync that failed once may pretend to succeed the next time.

use crate::shell::clock::wall_for_names;
use crate::shell::exit::{self, Trouble};
use crate::shell::storage::{Disk, RealDisk, Storage};
use std::ffi::OsStr;
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;
use trundle_core::capture::{Record, encode};

/// Written and removed again before a job begins: about ten minutes of board and receiver.
const TRIAL_BYTES: usize = 8 << 20;

/// How often it is looked whether the capture still has its name: that it has not is to be said
/// within two seconds.
const LOOK_AT_NAME: Duration = Duration::from_millis(500);

/// A capture being written.
pub struct CaptureWriter {
    storage: Box<dyn Storage>,
    path: PathBuf,
    written: u64,
    buffer: Vec<u8>,
    failed: bool,
}

impl CaptureWriter {
    /// Create the file; one that exists already is never touched.
    ///
    /// # Errors
    /// [`Trouble`] of code 2 when the file exists, 4 without permission, 6 when it cannot be
    /// written.
    pub fn create(path: &Path) -> Result<Self, Trouble> {
        Self::create_on(&RealDisk, path)
    }

    /// The same on another disk. A capture whose name could be lost is not begun.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn create_on(disk: &dyn Disk, path: &Path) -> Result<Self, Trouble> {
        let file = disk.create_new(path).map_err(|error| create_trouble(path, &error))?;
        if let Err(error) = disk.sync_names(path) {
            // What could not be made safe is not left behind, if that much still goes.
            drop(file);
            let _ = disk.remove(path);
            return Err(create_trouble(path, &error));
        }
        Ok(Self::on(file, path))
    }

    /// Write to `storage`, which is called `path` in messages.
    #[must_use]
    pub fn on(storage: Box<dyn Storage>, path: &Path) -> Self {
        Self { storage, path: path.to_owned(), written: 0, buffer: Vec::new(), failed: false }
    }

    /// Append an entry; returns the length of the file with it.
    ///
    /// # Errors
    /// [`Trouble`] of code 6. After that every further call fails: a file with a hole in it would
    /// be worse than one that is cut.
    pub fn append(&mut self, record: &Record) -> Result<u64, Trouble> {
        if self.failed {
            return Err(storage_trouble(&self.path, "writing failed before"));
        }
        self.buffer.clear();
        encode(record, &mut self.buffer);
        if let Err(error) = self.storage.write_all(&self.buffer) {
            self.failed = true;
            return Err(storage_trouble(&self.path, &error.to_string()));
        }
        self.written += self.buffer.len() as u64;
        Ok(self.written)
    }

    /// Wait here until everything is on the disk, for work that is not live.
    ///
    /// # Errors
    /// [`Trouble`] of code 6.
    pub fn sync(&self) -> Result<(), Trouble> {
        self.storage.sync().map_err(|error| storage_trouble(&self.path, &error.to_string()))
    }

    /// The disk did not answer.
    pub(super) fn unconfirmed(&self, within: Duration) -> Trouble {
        let (path, within_s) = (self.path.display(), within.as_secs());
        Trouble::new(
            exit::STORAGE,
            format!("The disk did not confirm {path} within {within_s} s."),
            "The capture may or may not be whole; marks that were not confirmed may be missing.",
            "Wait, then recalculate with `trundle work CAPTURE` and compare its passes with your \
             notes.",
        )
    }

    /// Whether the capture is still where it was begun.
    pub(super) fn is_in_place(&self) -> bool {
        self.storage.is_at(&self.path)
    }

    /// Save a copy of a capture that has lost its name: under that name again, else beside it, in
    /// the present folder, or in that of the system for temporary files. Returns where.
    ///
    /// # Errors
    /// [`Trouble`] of code 6 when none of them takes it.
    pub(super) fn save_elsewhere(&self) -> Result<PathBuf, Trouble> {
        let name = self.path.file_name().unwrap_or_default();
        let again = [OsStr::new("saved-"), name].join(OsStr::new(""));
        let beside = self.path.parent().map(Path::to_path_buf).unwrap_or_default();
        let present = std::env::current_dir().unwrap_or_default();
        let mut words = String::new();
        for folder in [beside, present, std::env::temp_dir()] {
            for name in [name, &again] {
                let path = folder.join(name);
                match self.storage.save_as(&path) {
                    Ok(()) => return Ok(path),
                    Err(error) => words = error.to_string(),
                }
            }
        }
        Err(Trouble::new(
            exit::STORAGE,
            format!(
                "The capture {} was deleted, renamed, or its disk was replaced while it was \
                 recorded, and no copy could be saved ({words}).",
                self.path.display()
            ),
            "The result stands only in what was shown; it cannot be calculated again or signed.",
            "Look whether the capture was only renamed or is on the disk that was taken out.",
        ))
    }

    /// Start the thread that syncs; `report` is given the length that is on the disk, and `named`
    /// whether the capture is still where it was begun, whenever that changes.
    ///
    /// # Errors
    /// [`Trouble`] of code 6 when the file cannot be opened a second time.
    pub fn start_syncer(
        &self,
        mut report: impl FnMut(Result<u64, Trouble>) + Send + 'static,
        mut named: impl FnMut(bool) + Send + 'static,
    ) -> Result<Syncer, Trouble> {
        let path = self.path.clone();
        let place = path.clone();
        let failed = move |error: io::Error| storage_trouble(&path, &error.to_string());
        let storage = self.storage.second().map_err(&failed)?;
        let wish = Arc::new((Mutex::new(Wish::default()), Condvar::new()));
        let shared = Arc::clone(&wish);
        let sync = move || {
            let (mut done, mut in_place) = (0, true);
            while let Some(length) = next_wish(&shared, done) {
                let now = storage.is_at(&place);
                if now != std::mem::replace(&mut in_place, now) {
                    named(now);
                }
                if length <= done {
                    continue;
                }
                // Everything up to `length` was written before this call, so it is covered by it.
                let result = storage.sync().map(|()| length).map_err(&failed);
                let ended = result.is_err();
                done = length;
                report(result);
                if ended {
                    return;
                }
            }
        };
        let thread = std::thread::Builder::new().spawn(sync).map_err(|error| {
            let mut trouble = storage_trouble(&self.path, &error.to_string());
            trouble.next = "Close other programs and try again.".to_owned();
            trouble
        })?;
        Ok(Syncer { wish, thread: Some(thread) })
    }
}

/// Thread that waits for the disk so that nobody else has to.
pub struct Syncer {
    wish: Arc<(Mutex<Wish>, Condvar)>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Default)]
struct Wish {
    length: u64,
    stop: bool,
}

impl Syncer {
    /// Ask that the first `length` bytes be brought to the disk; does not wait.
    pub fn request(&self, length: u64) {
        let mut wish = self.wish.0.lock().unwrap_or_else(PoisonError::into_inner);
        wish.length = wish.length.max(length);
        self.wish.1.notify_one();
    }
}

impl Drop for Syncer {
    /// Wishes that stand are still done. A disk that never answers cannot hold up the program:
    /// the thread is then left behind.
    fn drop(&mut self) {
        self.wish.0.lock().unwrap_or_else(PoisonError::into_inner).stop = true;
        self.wish.1.notify_one();
        if let Some(thread) = self.thread.take() {
            crate::ports::serial::join_within(thread, Duration::from_secs(5));
        }
    }
}

/// Waits for a wish beyond `done`, or until the name is to be looked at; `None` when it is time to
/// stop.
fn next_wish(shared: &(Mutex<Wish>, Condvar), done: u64) -> Option<u64> {
    let wish = shared.0.lock().unwrap_or_else(PoisonError::into_inner);
    let waits = |wish: &mut Wish| wish.length <= done && !wish.stop;
    let waited = shared.1.wait_timeout_while(wish, LOOK_AT_NAME, waits);
    let wish = waited.unwrap_or_else(PoisonError::into_inner).0;
    (wish.length > done || !wish.stop).then_some(wish.length)
}

/// A name of its own for a new capture, in the present folder.
#[must_use]
pub fn new_name() -> PathBuf {
    PathBuf::from(format!("trundle-{}.capture", wall_for_names()))
}

/// Find out before a job whether the disk takes about ten minutes of it.
///
/// # Errors
/// [`Trouble`] of code 4 or 6.
pub fn try_room(capture: &Path) -> Result<(), Trouble> {
    try_room_on(&RealDisk, capture)
}

/// The same on another disk.
///
/// # Errors
/// As [`try_room`].
pub fn try_room_on(disk: &dyn Disk, capture: &Path) -> Result<(), Trouble> {
    let mut name = capture.as_os_str().to_owned();
    name.push(".trial");
    let trial = PathBuf::from(name);
    let mut file = disk.create_new(&trial).map_err(|error| create_trouble(&trial, &error))?;
    // Not zeros: some disks store those for nothing.
    let block: Vec<u8> =
        (0..1_u32 << 16).map(|n| (n.wrapping_mul(0x9E37_79B9) >> 24) as u8).collect();
    let blocks = TRIAL_BYTES / block.len();
    let written = (0..blocks).try_for_each(|_| file.write_all(&block)).and_then(|()| file.sync());
    drop(file);
    let removed = disk.remove(&trial);
    written.and(removed).map_err(|error| {
        let mut trouble = storage_trouble(capture, &error.to_string());
        trouble.means = "There is no room for a job, so none was begun.".to_owned();
        trouble
    })
}

fn create_trouble(path: &Path, error: &io::Error) -> Trouble {
    let path = path.display();
    let means = "Nothing was measured and nothing was overwritten.";
    let (code, what, next) = match error.kind() {
        ErrorKind::AlreadyExists => {
            let next = "Give the new capture another name; captures are never overwritten.";
            (exit::USAGE, format!("{path} exists already."), next)
        }
        ErrorKind::PermissionDenied => {
            let what = format!("{path} cannot be created: no permission.");
            (exit::BLOCKED, what, "Choose a folder that you may write to.")
        }
        _ => {
            let next = "Choose a folder that exists, on a disk that is not full.";
            (exit::STORAGE, format!("{path} cannot be created ({error})."), next)
        }
    };
    Trouble::new(code, what, means, next)
}

/// Writing failed.
fn storage_trouble(path: &Path, words: &str) -> Trouble {
    Trouble::new(
        exit::STORAGE,
        format!("{} could not be written ({words}).", path.display()),
        "What was confirmed before is safe; nothing after it is saved, no mark after it counts.",
        "Make room on the disk, or choose another one with --capture, and begin a new capture.",
    )
}
