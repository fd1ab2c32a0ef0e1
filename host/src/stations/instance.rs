//! One program for one data folder: the second finds the first, and opens its page.
//!
//! The first holds a lock, which the system takes back however it ends, and says in a private file
//! where its page is. What a killed program left in that file does no harm: nobody answers there,
//! or not what only the program that wrote the file can.

use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::store::place::DataFolder;
use crate::web::guard::{OWN_HEADER, OWN_HEADER_VALUE};
use crate::web::latch::Latch;
use serde::{Deserialize, Serialize};
use std::fs::{File, TryLockError};
use std::io::{self, Read as _, Write as _};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::time::{Duration, Instant};
use trundle_show::words::opening as words;

/// Held by the program whose page it is.
const LOCK: &str = "page.lock";
/// Says where the page is.
const FILE: &str = "page.json";
/// One that has just begun says so within this time.
const PATIENCE: Duration = Duration::from_secs(4);
/// One that is there answers within this time.
const ANSWER: Duration = Duration::from_secs(2);
/// Between two looks.
const LOOK: Duration = Duration::from_millis(100);
/// More than the answer has.
const ANSWER_MAX: u64 = 4096;

/// Where the page of a program is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Said {
    port: u16,
    /// Whoever can read it may do everything on the page.
    latch: String,
    /// Other devices can open it too.
    lan: bool,
}

/// This program is the one of its data folder, until it is dropped.
#[derive(Debug)]
pub struct Own {
    place: DataFolder,
    _lock: Option<File>,
    said: bool,
}

/// A program that runs already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Other {
    /// Its port.
    pub port: u16,
    /// Other devices can open it too.
    pub lan: bool,
    /// A link to join it, for one use.
    pub link: String,
}

/// Who has the data folder.
#[derive(Debug)]
pub enum Found {
    /// This program, from now on.
    Own(Own),
    /// Another one, which answers.
    Other(Other),
}

/// Find out.
///
/// # Errors
/// [`Trouble`] of code 4 for a program that holds the folder and does not answer, 6 for a folder
/// that cannot be written, 70 without random numbers.
pub fn find(place: &DataFolder) -> Result<Found, Trouble> {
    place.make()?;
    let path = place.folder().join(LOCK);
    let lock = files::open_own(&path).map_err(|error| {
        let what = format!("{} cannot be opened: {error}.", path.display());
        let [means, next] = words::NO_LOCK;
        Trouble::new(exit::STORAGE, what, means, next)
    })?;
    private(&lock);
    let until = Instant::now() + PATIENCE;
    loop {
        let held = match lock.try_lock() {
            Ok(()) => return Ok(Found::Own(Own::new(place, Some(lock)))),
            Err(TryLockError::WouldBlock) => true,
            // A disk without locks: what the file says is all that is known.
            Err(TryLockError::Error(_)) => false,
        };
        if let Some(other) = ask(place)? {
            return Ok(Found::Other(other));
        }
        if !held {
            return Ok(Found::Own(Own::new(place, None)));
        }
        if Instant::now() >= until {
            let [what, means, next] = words::DEAF;
            return Err(Trouble::new(exit::BLOCKED, what, means, next));
        }
        std::thread::sleep(LOOK);
    }
}

/// The program that the file tells of, if it is there and is the one that wrote it.
fn ask(place: &DataFolder) -> Result<Option<Other>, Trouble> {
    let Ok(text) = files::read_text(&place.folder().join(FILE)) else { return Ok(None) };
    let Ok(said) = serde_json::from_str::<Said>(&text) else { return Ok(None) };
    let Some(latch) = Latch::read(&said.latch) else { return Ok(None) };
    let chance =
        |error: io::Error| Trouble::internal(format!("There are no random numbers ({error})."));
    let question = Latch::question().map_err(chance)?;
    let answer = answered(said.port, &question).unwrap_or_default();
    if latch.answer(&question).is_none_or(|own| own != answer) {
        return Ok(None);
    }
    let link = address(said.port, &latch.once().map_err(chance)?);
    Ok(Some(Other { port: said.port, lan: said.lan, link }))
}

/// A link to join on this computer.
#[must_use]
pub fn address(port: u16, token: &str) -> String {
    format!("http://{}/join/{token}", own_address(port))
}

fn own_address(port: u16) -> SocketAddr {
    SocketAddr::from((Ipv4Addr::LOCALHOST, port))
}

