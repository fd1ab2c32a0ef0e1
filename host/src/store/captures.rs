//! Captures of signed-off records: kept beside the register under the names of their digests,
//! packed. The digest is that of the plain bytes, so a record is the same with either.

use super::place::DataFolder;
use crate::packed::MOST;
use crate::packed::plain::name;
use crate::packed::rewrite::{Rewritten, Way, rewrite};
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::shell::storage::RealDisk;
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use trundle_core::result::record_v1::CaptureV1;

/// Where a capture with this digest is saved.
#[must_use]
pub fn path(place: &DataFolder, sha256: &str) -> PathBuf {
    // Only digits of a digest ever become a name, whatever stands in the register.
    let name: String = sha256.chars().filter(char::is_ascii_hexdigit).take(64).collect();
    place.captures().join(format!("{name}.capture"))
}

/// Pack a capture into its place, checked against its digest, and on the disk before this returns.
///
/// # Errors
/// Exit code 5 when the file is not the one that was worked, 6 when it cannot be written.
pub fn keep(place: &DataFolder, from: &Path, capture: &CaptureV1) -> Result<PathBuf, Trouble> {
    let to = path(place, &capture.sha256);
    let too_long = capture.bytes > MOST;
    let there = name(&to).ok().filter(|there| there.sha256 == capture.sha256);
    // One that was saved plain is packed now.
    if there.is_some_and(|there| there.packed || too_long) {
        return Ok(to);
    }
    let copied = if too_long {
        files::open(from).and_then(|mut from| write_beside(&to, &mut from))
    } else {
        pack_into(from, &to, &capture.sha256)
    };
    match copied {
        Ok(()) if name(&to)?.sha256 == capture.sha256 => Ok(to),
        Err(e) if e.kind() != ErrorKind::InvalidData => Err(Trouble::new(
            exit::STORAGE,
            format!("{} cannot be copied to {}: {e}.", from.display(), to.display()),
            "Nothing was signed off; the capture itself is untouched.",
            "Make room or check the disk, then sign off again.",
        )),
        _ => Err(Trouble::new(
            exit::INPUT,
            format!("{} changed while it was being copied.", from.display()),
            "Nothing was signed off: the copy is not what was calculated.",
            "Wait until nothing records into it, then sign off again.",
        )),
    }
}

/// Only what has this digest takes the place.
fn pack_into(from: &Path, to: &Path, sha256: &str) -> io::Result<()> {
    files::clear_left_behind(to);
    let before = |beside: &Path, written: &Rewritten| {
        if written.sha256 != sha256 {
            return Err(ErrorKind::InvalidData.into());
        }
        files::only_owner(beside)
    };
    rewrite(&RealDisk, Way::Pack, from, to, &before).map(drop)
}

/// Write a file whole and on the disk, or not at all: beside the place first, synced, then moved
/// there, and the folder synced.
pub(super) fn write_beside(to: &Path, from: &mut impl Read) -> io::Result<()> {
    let beside = files::beside(to)?;
    io::copy(from, &mut std::fs::OpenOptions::new().write(true).open(&beside)?)?;
    files::take_name(&beside, to)
}
