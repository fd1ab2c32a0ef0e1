//! The board's own firmware under an emulated processor, in the place of the simulated board.
//!
//! The harness in `firmware-sim/emulator` runs the image on an emulated RP2040, with node. Two
//! sockets of this process join them: one is the board's line to the host, the other the bench's,
//! see the package `trundle-bench`. So the link can be put on a pseudo-terminal like that of the
//! simulated board: bytes that nobody reads make room for newer ones and never hold the
//! processor up.
//!
//! Time inside is counted in cycles of the processor, not by the clock on the wall: the same
//! stimuli meet the same instructions on a slow computer as on a fast one.

#![expect(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "runs the board's image under an emulator, in real time"
)]

use crate::pty::PtyError;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::io::{self, Read as _, Write as _};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};
use trundle_bench::{Account, Start, Stimulus, Timed};

/// The program that the harness runs in.
const NODE: &str = "node";
/// The harness, seen from the project's top folder.
pub const HARNESS: &str = "firmware-sim/emulator";

/// The board's line to the host: a build of the firmware has one of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HostLine {
    /// The USB serial function.
    Usb,
    /// The serial line at two pins.
    Uart,
}

/// Longest wait for the emulator to start, or for the image to answer, by the wall clock: far
/// more than a loaded machine needs.
const PATIENCE: Duration = Duration::from_secs(60);
/// Longest wait for one look at the lines.
const LOOK: Timespec = Timespec { tv_sec: 0, tv_nsec: 50_000_000 };

/// The image could not be run.
#[derive(Debug, thiserror::Error)]
pub enum ImageError {
    /// The emulator did not start.
    #[error(
        "the emulator did not start ({0}); no image runs. It needs node 18 or newer, and in the \
         harness's folder `npm ci`; start from the project's top folder, or name the harness's"
    )]
    Start(#[source] io::Error),
    /// A line to it broke.
    #[error("a line to the emulated processor broke ({0}); start the simulation again")]
    Line(#[from] io::Error),
    /// The image stopped.
    #[error(
        "the image does not answer the bench any more ({0}); its counts are lost. \
         Give the right file, or build it anew from the same sources as this program"
    )]
    Silent(&'static str),
    /// A terminal failed.
    #[error(transparent)]
    Port(#[from] PtyError),
}

const ENDED: ImageError = ImageError::Silent("the emulator has ended");

/// An image that runs.
#[derive(Debug)]
pub struct Image {
    emulator: Child,
    link: UnixStream,
    bench: UnixStream,
    /// Bytes on their way to the image, and from it.
    to_link: Vec<u8>,
    to_bench: Vec<u8>,
    from_link: Vec<u8>,
    from_bench: Vec<u8>,
    number: u8,
    /// Bytes that the host has sent so far.
    told: u64,
}

impl Image {
    /// Starts an image, an ELF or UF2 file, with the harness in this folder. The board has power,
    /// and the firmware watches its inputs; its time is 0 until [`Self::run_to`].
    ///
    /// # Errors
    ///
    /// [`ImageError::Start`] when there is no emulator or it does not run this file.
    pub fn start(
        image: &Path,
        harness: &Path,
        line: HostLine,
        start: &Start,
    ) -> Result<Self, ImageError> {
        let folder = Folder::new().map_err(ImageError::Start)?;
        let paths = ["link", "bench"].map(|name| folder.0.join(name));
        let [link, bench] = paths.each_ref().map(UnixListener::bind);
        let (link, bench) = (link.map_err(ImageError::Start)?, bench.map_err(ImageError::Start)?);
        let mut command = Command::new(NODE);
        command.arg(harness.join("bench.mjs")).arg(image).args(&paths);
        command.arg(if line == HostLine::Usb { "usb" } else { "uart" });
        // What it complains of, a person is to read.
        command.stdin(Stdio::null()).stdout(Stdio::null());
        let mut emulator = Emulator(Some(command.spawn().map_err(ImageError::Start)?));
        let link = emulator.accept(&link).map_err(ImageError::Start)?;
        let bench = emulator.accept(&bench).map_err(ImageError::Start)?;
        let mut image = Self {
            emulator: emulator.0.take().ok_or(ImageError::Silent("it was never there"))?,
            link,
            bench,
            to_link: Vec::new(),
            to_bench: start.encode().to_vec(),
            from_link: Vec::new(),
            from_bench: Vec::new(),
            number: 0,
            told: 0,
        };
        // It has started only when the firmware has: nobody is to look for it before.
        image.run_to(0)?;
        Ok(image)
    }

    /// Bytes from the host; they go out with the next [`Self::run_to`].
    pub fn tell(&mut self, bytes: &[u8]) {
        if bytes.is_empty() {
            return;
        }
        self.to_link.extend_from_slice(bytes);
        self.told += bytes.len() as u64;
        self.play_ns(self.told, Stimulus::Told);
    }

    /// Something happens to the board, microseconds since the start; in order of time. It goes
    /// out with the next [`Self::run_to`].
    pub fn play(&mut self, at_us: u64, stimulus: Stimulus) {
        self.play_ns(1_000 * at_us, stimulus);
    }

    /// As [`Self::play`], to the nanosecond.
    pub fn play_ns(&mut self, at_ns: u64, stimulus: Stimulus) {
        let timed = Timed { at_ns, stimulus, number: self.number };
        self.number = self.number.wrapping_add(1);
        self.to_bench.extend_from_slice(&timed.encode());
    }

    /// Lets the board run up to a time and waits until it is there.
    ///
    /// # Errors
    ///
    /// [`ImageError::Silent`] when it never arrives.
    pub fn run_to(&mut self, at_us: u64) -> Result<(), ImageError> {
        let number = self.number;
        self.play(at_us, Stimulus::RunTo);
        if self.answer::<1>()? == [number] {
            return Ok(());
        }
        Err(ImageError::Silent("its answer is another's"))
    }

    /// Asks at a time what the image needed so far.
    ///
    /// # Errors
    ///
    /// [`ImageError::Silent`] when it does not tell.
    pub fn account(&mut self, at_us: u64) -> Result<Account, ImageError> {
        self.play(at_us, Stimulus::Account);
        let bytes = self.answer()?;
        Account::decode(&bytes).ok_or(ImageError::Silent("its account is damaged"))
    }

    /// What the board has sent to the host since the last call.
    pub fn heard(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.from_link)
    }

    /// Serves both lines until this many bytes came from the bench's.
    fn answer<const N: usize>(&mut self) -> Result<[u8; N], ImageError> {
        let deadline = Instant::now() + PATIENCE;
        while self.from_bench.len() < N {
            if Instant::now() > deadline {
                return Err(ImageError::Silent("it took too long"));
            }
            self.serve()?;
        }
        // The link's bytes were written before the answer and are in its socket by now.
        read(&mut self.link, &mut self.from_link)?;
        let mut bytes = [0; N];
        bytes.copy_from_slice(&self.from_bench[..N]);
        self.from_bench.drain(..N);
        Ok(bytes)
    }

    /// Moves what can be moved, and waits a moment if nothing can.
    fn serve(&mut self) -> Result<(), ImageError> {
        let wants = |waiting: &[u8]| {
            if waiting.is_empty() { PollFlags::IN } else { PollFlags::IN | PollFlags::OUT }
        };
        let mut lines = [
            PollFd::new(&self.link, wants(&self.to_link)),
            PollFd::new(&self.bench, wants(&self.to_bench)),
        ];
        match poll(&mut lines, Some(&LOOK)) {
            Ok(_) | Err(rustix::io::Errno::INTR) => {}
            Err(errno) => return Err(io::Error::from(errno).into()),
        }
        write(&mut self.link, &mut self.to_link)?;
        write(&mut self.bench, &mut self.to_bench)?;
        read(&mut self.link, &mut self.from_link)?;
        read(&mut self.bench, &mut self.from_bench)
    }
}

