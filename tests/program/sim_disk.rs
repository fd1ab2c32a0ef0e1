//! A disk that is not there: it keeps a log of everything asked of it, so that a power cut can be
//! tried at every point of it, and it fails when told to.
//!
//! The model is the least that any file system promises: bytes are safe once their file has been
//! synced after they were written, names once their folder has been. Everything else may be
//! there, or not, or in part, in any order.

use std::collections::BTreeMap;
use std::io::{self, Cursor, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use trundle::shell::storage::{Disk, Storage};
use trundle_tests::Draws;

/// Bytes that a disk writes in one piece.
const SECTOR: usize = 512;

/// A disk takes its time: what is acknowledged without it is then seen to come too early.
const SYNC_TAKES: Duration = Duration::from_millis(1);

/// What a power cut does to that which was not synced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// Nothing: the program alone died, and the system brought everything to the disk.
    Kept,
    /// It is gone.
    Lost,
    /// It is there up to some byte; names up to some change.
    Torn,
    /// Sectors came to the disk in any order, some never: those are zeros. Names likewise.
    Reordered,
    /// The files have their new lengths, filled with what lay there before.
    Stale,
}

impl Cut {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Kept, Self::Lost, Self::Torn, Self::Reordered, Self::Stale];
}

/// A failure to come.
#[derive(Clone, Copy, Debug)]
pub struct Failure {
    /// Which operation fails, counted from 0.
    pub at: usize,
    /// How.
    pub kind: ErrorKind,
    /// All later ones fail too.
    pub lasting: bool,
}

/// What was asked of the disk.
#[derive(Clone, Debug)]
enum Asked {
    Create(PathBuf, usize),
    Write(usize, Vec<u8>),
    Sync(usize),
    Rename(PathBuf, PathBuf),
    Remove(PathBuf),
    SyncNames,
}

/// Files by name, as they are after a cut.
pub type Files = BTreeMap<PathBuf, Vec<u8>>;

#[derive(Default)]
struct State {
    /// What was there before, and is safe.
    before: Files,
    log: Vec<Asked>,
    names: BTreeMap<PathBuf, usize>,
    files: usize,
    asked: usize,
    failure: Option<Failure>,
    failed: usize,
}

impl State {
    /// One more operation; fails when that is due.
    fn ask(&mut self) -> io::Result<()> {
        let number = self.asked;
        self.asked += 1;
        match self.failure {
            Some(f) if number == f.at || number > f.at && f.lasting => {
                self.failed += 1;
                Err(f.kind.into())
            }
            _ => Ok(()),
        }
    }

    fn name(&mut self, path: &Path) -> usize {
        let file = self.files;
        self.files += 1;
        self.names.insert(path.to_owned(), file);
        self.log.push(Asked::Create(path.to_owned(), file));
        file
    }
}

/// The disk; clones are the same disk.
#[derive(Clone, Default)]
pub struct SimDisk(Arc<Mutex<State>>);

struct SimFile {
    disk: SimDisk,
    file: usize,
}

impl SimDisk {
    /// A disk that holds these files, safely.
    #[must_use]
    pub fn holding(files: &Files) -> Self {
        let disk = Self::default();
        let mut state = disk.lock();
        state.before = files.clone();
        for path in files.keys() {
            let file = state.files;
            state.files += 1;
            state.names.insert(path.clone(), file);
        }
        drop(state);
        disk
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Let it fail.
    pub fn fail(&self, failure: Failure) {
        self.lock().failure = Some(failure);
    }

    /// How many operations have failed.
    #[must_use]
    pub fn failed(&self) -> usize {
        self.lock().failed
    }

    /// How many operations were asked, those that failed included.
    #[must_use]
    pub fn asked(&self) -> usize {
        self.lock().asked
    }

    /// How many operations were done so far: a cut can come after each.
    #[must_use]
    pub fn done(&self) -> usize {
        self.lock().log.len()
    }

    /// How many syncs of files were done so far.
    #[must_use]
    pub fn syncs(&self) -> usize {
        self.lock().log.iter().filter(|asked| matches!(asked, Asked::Sync(_))).count()
    }

    /// The files as they are found when power fails after the first `done` operations.
    #[must_use]
    pub fn cut(&self, done: usize, cut: Cut, seed: u64) -> Files {
        let state = self.lock();
        let mut draws = Draws::new(seed ^ (done as u64) << 8 ^ cut as u64);
        let log = &state.log[..done];
        let old = |file: usize| state.before.values().nth(file).cloned().unwrap_or_default();
        let mut contents: BTreeMap<usize, (Vec<u8>, usize)> =
            (0..state.before.len()).map(|file| (file, (old(file), old(file).len()))).collect();
        for asked in log {
            match asked {
                Asked::Write(file, bytes) => {
                    contents.entry(*file).or_default().0.extend_from_slice(bytes);
                }
                Asked::Sync(file) => {
                    let content = contents.entry(*file).or_default();
                    content.1 = content.0.len();
                }
                _ => {}
            }
        }
        for (bytes, safe) in contents.values_mut() {
            spoil(bytes, *safe, cut, &mut draws);
        }
        let mut names: BTreeMap<&Path, usize> =
            state.before.keys().map(PathBuf::as_path).zip(0..).collect();
        for asked in surviving_names(log, cut, &mut draws) {
            match asked {
                Asked::Create(path, file) => {
                    names.insert(path, *file);
                }
                Asked::Rename(from, to) => {
                    if let Some(file) = names.remove(from.as_path()) {
                        names.insert(to, file);
                    }
                }
                Asked::Remove(path) => {
                    names.remove(path.as_path());
                }
                _ => {}
            }
        }
        let content = |file: &usize| contents.get(file).map(|c| c.0.clone()).unwrap_or_default();
        names.iter().map(|(path, file)| ((*path).to_owned(), content(file))).collect()
    }
}

/// Changes of names that a cut leaves.
fn surviving_names<'a>(log: &'a [Asked], cut: Cut, draws: &mut Draws) -> Vec<&'a Asked> {
    let of_names =
        |a: &&Asked| matches!(a, Asked::Create(..) | Asked::Rename(..) | Asked::Remove(_));
    let synced = log.iter().rposition(|a| matches!(a, Asked::SyncNames)).map_or(0, |at| at + 1);
    let mut kept: Vec<&Asked> = log[..synced].iter().filter(of_names).collect();
    let pending: Vec<&Asked> = log[synced..].iter().filter(of_names).collect();
    match cut {
        Cut::Kept => kept.extend(pending),
        Cut::Lost => {}
        Cut::Torn => kept.extend(&pending[..draws.below(pending.len() + 1)]),
        Cut::Reordered | Cut::Stale => {
            kept.extend(pending.into_iter().filter(|_| draws.below(2) == 0));
        }
    }
    kept
}

