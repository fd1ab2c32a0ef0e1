//! Files that are named by a person, a setting or a record: only ordinary ones are opened, what is
//! read whole has a limit, and what is written is whole or not there.

use super::exit::{self, Trouble};
use super::storage::{Disk, RealDisk};
use super::tongue;
use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read as _, Write as _};
use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::time::Duration;
use trundle_core::units::hex;

/// Longest text file read, bytes.
const TEXT_MAX: u64 = 64 * 1024;
/// Bytes of chance in the name of a file that is being written: nobody can foresee it.
const CHANCE: usize = 16;
/// Beginning and end of such a name, by which what a killed program left is known.
const OURS: (&str, &str) = (".trundle-", ".new");
/// No file takes as long to write: what is older was left by a program that was killed.
const LEFT_BEHIND: Duration = Duration::from_secs(24 * 3600);

/// The last part of a path, for showing.
#[must_use]
pub fn name(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// Exit code for a file that could not be opened or read.
#[must_use]
pub fn read_code(kind: ErrorKind) -> u8 {
    if kind == ErrorKind::PermissionDenied { exit::BLOCKED } else { exit::INPUT }
}

/// Open an ordinary file for reading. Of anything else it is said what it is: a pipe would be
/// waited for, a device may be set going by being opened, and either may never end.
///
/// # Errors
/// The system's; [`ErrorKind::InvalidInput`] with its words for what is no ordinary file.
pub fn open(path: &Path) -> io::Result<File> {
    // Looked at before, so that no device is opened, and again when nobody can change it any more.
    ordinary(&std::fs::metadata(path)?)?;
    let file = no_waiting(File::options().read(true), false).open(path)?;
    ordinary(&file.metadata()?)?;
    Ok(file)
}

/// Open or make a file that stays and is written to in place, such as a lock. It is no link, and
/// has no second name: either could lead to a file of somebody else's.
///
/// # Errors
/// As [`fn@open`].
pub fn open_own(path: &Path) -> io::Result<File> {
    let other = |what| Err(io::Error::new(ErrorKind::InvalidInput, what));
    match path.symlink_metadata() {
        Ok(found) if found.is_symlink() => return other("it is a link to another file"),
        Ok(found) => ordinary(&found)?,
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(error) => return Err(error),
    }
    let mut options = File::options();
    options.read(true).write(true).create(true).truncate(false);
    let file = no_waiting(&mut options, true).open(path)?;
    let found = file.metadata()?;
    ordinary(&found)?;
    #[cfg(unix)]
    if std::os::unix::fs::MetadataExt::nlink(&found) > 1 {
        return other("it is another file too, under a second name");
    }
    Ok(file)
}

/// Opening never waits for another program, and where asked never goes through a link.
fn no_waiting(options: &mut OpenOptions, no_link: bool) -> &mut OpenOptions {
    #[cfg(unix)]
    {
        use rustix::fs::OFlags;
        use std::os::unix::fs::OpenOptionsExt as _;
        let mut flags = OFlags::NONBLOCK | OFlags::NOCTTY;
        flags.set(OFlags::NOFOLLOW, no_link);
        options.custom_flags(flags.bits().cast_signed());
    }
    #[cfg(not(unix))]
    let _ = no_link;
    options
}

fn ordinary(found: &Metadata) -> io::Result<()> {
    let kind = found.file_type();
    if kind.is_file() {
        return Ok(());
    }
    let mut what = if kind.is_dir() { "it is a folder" } else { "it is a device" };
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt as _;
        if kind.is_fifo() || kind.is_socket() {
            what = "it is a pipe between programs";
        }
    }
    if kind.is_symlink() {
        what = "it is a link to another file";
    }
    Err(io::Error::new(ErrorKind::InvalidInput, format!("{what}, not an ordinary file")))
}

/// Read an ordinary file whole; `None` when it is longer than `most` bytes.
///
/// # Errors
/// As [`fn@open`].
pub fn read(path: &Path, most: u64) -> io::Result<Option<Vec<u8>>> {
    let mut bytes = Vec::new();
    open(path)?.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    Ok((bytes.len() as u64 <= most).then_some(bytes))
}

/// Read a text file of ordinary size.
///
/// # Errors
/// Exit code 4 without permission, else 5.
pub fn read_text(path: &Path) -> Result<String, Trouble> {
    let trouble = |code: u8, what: String| {
        Trouble::new(code, what, "It was not used.", "Check the name and the file.")
    };
    let failed = |e: io::Error| {
        trouble(read_code(e.kind()), format!("{} cannot be read: {e}.", path.display()))
    };
    let Some(text) = read(path, TEXT_MAX).map_err(failed)? else {
        let what = format!("{} is longer than 64 KiB.", path.display());
        return Err(trouble(exit::INPUT, what));
    };
    String::from_utf8(text)
        .map_err(|_| trouble(exit::INPUT, format!("{} is not text.", path.display())))
}

/// A new file in the folder of the one it will be, under a name of chance. Where it was not given
/// its name with [`take_name`], it is taken away again.
#[derive(Debug)]
pub struct Beside(PathBuf);

impl Deref for Beside {
    type Target = Path;

