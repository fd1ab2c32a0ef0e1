//! Reading a capture from disk, in pieces of a fixed size; a packed one as if it were plain.

use crate::packed::plain::plain;
use crate::packed::unpack::Lost;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::shell::progress::Progress;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;
use trundle_core::capture::{Damage, Entry, Piece, Reader};

/// Bytes read at a time.
const READ_BYTES: usize = 256 << 10;
/// The newest version of the format that is understood here.
pub const CAPTURE_VERSION: u32 = 1;
/// Damage before the header that may still be a scratched capture. A file of another kind never
/// gets this far without its first sound record.
const LOST_HEAD_MAX: u64 = 1 << 20;

/// Read the capture at `path` and hand on what it holds, in order.
///
/// # Errors
/// [`Trouble`] of code 4 without permission, 5 when it is not there, empty, no
/// capture, or of a newer version, 6 when the disk fails.
pub fn read_capture(path: &Path, hand_on: impl FnMut(&Piece<'_>)) -> Result<(), Trouble> {
    let file = files::open(path).map_err(|error| open_trouble(path, &error))?;
    let length = file.metadata().map_or(0, |meta| meta.len());
    let progress = Progress::bytes(length, "reading");
    let read = read_from(Watched(file, &progress), path, hand_on);
    progress.end();
    read
}

/// Reads, and shows how far it has come.
pub(super) struct Watched<'a>(pub File, pub &'a Progress);

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let count = self.0.read(buffer)?;
        self.1.steps(count as u64);
        Ok(count)
    }
}