/// What a cut makes of the bytes past `safe`.
fn spoil(bytes: &mut Vec<u8>, safe: usize, cut: Cut, draws: &mut Draws) {
    let pending = bytes.len() - safe;
    match cut {
        Cut::Kept => {}
        Cut::Lost => bytes.truncate(safe),
        Cut::Torn => bytes.truncate(safe + draws.below(pending + 1)),
        Cut::Reordered => {
            let mut at = safe;
            let mut last = safe;
            while at < bytes.len() {
                let end = (at / SECTOR + 1).saturating_mul(SECTOR).min(bytes.len());
                if draws.below(2) == 0 {
                    bytes[at..end].fill(0);
                } else {
                    last = end;
                }
                at = end;
            }
            if draws.below(2) == 0 {
                bytes.truncate(last);
            }
        }
        Cut::Stale => {
            // A piece of an older capture may lie there: sync words and all.
            let older = bytes.clone();
            let shift = draws.below(older.len().max(1));
            let stale = draws.below(2) == 0;
            for (n, byte) in bytes[safe..].iter_mut().enumerate() {
                *byte = if stale { older[(n + shift) % older.len()] ^ 0x10 } else { 0 };
            }
        }
    }
}

impl Disk for SimDisk {
    fn create_new(&self, path: &Path) -> io::Result<Box<dyn Storage>> {
        let mut state = self.lock();
        state.ask()?;
        if state.names.contains_key(path) {
            return Err(ErrorKind::AlreadyExists.into());
        }
        let file = state.name(path);
        Ok(Box::new(SimFile { disk: self.clone(), file }))
    }

    fn open(&self, path: &Path) -> io::Result<Box<dyn Read>> {
        let mut state = self.lock();
        state.ask()?;
        let file = *state.names.get(path).ok_or(ErrorKind::NotFound)?;
        let mut bytes = state.before.values().nth(file).cloned().unwrap_or_default();
        for asked in &state.log {
            if let Asked::Write(to, more) = asked
                && *to == file
            {
                bytes.extend_from_slice(more);
            }
        }
        Ok(Box::new(Cursor::new(bytes)))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut state = self.lock();
        state.ask()?;
        let file = state.names.remove(from).ok_or(ErrorKind::NotFound)?;
        state.names.insert(to.to_owned(), file);
        state.log.push(Asked::Rename(from.to_owned(), to.to_owned()));
        Ok(())
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        let mut state = self.lock();
        state.ask()?;
        state.names.remove(path).ok_or(ErrorKind::NotFound)?;
        state.log.push(Asked::Remove(path.to_owned()));
        Ok(())
    }

    fn sync_names(&self, _: &Path) -> io::Result<()> {
        let mut state = self.lock();
        state.ask()?;
        state.log.push(Asked::SyncNames);
        Ok(())
    }
}

impl Write for SimFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.disk.lock();
        if let Err(error) = state.ask() {
            // A disk that fills up takes what still fits.
            let half = bytes[..bytes.len() / 2].to_vec();
            state.log.push(Asked::Write(self.file, half));
            return Err(error);
        }
        state.log.push(Asked::Write(self.file, bytes.to_vec()));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Storage for SimFile {
    fn sync(&self) -> io::Result<()> {
        std::thread::sleep(SYNC_TAKES);
        let mut state = self.disk.lock();
        state.ask()?;
        state.log.push(Asked::Sync(self.file));
        Ok(())
    }

    fn second(&self) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(Self { disk: self.disk.clone(), file: self.file }))
    }
}