impl Drop for Image {
    fn drop(&mut self) {
        end(&mut self.emulator);
    }
}

fn end(emulator: &mut Child) {
    // One that has ended already is what is wanted.
    let _ = emulator.kill();
    let _ = emulator.wait();
}

fn write(line: &mut UnixStream, waiting: &mut Vec<u8>) -> Result<(), ImageError> {
    match line.write(waiting) {
        Ok(count) => drop(waiting.drain(..count)),
        Err(error) if is_later(&error) => {}
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => return Err(ENDED),
        Err(error) => return Err(error.into()),
    }
    Ok(())
}

fn read(line: &mut UnixStream, into: &mut Vec<u8>) -> Result<(), ImageError> {
    let mut buffer = [0; 4096];
    loop {
        match line.read(&mut buffer) {
            Ok(0) => return Err(ENDED),
            Ok(count) => into.extend_from_slice(&buffer[..count]),
            Err(error) if is_later(&error) => return Ok(()),
            Err(error) => return Err(error.into()),
        }
    }
}

fn is_later(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted)
}

/// An emulator that is not connected yet; ended when it never will be.
struct Emulator(Option<Child>);

impl Emulator {
    fn accept(&mut self, listener: &UnixListener) -> io::Result<UnixStream> {
        listener.set_nonblocking(true)?;
        let deadline = Instant::now() + PATIENCE;
        loop {
            match listener.accept() {
                Ok((line, _)) => {
                    line.set_nonblocking(true)?;
                    return Ok(line);
                }
                Err(error) if !is_later(&error) => return Err(error),
                Err(_) => {}
            }
            let ended = self.0.as_mut().map(Child::try_wait).transpose()?.flatten();
            if let Some(status) = ended {
                return Err(io::Error::other(format!("it ended at once: {status}")));
            }
            if Instant::now() > deadline {
                return Err(io::ErrorKind::TimedOut.into());
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        if let Some(emulator) = self.0.as_mut() {
            end(emulator);
        }
    }
}

/// A folder for the sockets; it goes when both are connected.
struct Folder(PathBuf);

impl Folder {
    fn new() -> io::Result<Self> {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("trundle-image-{}-{number}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir(&path)?;
        Ok(Self(path))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left behind is two empty files in the folder for such things.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
