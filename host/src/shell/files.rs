//! Small files: read whole, written whole.

use super::exit::{self, Trouble};
use super::storage::{Disk, RealDisk};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{ErrorKind, Read as _, Write as _};
use std::path::{Path, PathBuf};
use trundle_core::units::hex;

/// Longest text file read, bytes.
const TEXT_MAX: u64 = 64 * 1024;

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

/// Read a text file of ordinary size.
///
/// # Errors
/// Exit code 4 without permission, else 5.
pub fn read_text(path: &Path) -> Result<String, Trouble> {
    let trouble = |code: u8, what: String| {
        Trouble::new(code, what, "It was not used.", "Check the name and the file.")
    };
    let failed = |e: std::io::Error| {
        trouble(read_code(e.kind()), format!("{} cannot be read: {e}.", path.display()))
    };
    let mut text = Vec::new();
    File::open(path).map_err(failed)?.take(TEXT_MAX + 1).read_to_end(&mut text).map_err(failed)?;
    if text.len() as u64 > TEXT_MAX {
        let what = format!("{} is longer than 64 KiB.", path.display());
        return Err(trouble(exit::INPUT, what));
    }
    String::from_utf8(text)
        .map_err(|_| trouble(exit::INPUT, format!("{} is not text.", path.display())))
}

/// SHA-256 of a file, hexadecimal (FIPS 180-4).
///
/// # Errors
/// Exit code 4 without permission, else 5.
pub fn digest(path: &Path) -> Result<String, Trouble> {
    let failed = |e: std::io::Error| {
        let what = format!("{} cannot be read: {e}.", path.display());
        let means = "Its digest cannot be given.";
        Trouble::new(read_code(e.kind()), what, means, "Check the name and the disk.")
    };
    let mut file = File::open(path).map_err(failed)?;
    let mut sum = Sha256::new();
    let mut buffer = [0; 64 * 1024];
    loop {
        match file.read(&mut buffer).map_err(failed)? {
            0 => return Ok(hex(&sum.finalize())),
            read => sum.update(&buffer[..read]),
        }
    }
}

/// Where a file is written before it takes the name `to`.
#[must_use]
pub fn beside(to: &Path) -> PathBuf {
    let mut name = to.as_os_str().to_owned();
    name.push(".new");
    name.into()
}

/// Give a whole file that was written beside its place the name `to`: bytes and name are on the
/// disk when this returns.
///
/// # Errors
/// The system's.
pub fn take_name(beside: &Path, to: &Path) -> std::io::Result<()> {
    // Windows syncs only what may be written.
    File::options().write(true).open(beside)?.sync_all()?;
    RealDisk.rename(beside, to)?;
    RealDisk.sync_names(to)
}

/// Write a file whole: beside its place first, synced, then moved there, so that there is never
/// half a file under the name; the new name is synced too before this is done.
///
/// # Errors
/// Exit code 6.
pub fn replace(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
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

/// The same on another disk.
///
/// # Errors
/// As [`replace`].
pub fn replace_on(disk: &dyn Disk, path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let beside = beside(path);
    let write = || -> std::io::Result<()> {
        let mut file = disk.create(&beside)?;
        file.write_all(bytes)?;
        file.sync()?;
        drop(file);
        disk.rename(&beside, path)?;
        disk.sync_names(path)
    };
    write().map_err(|e| {
        let what = format!("{} cannot be written: {e}.", path.display());
        let means = "The measurement itself is safe in its capture.";
        let next = "Choose another place or make room, then run `trundle work` on the capture.";
        Trouble::new(exit::STORAGE, what, means, next)
    })
}
