//! The disk, as far as this program writes to it: files that grow, names that change.
//!
//! One small seam, so that tests can put a disk under it that loses, tears, reorders and fails.
//! What has been written is not safe until it is synced; a name is not safe until its folder is.

use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind, Read, Seek as _, SeekFrom, Write};
use std::path::Path;

/// An open file. In tests, one that fails.
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

    /// Whether `path` still leads to this file. It does not once the file was deleted or renamed,
    /// or its folder or disk is another one.
    fn is_at(&self, _path: &Path) -> bool {
        true
    }

    /// Copy all that was written into a new file, whatever became of the name of this one; nothing
    /// may be written any more.
    ///
    /// # Errors
    /// The system's.
    fn save_as(&self, _path: &Path) -> io::Result<()> {
        Err(ErrorKind::Unsupported.into())
    }
}

impl Storage for File {
    fn sync(&self) -> io::Result<()> {
        self.sync_data()
    }

    fn second(&self) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(self.try_clone()?))
    }

    /// Only Unix lets a file that is open lose its name.
    #[cfg(unix)]
    fn is_at(&self, path: &Path) -> bool {
        use std::os::unix::fs::MetadataExt as _;
        let is = |there: std::fs::Metadata, here: std::fs::Metadata| {
            (there.dev(), there.ino()) == (here.dev(), here.ino())
        };
        // A file that cannot be looked at for another reason is not called gone.
        match (std::fs::metadata(path), self.metadata()) {
            (Ok(there), Ok(here)) => is(there, here),
            (Err(error), _) => !matches!(
                error.kind(),
                ErrorKind::NotFound | ErrorKind::NotADirectory | ErrorKind::PermissionDenied
            ),
            _ => true,
        }
    }

    fn save_as(&self, path: &Path) -> io::Result<()> {
        let mut from = self;
        from.seek(SeekFrom::Start(0))?;
        let mut to = OpenOptions::new().write(true).create_new(true).open(path)?;
        io::copy(&mut from, &mut to)?;
        to.sync_all()?;
        RealDisk.sync_names(path)
    }
}

/// Where files are made and named.
pub trait Disk {
    /// A new file; one that exists is an error and stays as it is.
    ///
    /// # Errors
    /// The system's.
    fn create_new(&self, path: &Path) -> io::Result<Box<dyn Storage>>;

    /// A file that is there, to be read; only an ordinary one.
    ///
    /// # Errors
    /// The system's.
    fn open(&self, path: &Path) -> io::Result<Box<dyn Read>>;

    /// Give a file another name, in place of what had it.
    ///
    /// # Errors
    /// The system's.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;

    /// Take a file away.
    ///
    /// # Errors
    /// The system's.
    fn remove(&self, path: &Path) -> io::Result<()>;

    /// Wait until the names in the folder of `path` are on the disk.
    ///
    /// # Errors
    /// The system's. A system that cannot do this at all is no error.
    fn sync_names(&self, path: &Path) -> io::Result<()>;
}

/// The computer's own disk.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn create_new(&self, path: &Path) -> io::Result<Box<dyn Storage>> {
        Ok(Box::new(OpenOptions::new().read(true).write(true).create_new(true).open(path)?))
    }

    fn open(&self, path: &Path) -> io::Result<Box<dyn Read>> {
        Ok(Box::new(super::files::open(path)?))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }

    fn sync_names(&self, path: &Path) -> io::Result<()> {
        if !cfg!(unix) {
            // There the name is safe with the first sync of the file.
            return Ok(());
        }
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let synced = File::open(folder.unwrap_or(Path::new("."))).and_then(|file| file.sync_all());
        match synced {
            // Some network and user-space file systems know no such thing, and a folder may be
            // written to without being readable: nothing better can be had there.
            Err(e) if cannot(e.kind()) => Ok(()),
            other => other,
        }
    }
}

fn cannot(kind: ErrorKind) -> bool {
    matches!(kind, ErrorKind::InvalidInput | ErrorKind::Unsupported | ErrorKind::PermissionDenied)
}