/// Read a capture from anything that can be read, packed or plain; `path` is its name in messages.
///
/// # Errors
/// As [`read_capture`].
pub fn read_from(
    source: impl Read,
    path: &Path,
    mut hand_on: impl FnMut(&Piece<'_>),
) -> Result<(), Trouble> {
    let mut source = plain(source, Lost::AsZeros).map_err(|error| read_trouble(path, &error))?;
    let mut reader = Reader::default();
    let mut gate = Gate::default();
    let mut total = 0;
    loop {
        let count = fill(&mut reader, &mut source).map_err(|error| read_trouble(path, &error))?;
        if count == 0 {
            break;
        }
        total += count as u64;
        while let Some(piece) = reader.take() {
            gate.pass(&piece, path, &mut hand_on)?;
        }
        if !gate.open && total > LOST_HEAD_MAX {
            return Err(foreign(path, "it holds no entry of a capture"));
        }
    }
    if total == 0 {
        let what = format!("{} is empty.", path.display());
        let means = "There is nothing in it to calculate.";
        let next = "If a job was recorded, look for another file; a capture that has been begun \
                    is never empty.";
        return Err(Trouble::new(exit::INPUT, what, means, next));
    }
    while let Some(piece) = reader.finish() {
        gate.pass(&piece, path, &mut hand_on)?;
    }
    if gate.open { Ok(()) } else { Err(foreign(path, "it holds no entry of a capture")) }
}

/// Read on, straight into the reader, and count how many bytes came; 0 at the end.
pub(super) fn fill(reader: &mut Reader, source: &mut impl Read) -> std::io::Result<usize> {
    loop {
        match source.read(reader.room(READ_BYTES)) {
            Ok(count) => {
                reader.filled(count);
                return Ok(count);
            }
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// Holds everything back until it is clear that this is a capture.
#[derive(Default)]
struct Gate {
    open: bool,
    damage: Option<Damage>,
}

impl Gate {
    fn pass(
        &mut self,
        piece: &Piece<'_>,
        path: &Path,
        hand_on: &mut impl FnMut(&Piece<'_>),
    ) -> Result<(), Trouble> {
        if let Piece::Record(record) = piece
            && let Entry::Header(header) = &record.entry
            && header.version > CAPTURE_VERSION
        {
            let what = format!("{} is a capture of version {}.", path.display(), header.version);
            let means =
                format!("This program understands captures up to version {CAPTURE_VERSION}.");
            let next = "Use the program that wrote it, or a newer one.";
            return Err(Trouble::new(exit::INPUT, what, means, next));
        }
        if self.open {
            hand_on(piece);
            return Ok(());
        }
        if let Piece::Damage(damage) = piece {
            // A scratch at the front: what follows is read, and the loss is reported.
            self.damage = Some(*damage);
            return Ok(());
        }
        let head = matches!(piece, Piece::Record(r) if matches!(r.entry, Entry::Header(_)));
        if self.damage.is_none() && !head {
            return Err(foreign(path, "its first entry is not the head of a capture"));
        }
        self.open = true;
        if let Some(damage) = self.damage.take() {
            hand_on(&Piece::Damage(damage));
        }
        hand_on(piece);
        Ok(())
    }
}

fn foreign(path: &Path, why: &str) -> Trouble {
    Trouble::new(
        exit::INPUT,
        format!("{} is not a capture: {why}.", path.display()),
        "There is nothing in it to calculate.",
        "Name a file that `trundle drive` or `trundle demo` wrote; import plain recordings with \
         `trundle import`.",
    )
}

fn open_trouble(path: &Path, error: &std::io::Error) -> Trouble {
    let name = path.display();
    let means = "Nothing was calculated.";
    match error.kind() {
        ErrorKind::NotFound => {
            let next = "Check the name and the folder.";
            Trouble::new(exit::INPUT, format!("{name}: there is no such file."), means, next)
        }
        ErrorKind::PermissionDenied => {
            let next = "Have the file made readable for your user.";
            Trouble::new(exit::BLOCKED, format!("{name}: no permission to read it."), means, next)
        }
        // Said by what it is.
        ErrorKind::InvalidInput => foreign(path, &error.to_string()),
        _ => read_trouble(path, error),
    }
}

fn read_trouble(path: &Path, error: &std::io::Error) -> Trouble {
    let what = format!("{} could not be read ({error}).", path.display());
    if error.kind() == ErrorKind::Unsupported {
        let next = "Use the program that packed it, or a newer one.";
        return Trouble::new(exit::INPUT, what, "Nothing was calculated.", next);
    }
    // What a packed capture is given up for.
    if error.kind() == ErrorKind::InvalidData {
        let next = "Use another copy of the file: that of a backup, or of whoever packed it.";
        return Trouble::new(exit::INPUT, what, "Nothing was calculated.", next);
    }
    let next = "Copy the file to another disk and try again.";
    Trouble::new(exit::STORAGE, what, "A result from half of it would be wrong.", next)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
pub(super) mod tests {
    use super::*;
    use trundle_core::capture::{Arrival, HEADER_FORMAT, Header, PortRole, Record, encode};

    pub fn header(version: u32) -> Record {
        let format = HEADER_FORMAT.to_owned();
        let (software, started_utc) = ("0".to_owned(), "2026-03-30T10:15:00Z".to_owned());
        let (arrival, pace, practice) = (Arrival::Measured, 1.0, false);
        let header = Header { format, version, software, started_utc, arrival, pace, practice };
        Record { host_ns: 0, entry: Entry::Header(header) }
    }

    fn capture() -> Vec<u8> {
        let mut bytes = Vec::new();
        encode(&header(1), &mut bytes);
        for n in 0..100_u8 {
            let entry = Entry::Bytes(PortRole::Board, vec![n; 60]);
            encode(&Record { host_ns: u64::from(n), entry }, &mut bytes);
        }
        bytes
    }

    /// Bytes lost of each piece: none of a record.
    fn losses(bytes: &[u8]) -> Result<Vec<u64>, Trouble> {
        let mut lost = Vec::new();
        read_from(bytes, Path::new("x"), |piece| {
            lost.push(if let Piece::Damage(damage) = piece { damage.bytes } else { 0 });
        })
        .map(|_| lost)
    }

    #[test]
    fn a_capture_cut_anywhere_keeps_every_whole_record() {
        let whole = capture();
        let head = whole.len() - 100 * (60 + 19);
        assert_eq!(losses(&whole).unwrap().len(), 101);
        for cut in [head, head + 1, head + 79, head + 80, whole.len() - 1] {
            let lost = losses(&whole[..cut]).unwrap();
            let sound = lost.iter().filter(|lost| **lost == 0).count();
            assert_eq!(sound, 1 + (cut - head) / 79, "cut at {cut}");
            assert_eq!(lost.iter().sum::<u64>(), ((cut - head) % 79) as u64, "cut at {cut}");
        }
    }

    #[test]
    fn what_is_no_capture_is_called_that() {
        assert!(losses(b"").unwrap_err().what.contains("empty"));
        for other in [&b"$GPGGA,1,2,3\r\n"[..], &[0; 300_000], &capture()[..40]] {
            let trouble = losses(other).unwrap_err();
            assert_eq!(trouble.code, exit::INPUT);
            assert!(trouble.what.contains("not a capture"), "{trouble}");
        }
        // A stray record with nothing before it is no capture; with damage before it, the head
        // of a capture was lost.
        let whole = capture();
        let tail = &whole[whole.len() - 79..];
        assert!(losses(tail).unwrap_err().what.contains("head"));
        let scratched = losses(&whole[3..]).unwrap();
        assert!(scratched[0] > 0 && scratched.len() == 101);
    }

    #[test]
    fn a_newer_version_is_refused() {
        let mut bytes = Vec::new();
        encode(&header(CAPTURE_VERSION + 1), &mut bytes);
        let trouble = losses(&bytes).unwrap_err();
        assert!(trouble.what.contains("version 2") && trouble.code == exit::INPUT, "{trouble}");
    }
}
