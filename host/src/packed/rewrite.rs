//! A capture packed or unpacked into its place, so that a power cut at any moment leaves it whole.
//!
//! It is written beside its place, synced, read back and compared with what it was made of, and
//! then takes the name. The name leads to the old file or to the new one at every moment, and both
//! hold the same plain bytes; there is no other that would have to be removed.

use super::pack::pack;
use super::plain::{named, plain};
use super::unpack::Lost;
use crate::shell::files::name_beside;
use crate::shell::storage::{Disk, Storage};
use std::io::{self, ErrorKind};
use std::path::Path;

/// Which way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Smaller. Of a packed one that is damaged, what is read of it is packed.
    Pack,
    /// As it was. A packed one that is damaged stays as it is.
    Unpack,
}

impl Way {
    const fn lost(self) -> Lost {
        match self {
            Self::Pack => Lost::AsZeros,
            Self::Unpack => Lost::Refused,
        }
    }
}

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rewritten {
    /// SHA-256 of the plain bytes.
    pub sha256: String,
    /// How many they are.
    pub plain: u64,
    /// Bytes of the new file.
    pub length: u64,
}

/// What is asked before a file takes its name: the file beside, and what was written into it. An
/// error leaves all as it was.
pub type Before<'a> = &'a dyn Fn(&Path, &Rewritten) -> io::Result<()>;

/// Write the capture at `from` packed, or plain again, to `to`, which may be the same. Gives what
/// was written.
///
/// # Errors
/// [`ErrorKind::InvalidData`] for a packed capture that is damaged, for a file that changed while
/// it was read, and for a disk that does not give back what was written;
/// [`ErrorKind::InvalidInput`] for a length that is not packed; else those of the disk and of
/// `before`. Nothing was changed.
pub fn rewrite(
    disk: &dyn Disk,
    way: Way,
    from: &Path,
    to: &Path,
    before: Before<'_>,
) -> io::Result<Rewritten> {
    // Twice through: the first time finds the length, and that it is whole.
    let source = named(disk.open(from)?, way.lost())?;
    let beside = name_beside(to)?;
    let mut file = Counted { file: disk.create_new(&beside)?, length: 0 };
    let write = |file: &mut Counted| -> io::Result<Rewritten> {
        let mut bytes = plain(disk.open(from)?, way.lost())?;
        match way {
            Way::Pack => pack(&mut bytes, source.bytes, file).map(|_| ())?,
            Way::Unpack => io::copy(&mut bytes, file).map(|_| ())?,
        }
        file.file.sync()?;
        let back = named(disk.open(&beside)?, Lost::Refused)?;
        if (&back.sha256, back.bytes) != (&source.sha256, source.bytes) {
            let what = "what was written is not what was read";
            return Err(io::Error::new(ErrorKind::InvalidData, what));
        }
        Ok(Rewritten { sha256: back.sha256, plain: back.bytes, length: file.length })
    };
    let written = write(&mut file);
    drop(file);
    let done = written.and_then(|written| {
        before(&beside, &written)?;
        disk.rename(&beside, to)?;
        Ok(written)
    });
    match done {
        Ok(written) => disk.sync_names(to).map(|()| written),
        Err(error) => {
            // Of no use; what had the name is untouched.
            let _ = disk.remove(&beside);
            Err(error)
        }
    }
}

/// A file, and how much was written into it.
struct Counted {
    file: Box<dyn Storage>,
    length: u64,
}

impl io::Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.file.write(bytes)?;
        self.length += count as u64;
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