    fn deref(&self) -> &Path {
        &self.0
    }
}

impl AsRef<Path> for Beside {
    fn as_ref(&self) -> &Path {
        &self.0
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        // Mostly it has its name by now, and nothing is there.
        let _ = std::fs::remove_file(&self.0);
    }
}

/// Make the empty file in which `to` is written, readable by its owner alone. What a killed
/// program left in that folder long ago is cleared away.
///
/// # Errors
/// The system's.
pub fn beside(to: &Path) -> io::Result<Beside> {
    clear_left_behind(to);
    let path = name_beside(to)?;
    let mut options = File::options();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(&path)?;
    Ok(Beside(path))
}

/// Let nobody but its owner read a file.
///
/// # Errors
/// The system's.
pub fn only_owner(path: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))?;
    }
    #[cfg(not(unix))]
    let _ = path;
    Ok(())
}

/// Give `to` the permissions and the time of change of another file.
///
/// # Errors
/// The system's.
pub fn as_of(found: &Metadata, to: &Path) -> io::Result<()> {
    let file = no_waiting(File::options().write(true), true).open(to)?;
    file.set_modified(found.modified()?)?;
    file.set_permissions(found.permissions())
}

/// A name of chance in the folder of the file it will be.
///
/// # Errors
/// The system's.
pub fn name_beside(to: &Path) -> io::Result<PathBuf> {
    let mut bits = [0; CHANCE];
    getrandom::fill(&mut bits).map_err(|error| io::Error::other(error.to_string()))?;
    Ok(to.with_file_name(format!("{}{}{}", OURS.0, hex(&bits), OURS.1)))
}

/// Whether a file of this name is one that was being written.
fn is_ours(name: &str) -> bool {
    let chance = name.strip_prefix(OURS.0).and_then(|name| name.strip_suffix(OURS.1));
    chance.is_some_and(|chance| {
        chance.len() == 2 * CHANCE && chance.bytes().all(|b| b.is_ascii_hexdigit())
    })
}

/// Clear away what a killed program left long ago in the folder of `to`. Nothing depends on it:
/// what cannot be looked at or removed stays.
pub fn clear_left_behind(to: &Path) {
    let folder = to.parent().filter(|folder| !folder.as_os_str().is_empty());
    let found = std::fs::read_dir(folder.unwrap_or(Path::new("."))).into_iter().flatten().flatten();
    for one in found.filter(|one| one.file_name().to_str().is_some_and(is_ours)) {
        let old = |found: Metadata| {
            let age = found.modified().ok()?.elapsed().ok()?;
            (found.is_file() && age > LEFT_BEHIND).then_some(())
        };
        if one.metadata().ok().and_then(old).is_some() {
            let _ = std::fs::remove_file(one.path());
        }
    }
}

/// Give a whole file that was written beside its place the name `to`: bytes and name are on the
/// disk when this returns.
///
/// # Errors
/// The system's.
pub fn take_name(beside: &Path, to: &Path) -> io::Result<()> {
    // Windows syncs only what may be written.
    no_waiting(File::options().write(true), true).open(beside)?.sync_all()?;
    RealDisk.rename(beside, to)?;
    RealDisk.sync_names(to)
}

/// Write a file whole: beside its place first, synced, then moved there, so that there is never
/// half a file under the name; the new name is synced too before this is done. A link under the
/// name is replaced, what it leads to stays.
///
/// # Errors
/// Exit code 6, also where the name is that of a pipe or device.
pub fn replace(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    if let Ok(found) = std::fs::metadata(path) {
        ordinary(&found).map_err(|error| not_written(path, &error))?;
    }
    clear_left_behind(path);
    replace_on(&RealDisk, path, bytes)
}

/// The same for a text; its last line is ended if it is not.
///
/// # Errors
/// As [`replace`].
pub fn replace_text(path: &Path, text: &str) -> Result<(), Trouble> {
    let end = if text.ends_with('\n') { "" } else { "\n" };
    replace(path, [text, end].concat().as_bytes())
}

/// The same for a page for people, in the language in force.
///
/// # Errors
/// As [`replace`].
pub fn replace_page(path: &Path, page: &str) -> Result<(), Trouble> {
    replace_text(path, &tongue::in_force().markup(page))
}

/// The same on another disk.
///
/// # Errors
/// As [`replace`].
pub fn replace_on(disk: &dyn Disk, path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let write = || -> io::Result<()> {
        let beside = name_beside(path)?;
        let mut file = disk.create_new(&beside)?;
        let written = file.write_all(bytes).and_then(|()| file.sync());
        drop(file);
        if let Err(error) = written.and_then(|()| disk.rename(&beside, path)) {
            // Of no use in part; the old one is untouched.
            let _ = disk.remove(&beside);
            return Err(error);
        }
        disk.sync_names(path)
    };
    write().map_err(|error| not_written(path, &error))
}

fn not_written(path: &Path, error: &io::Error) -> Trouble {
    let what = format!("{} cannot be written: {error}.", path.display());
    let means = "The measurement itself is safe in its capture.";
    let next = "Choose another place or make room, then run `trundle work` on the capture.";
    Trouble::new(exit::STORAGE, what, means, next)
}
