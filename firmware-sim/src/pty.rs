//! Pseudo-terminals that any program opens like serial ports.
//!
//! The master end stays here; the client opens the path of the slave. One slave handle is kept
//! open on this side, because otherwise the last client to close would hang the port up. Bytes
//! nobody reads make room for newer ones, as on a real line: what was sent while nobody listened
//! is gone.

#![expect(clippy::disallowed_methods, clippy::disallowed_types, reason = "opens pseudo-terminals")]

use crate::serve::LineEnd;
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use rustix::io::Errno;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, QueueSelector, tcflush, tcgetattr, tcsetattr};
use std::fs::File;
use std::io;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Opening asks the system for a name that is only right until the next opening.
static OPENING: Mutex<()> = Mutex::new(());

/// A pseudo-terminal could not be had or served.
#[derive(Debug, thiserror::Error)]
pub enum PtyError {
    /// The system gave no pseudo-terminal.
    #[error(
        "no pseudo-terminal could be opened ({0}); nothing is simulated. \
         Close programs that hold many of them, or check that /dev/pts is mounted"
    )]
    Open(#[source] io::Error),
    /// The link to it could not be made.
    #[error(
        "the link {path} could not be made ({source}); nothing is simulated. \
         Choose a folder that exists and can be written with --links, or leave it out"
    )]
    Link {
        /// The link.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// Reading or writing failed.
    #[error("the pseudo-terminal {path} broke ({source}); start the simulation again")]
    Broken {
        /// Its slave.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// One pseudo-terminal, with the link to it if there is one. The link goes when this goes.
#[derive(Debug)]
pub struct Pty {
    master: OwnedFd,
    slave: File,
    path: PathBuf,
    link: Option<PathBuf>,
}

impl Pty {
    /// Opens one in raw mode.
    ///
    /// # Errors
    ///
    /// [`PtyError::Open`] when the system refuses.
    pub fn open() -> Result<Self, PtyError> {
        Self::open_raw().map_err(PtyError::Open)
    }

    fn open_raw() -> io::Result<Self> {
        let _guard = OPENING.lock().unwrap_or_else(PoisonError::into_inner);
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | close_on_exec())?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?;
        let path = PathBuf::from(name.to_string_lossy().into_owned());
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let slave = rustix::fs::open(&path, flags, rustix::fs::Mode::empty())?;
        let mut terminal = tcgetattr(&slave)?;
        terminal.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &terminal)?;
        fcntl_setfl(&master, fcntl_getfl(&master)? | OFlags::NONBLOCK)?;
        Ok(Self { master, slave: File::from(slave), path, link: None })
    }

    /// What a client opens.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Makes a symbolic link to it, in place of an older link of that name.
    ///
    /// # Errors
    ///
    /// [`PtyError::Link`] when it cannot be made, also when something that is no link is there.
    pub fn link(&mut self, at: &Path) -> Result<(), PtyError> {
        let failed = |source| PtyError::Link { path: at.to_owned(), source };
        if at.is_symlink() {
            std::fs::remove_file(at).map_err(failed)?;
        }
        std::os::unix::fs::symlink(&self.path, at).map_err(failed)?;
        self.link = Some(at.to_owned());
        Ok(())
    }

    fn broken(&self, errno: Errno) -> PtyError {
        PtyError::Broken { path: self.path.clone(), source: errno.into() }
    }

    /// Gives the client as many of the bytes as find room, without waiting, and throws nothing
    /// away. Returns how many were taken.
    ///
    /// # Errors
    ///
    /// [`PtyError::Broken`] when the terminal fails.
    pub fn offer(&self, bytes: &[u8]) -> Result<usize, PtyError> {
        let mut taken = 0;
        while taken < bytes.len() {
            match rustix::io::write(&self.master, &bytes[taken..]) {
                Ok(count) if count > 0 => taken += count,
                Err(Errno::INTR) => {}
                Ok(_) | Err(Errno::AGAIN) => break,
                Err(errno) => return Err(self.broken(errno)),
            }
        }
        Ok(taken)
    }

    /// Sends bytes to the client without waiting; what finds no room even after the oldest
    /// unread bytes were thrown away is lost. Returns how many were taken.
    ///
    /// # Errors
    ///
    /// [`PtyError::Broken`] when the terminal fails.
    pub fn send(&self, bytes: &[u8]) -> Result<usize, PtyError> {
        let mut sent = 0;
        let mut flushed = false;
        while sent < bytes.len() {
            match rustix::io::write(&self.master, &bytes[sent..]) {
                Ok(count) if count > 0 => sent += count,
                Err(Errno::INTR) => {}
                Ok(_) | Err(Errno::AGAIN) if flushed => break,
                Ok(_) | Err(Errno::AGAIN) => {
                    tcflush(&self.slave, QueueSelector::IFlush).map_err(|e| self.broken(e))?;
                    flushed = true;
                }
                Err(errno) => return Err(self.broken(errno)),
            }
        }
        Ok(sent)
    }

    /// Appends what the client has written so far, without waiting.
    ///
    /// # Errors
    ///
    /// [`PtyError::Broken`] when the terminal fails.
    pub fn receive(&self, into: &mut Vec<u8>) -> Result<(), PtyError> {
        let mut buffer = [0_u8; 256];
        // Bounded, so that a client that never stops writing cannot hold up the simulation.
        for _ in 0..16 {
            match rustix::io::read(&self.master, &mut buffer) {
                Ok(0) | Err(Errno::AGAIN) => return Ok(()),
                Ok(count) => into.extend_from_slice(&buffer[..count]),
                Err(Errno::INTR) => {}
                Err(errno) => return Err(self.broken(errno)),
            }
        }
        Ok(())
    }
}

impl LineEnd for Pty {
    type Error = PtyError;

    fn offer(&self, bytes: &[u8]) -> Result<usize, PtyError> {
        Self::offer(self, bytes)
    }

    fn send(&self, bytes: &[u8]) -> Result<usize, PtyError> {
        Self::send(self, bytes)
    }

    fn receive(&self, into: &mut Vec<u8>) -> Result<(), PtyError> {
        Self::receive(self, into)
    }
}

impl Drop for Pty {
    fn drop(&mut self) {
        if let Some(link) = &self.link
            && std::fs::read_link(link).is_ok_and(|to| to == self.path)
        {
            // A link left over does no harm: the next start replaces it.
            let _ = std::fs::remove_file(link);
        }
    }
}

/// So that programs started from here do not inherit the terminal.
#[cfg(any(target_os = "linux", target_os = "android", target_os = "freebsd"))]
const fn close_on_exec() -> OpenptFlags {
    OpenptFlags::CLOEXEC
}

/// Other systems do not know the flag on opening.
#[cfg(not(any(target_os = "linux", target_os = "android", target_os = "freebsd")))]
const fn close_on_exec() -> OpenptFlags {
    OpenptFlags::empty()
}
