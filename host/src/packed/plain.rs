//! The plain bytes of a capture, packed or not. What it is, its first bytes say.

use super::block::{self, FRAME, Found, HEAD, Head};
use super::unpack::{Lost, Unpacked};
use crate::shell::exit::Trouble;
use crate::shell::files;
use sha2::{Digest as _, Sha256};
use std::io::{self, Chain, Cursor, Read, Seek as _, SeekFrom};
use std::path::Path;
use trundle_core::capture;
use trundle_core::units::hex;

/// What begins neither way is looked through so far for a head: one block and the next.
const LOOK: usize = 2 * (HEAD + FRAME);
/// Bytes that tell most captures apart.
const BEGINNING: usize = 4;

/// What was looked at, and the rest.
type Again<R> = Chain<Cursor<Vec<u8>>, R>;

/// Reads the plain bytes of a capture.
pub enum Plain<R> {
    /// As they are in the file.
    AsIs(Again<R>),
    /// Out of a packed one.
    Packed(Box<Unpacked<Again<R>>>),
}

impl<R: Read> Plain<R> {
    /// Whether it comes out of a packed file.
    #[must_use]
    pub const fn is_packed(&self) -> bool {
        matches!(self, Self::Packed(_))
    }
}

impl<R: Read> Read for Plain<R> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::AsIs(source) => source.read(to),
            Self::Packed(source) => source.read(to),
        }
    }
}

/// Look at the first bytes of a capture, and read its plain ones.
///
/// # Errors
/// The source's.
pub fn plain<R: Read>(mut source: R, lost: Lost) -> io::Result<Plain<R>> {
    let mut first = Vec::new();
    source.by_ref().take(BEGINNING as u64).read_to_end(&mut first)?;
    let mut packed = block::begins(&first);
    if !packed && !capture::begins(&first) {
        // One whose first bytes are damaged.
        source.by_ref().take((LOOK - BEGINNING) as u64).read_to_end(&mut first)?;
        packed = has_head(&first);
    }
    let again = Cursor::new(first).chain(source);
    Ok(if packed {
        Plain::Packed(Box::new(Unpacked::new(again, lost)?))
    } else {
        Plain::AsIs(again)
    })
}

fn has_head(bytes: &[u8]) -> bool {
    let mut at = block::next(bytes, 0);
    while let Some(head) = bytes[at..].first_chunk() {
        if matches!(Head::decode(head), Found::Head(_)) {
            return true;
        }
        at = block::next(bytes, at + 1);
    }
    false
}

/// Plain bytes of a capture as a record names them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// Their SHA-256, hexadecimal (FIPS 180-4).
    pub sha256: String,
    /// How many they are.
    pub bytes: u64,
    /// Whether the file is a packed one.
    pub packed: bool,
}

/// Name what `source` holds.
///
/// # Errors
/// Those of reading.
pub fn named(source: impl Read, lost: Lost) -> io::Result<Named> {
    let mut source = plain(source, lost)?;
    let mut sum = Sha256::new();
    let mut buffer = vec![0; 64 << 10];
    let mut bytes = 0;
    loop {
        match source.read(&mut buffer) {
            Ok(0) => break,
            Ok(read) => {
                sum.update(&buffer[..read]);
                bytes += read as u64;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(Named { sha256: hex(&sum.finalize()), bytes, packed: source.is_packed() })
}

/// Name the capture in a file; where a packed one is damaged, as it is read.
///
/// # Errors
/// Exit code 4 without permission, else 5.
pub fn name(path: &Path) -> Result<Named, Trouble> {
    files::open(path).and_then(|file| named(file, Lost::AsZeros)).map_err(|e| {
        let what = format!("{} cannot be read: {e}.", path.display());
        let means = "Its digest cannot be given.";
        Trouble::new(files::read_code(e.kind()), what, means, "Check the name and the disk.")
    })
}

/// The plain bytes of the capture in a file, whole; `None` when they are more than `most`.
///
/// # Errors
/// The system's; [`io::ErrorKind::InvalidData`] for a packed one that is damaged.
pub fn read(path: &Path, most: u64) -> io::Result<Option<Vec<u8>>> {
    let source = plain(files::open(path)?, Lost::Refused)?;
    let mut bytes = Vec::new();
    source.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    Ok((bytes.len() as u64 <= most).then_some(bytes))
}

/// How many plain bytes the capture in a file should have, by the file's end alone. `None` for a
/// packed one that was cut.
///
/// # Errors
/// The system's.
pub fn length(path: &Path) -> io::Result<Option<u64>> {
    let mut file = files::open(path)?;
    let length = file.metadata()?.len();
    let mut head = [0; HEAD];
    let end = length.checked_sub(HEAD as u64);
    if let Some(at) = end {
        file.seek(SeekFrom::Start(at))?;
        file.read_exact(&mut head)?;
        if let Found::Head(head) = Head::decode(&head)
            && head == Head::end(head.total, at)
        {
            return Ok(Some(head.total));
        }
    }
    file.seek(SeekFrom::Start(0))?;
    Ok((!is_packed(file)?).then_some(length))
}

/// Whether a capture is a packed one, by its first bytes.
///
/// # Errors
/// The source's.
pub fn is_packed(source: impl Read) -> io::Result<bool> {
    Ok(plain(source, Lost::AsZeros)?.is_packed())
}