/// What the server at this port of this computer answers to a question (HTTP/1.1, RFC 9112).
fn answered(port: u16, question: &str) -> io::Result<String> {
    let at = own_address(port);
    let mut stream = TcpStream::connect_timeout(&at, ANSWER)?;
    stream.set_read_timeout(Some(ANSWER))?;
    stream.set_write_timeout(Some(ANSWER))?;
    let asked = format!(
        "GET /alive/{question} HTTP/1.1\r\nHost: {at}\r\n{OWN_HEADER}: {OWN_HEADER_VALUE}\r\n\
         Connection: close\r\n\r\n"
    );
    stream.write_all(asked.as_bytes())?;
    let mut answer = String::new();
    stream.take(ANSWER_MAX).read_to_string(&mut answer)?;
    let (_, body) = answer.split_once("\r\n\r\n").ok_or(io::ErrorKind::InvalidData)?;
    Ok(body.trim().to_owned())
}

impl Own {
    fn new(place: &DataFolder, lock: Option<File>) -> Self {
        Self { place: place.clone(), _lock: lock, said: false }
    }

    /// Say where the page is, for whoever starts the program again.
    ///
    /// # Errors
    /// [`Trouble`] of code 6.
    pub fn say(&mut self, port: u16, latch: &Latch, lan: bool) -> Result<(), Trouble> {
        let said = Said { port, latch: latch.written(), lan };
        let text = serde_json::to_string(&said).map_err(|e| Trouble::internal(e.to_string()))?;
        let path = self.place.folder().join(FILE);
        files::replace_text(&path, &text)?;
        if let Ok(file) = File::open(&path) {
            private(&file);
        }
        self.said = true;
        Ok(())
    }
}

impl Drop for Own {
    fn drop(&mut self) {
        if self.said {
            // One that stays does no harm: nobody answers there any more.
            let _ = std::fs::remove_file(self.place.folder().join(FILE));
        }
    }
}

/// For the eyes of its owner alone; the folder is so too.
fn private(file: &File) {
    #[cfg(unix)]
    {
        let own = std::os::unix::fs::PermissionsExt::from_mode(0o600);
        // A disk without rights has none to give.
        let _ = file.set_permissions(own);
    }
    #[cfg(not(unix))]
    let _ = file;
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use std::net::TcpListener;

    fn folder(name: &str) -> DataFolder {
        let own = format!("trundle-instance-{name}-{}", std::process::id());
        let path = std::env::temp_dir().join(own);
        let _ = std::fs::remove_dir_all(&path);
        DataFolder::at(&path)
    }

    #[test]
    fn what_a_killed_program_left_does_no_harm() {
        let place = folder("stale");
        place.make().unwrap();
        // A program of somebody else's has the port meanwhile, and answers what it likes.
        let door = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        let port = door.local_addr().unwrap().port();
        let stranger = std::thread::spawn(move || {
            let (mut stream, _) = door.accept().unwrap();
            let mut asked = [0; 512];
            let _ = stream.read(&mut asked).unwrap();
            stream.write_all(b"HTTP/1.1 200 OK\r\n\r\nyes, it is me").unwrap();
        });
        let latch = Latch::random().unwrap();
        let said = Said { port, latch: latch.written(), lan: false };
        let path = place.folder().join(FILE);
        for text in [serde_json::to_string(&said).unwrap(), "{".to_owned(), String::new()] {
            std::fs::write(&path, text).unwrap();
            assert_eq!(ask(&place).unwrap(), None);
            assert!(matches!(find(&place).unwrap(), Found::Own(_)));
        }
        stranger.join().unwrap();
        std::fs::remove_dir_all(place.folder()).unwrap();
    }

    #[test]
    fn the_file_is_private_and_goes_with_its_program() {
        let place = folder("own");
        let Found::Own(mut own) = find(&place).unwrap() else { panic!("taken") };
        own.say(49_100, &Latch::random().unwrap(), true).unwrap();
        let path = place.folder().join(FILE);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            for file in [&path, &place.folder().join(LOCK)] {
                assert_eq!(file.metadata().unwrap().permissions().mode() & 0o777, 0o600);
            }
        }
        drop(own);
        assert!(!path.exists());
        std::fs::remove_dir_all(place.folder()).unwrap();
    }
}
