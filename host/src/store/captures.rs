//! Captures of signed-off records: kept beside the register under the names of their digests.

use super::place::DataFolder;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use std::fs::File;
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use trundle_core::result::record_v1::CaptureV1;

/// Where a capture with this digest is saved.
#[must_use]
pub fn path(place: &DataFolder, sha256: &str) -> PathBuf {
    // Only digits of a digest ever become a name, whatever stands in the register.
    let name: String = sha256.chars().filter(char::is_ascii_hexdigit).take(64).collect();
    place.captures().join(format!("{name}.capture"))
}

/// Copy a capture to its place, checked against its digest, and on the disk before this returns.
///
/// # Errors
/// Exit code 5 when the file is not the one that was worked, 6 when it cannot be written.
pub fn keep(place: &DataFolder, from: &Path, capture: &CaptureV1) -> Result<PathBuf, Trouble> {
    let to = path(place, &capture.sha256);
    if to.exists() && files::digest(&to)? == capture.sha256 {
        return Ok(to);
    }
    copy(from, &to).map_err(|e| {
        Trouble::new(
            exit::STORAGE,
            format!("{} cannot be copied to {}: {e}.", from.display(), to.display()),
            "Nothing was signed off; the capture itself is untouched.",
            "Make room or check the disk, then sign off again.",
        )
    })?;
    if files::digest(&to)? == capture.sha256 {
        return Ok(to);
    }
    Err(Trouble::new(
        exit::INPUT,
        format!("{} changed while it was being copied.", from.display()),
        "Nothing was signed off: the copy is not what was calculated.",
        "Wait until nothing records into it, then sign off again.",
    ))
}

/// Copy beside the place first, synced, then move it there, and sync the folder.
pub(super) fn copy(from: &Path, to: &Path) -> io::Result<()> {
    let mut source = File::open(from)?;
    write_beside(to, |file| {
        let mut buffer = vec![0; 1 << 16];
        loop {
            let read = source.read(&mut buffer)?;
            if read == 0 {
                return Ok(());
            }
            file.write_all(&buffer[..read])?;
        }
    })
}

/// Write a file whole and on the disk, or not at all.
pub(super) fn write_beside(
    to: &Path,
    write: impl FnOnce(&mut File) -> io::Result<()>,
) -> io::Result<()> {
    let mut beside = to.as_os_str().to_owned();
    beside.push(".new");
    let beside = Path::new(&beside);
    let mut file = File::create(beside)?;
    write(&mut file)?;
    drop(file);
    super::register::private(beside);
    files::take_name(beside, to)
}
