//! Writing the capture: created new, only ever appended to, synced on a thread of its own.
//!
//! What has been appended is the order of the world; what has been synced is what may be
//! acknowledged. After the first failure nothing more is appended and nothing more is
//! acknowledged: a sync that failed once may pretend to succeed the next time.

use super::clock::wall_for_names;
use super::exit::{self, Trouble};
use crate::capture::{Record, encode};
use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;

/// Written and removed again before a job begins: about ten minutes of board and receiver.
const TRIAL_BYTES: usize = 8 << 20;

/// Where records go. A file; in tests, a file that fails.
pub trait Storage: Write + Send {
    /// Wait until everything written is on the disk.
    ///
    /// # Errors
    /// The system's.
    fn sync(&self) -> io::Result<()>;

    /// A second handle on the same file, for the thread that syncs.
    ///
    /// # Errors
    /// The system's.
    fn second(&self) -> io::Result<Box<dyn Storage>>;
}

impl Storage for File {
    fn sync(&self) -> io::Result<()> {
        self.sync_data()
    }

    fn second(&self) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(self.try_clone()?))
    }
}

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
        let file = OpenOptions::new().write(true).create_new(true).open(path);
        let file = file.map_err(|error| create_trouble(path, &error))?;
        sync_folder(path);
        Ok(Self::on(Box::new(file), path))
    }

    /// Write to `storage`, which is called `path` in messages.
    #[must_use]
    pub fn on(storage: Box<dyn Storage>, path: &Path) -> Self {
        Self { storage, path: path.to_owned(), written: 0, buffer: Vec::new(), failed: false }
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Append a record; tells the length of the file with it.
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

    /// Start the thread that syncs; `report` is told the length that is on the disk.
    ///
    /// # Errors
    /// [`Trouble`] of code 6 when the file cannot be opened a second time.
    pub fn start_syncer(
        &self,
        report: impl FnMut(Result<u64, Trouble>) + Send + 'static,
    ) -> Result<Syncer, Trouble> {
        let storage = self.storage.second();
        let storage = storage.map_err(|e| storage_trouble(&self.path, &e.to_string()))?;
        Ok(Syncer::start(storage, self.path.clone(), report))
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
    fn start(
        storage: Box<dyn Storage>,
        path: PathBuf,
        mut report: impl FnMut(Result<u64, Trouble>) + Send + 'static,
    ) -> Self {
        let wish = Arc::new((Mutex::new(Wish::default()), Condvar::new()));
        let shared = Arc::clone(&wish);
        let thread = std::thread::spawn(move || {
            let mut done = 0;
            while let Some(length) = next_wish(&shared, done) {
                // Everything up to `length` was written before this call, so it is covered by it.
                let result = storage.sync();
                let failed = result.is_err();
                done = length;
                report(result.map(|()| length).map_err(|e| storage_trouble(&path, &e.to_string())));
                if failed {
                    return;
                }
            }
        });
        Self { wish, thread: Some(thread) }
    }

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
            super::serial::join_within(thread, std::time::Duration::from_secs(5));
        }
    }
}

/// Waits for a wish beyond `done`; `None` when it is time to stop.
fn next_wish(shared: &(Mutex<Wish>, Condvar), done: u64) -> Option<u64> {
    let mut wish = shared.0.lock().unwrap_or_else(PoisonError::into_inner);
    loop {
        if wish.length > done {
            return Some(wish.length);
        }
        if wish.stop {
            return None;
        }
        wish = shared.1.wait(wish).unwrap_or_else(PoisonError::into_inner);
    }
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
    let mut name = capture.as_os_str().to_owned();
    name.push(".trial");
    let trial = PathBuf::from(name);
    let file = OpenOptions::new().write(true).create_new(true).open(&trial);
    let mut file = file.map_err(|error| create_trouble(&trial, &error))?;
    // Not zeros: some disks store those for nothing.
    let block: Vec<u8> =
        (0..1_u32 << 16).map(|n| (n.wrapping_mul(0x9E37_79B9) >> 24) as u8).collect();
    let blocks = TRIAL_BYTES / block.len();
    let written =
        (0..blocks).try_for_each(|_| file.write_all(&block)).and_then(|()| file.sync_data());
    drop(file);
    let removed = std::fs::remove_file(&trial);
    written.and(removed).map_err(|error| {
        let mut trouble = storage_trouble(capture, &error.to_string());
        trouble.means = "There is no room for a job, so none was begun.".to_owned();
        trouble
    })
}

/// A new name is on the disk only once its folder is. Not every system lets a folder be synced;
/// there the name is safe with the first sync of the file.
fn sync_folder(path: &Path) {
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = File::open(folder.unwrap_or(Path::new(".")));
        let _ = folder.and_then(|folder| folder.sync_all());
    }
}

fn create_trouble(path: &Path, error: &io::Error) -> Trouble {
    let path = path.display();
    let means = "Nothing was measured and nothing was overwritten.";
    match error.kind() {
        ErrorKind::AlreadyExists => Trouble::new(
            exit::USAGE,
            format!("{path} exists already."),
            means,
            "Give the new capture another name; captures are never overwritten.",
        ),
        ErrorKind::PermissionDenied => Trouble::new(
            exit::BLOCKED,
            format!("{path} cannot be created: no permission."),
            means,
            "Choose a folder that you may write to.",
        ),
        _ => Trouble::new(
            exit::STORAGE,
            format!("{path} cannot be created ({error})."),
            means,
            "Choose a folder that exists, on a disk that is not full.",
        ),
    }
}

/// Writing failed.
fn storage_trouble(path: &Path, words: &str) -> Trouble {
    Trouble::new(
        exit::STORAGE,
        format!("{} could not be written ({words}).", path.display()),
        "What was confirmed before is safe; nothing after it is kept, and no mark after it counts.",
        "Make room on the disk, or choose another one with --capture, and begin a new capture.",
    )
}
