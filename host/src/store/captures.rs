//! Captures of signed-off records: kept beside the register under the names of their digests.

use super::place::DataFolder;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use std::io::{self, Read};
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
    let is_there = || files::digest(&to).is_ok_and(|found| found == capture.sha256);
    if is_there() {
        return Ok(to);
    }
    let copied = files::open(from).and_then(|mut from| write_beside(&to, &mut from));
    copied.map_err(|e| {
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

/// Write a file whole and on the disk, or not at all: beside the place first, synced, then moved
/// there, and the folder synced.
pub(super) fn write_beside(to: &Path, from: &mut impl Read) -> io::Result<()> {
    let beside = files::beside(to)?;
    io::copy(from, &mut std::fs::OpenOptions::new().write(true).open(&beside)?)?;
    files::take_name(&beside, to)
}
