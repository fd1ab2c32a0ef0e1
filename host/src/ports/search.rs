//! Where to look for a port that is lost: under its own names, under names that are new since the
//! job began, and a receiver at other speeds too.
//!
//! A port that stood there all the time is somebody else's and is never tried: what is behind it
//! may be another receiver. What is found under another name or at another speed counts only once
//! its bytes have shown what it is (see [`trundle_core::fitness::judge`]).

use super::PortChoice;
use super::adapter::Adapter;
use super::open::{aliases_of, list, open_now};
use super::probe::{OTHER_BAUDS, has_no_speed};
use super::serial::{BytePort, Reopen, Reopened};
use std::collections::VecDeque;
use trundle_core::capture::PortRole;
use trundle_core::fitness::Loss;

/// What a search does in the world.
pub trait Ports: Send {
    /// The names of all ports there are now.
    fn list(&mut self) -> Vec<String>;
    /// Other names of the same port.
    fn aliases(&mut self, name: &str) -> Vec<String>;
    /// Open a port at a speed, bits per second.
    ///
    /// # Errors
    /// Why it cannot be opened, in words.
    fn open(&mut self, name: &str, baud: u32) -> Result<Box<dyn BytePort>, String>;
    /// True for a port whose bytes have no speed.
    fn has_no_speed(&self, name: &str) -> bool;
}

/// The system's own ports.
pub struct SystemPorts;

impl Ports for SystemPorts {
    fn list(&mut self) -> Vec<String> {
        list().into_iter().map(|listed| listed.path).collect()
    }

    fn aliases(&mut self, name: &str) -> Vec<String> {
        aliases_of(name)
    }

    fn open(&mut self, name: &str, baud: u32) -> Result<Box<dyn BytePort>, String> {
        match open_now(name, baud) {
            Ok(port) => Ok(Box::new(port)),
            Err(fault) => Err(format!("{name}: {fault}")),
        }
    }

    fn has_no_speed(&self, name: &str) -> bool {
        has_no_speed(name)
    }
}

/// A port to try.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Candidate {
    name: String,
    baud: u32,
    /// Its own name and speed, and no reason to question them: no proof is asked for.
    trusted: bool,
}

/// The search for one part's port.
pub struct Search {
    role: PortRole,
    ports: Box<dyn Ports>,
    /// Names of this port, the one in use first.
    own: Vec<String>,
    /// Names of the other parts' ports when the job began: they may have changed places.
    partner: Vec<String>,
    /// All ports when the job began.
    before: Vec<String>,
    baud: u32,
    /// What came under its own name was not it.
    doubted: bool,
    queue: VecDeque<Candidate>,
    given: Option<Candidate>,
}

impl Search {
    /// For the port of `role`, open now as `choice`, beside its `partners`.
    #[must_use]
    pub fn new(
        role: PortRole,
        choice: &PortChoice,
        partners: &[&PortChoice],
        mut ports: Box<dyn Ports>,
    ) -> Self {
        let mut names = |choice: &PortChoice| {
            let mut names = vec![choice.path.clone()];
            names.extend(ports.aliases(&choice.path));
            names
        };
        let own = names(choice);
        let partner = partners.iter().flat_map(|partner| names(partner)).collect();
        let before = ports.list();
        let (queue, given) = (VecDeque::new(), None);
        Self { role, ports, own, partner, before, baud: choice.baud, doubted: false, queue, given }
    }

    fn fill(&mut self, why: Loss) {
        let baud = self.baud;
        let trusted = !self.doubted;
        let at = |name: &str, baud, trusted| Candidate { name: name.to_owned(), baud, trusted };
        let new: Vec<String> = self
            .ports
            .list()
            .into_iter()
            .filter(|name| !self.before.contains(name))
            .chain(self.partner.iter().cloned())
            .filter(|name| !self.own.contains(name))
            .collect();
        let own = self.own.iter().map(|name| at(name, baud, trusted));
        let others = new.iter().map(|name| at(name, baud, false));
        let mut same_speed: Vec<Candidate> = own.chain(others).collect();
        if why == Loss::Foreign {
            // What came in its place says where it is: the two parts have changed places.
            same_speed.sort_by_key(|candidate| !self.partner.contains(&candidate.name));
        }
        let mut other_speeds = Vec::new();
        if self.role == PortRole::Receiver {
            let names = self.own.iter().take(1).chain(&new);
            for name in names.filter(|name| !self.ports.has_no_speed(name)) {
                let speeds = OTHER_BAUDS.into_iter().chain([super::open::BOARD_BAUD]);
                other_speeds.extend(speeds.filter(|&b| b != baud).map(|b| at(name, b, false)));
            }
        }
        // Bytes that cannot be read at this speed are most likely readable at another.
        if why == Loss::Unreadable {
            std::mem::swap(&mut same_speed, &mut other_speeds);
        }
        self.queue.extend(same_speed);
        self.queue.extend(other_speeds);
    }
}

impl Search {
    /// An adapter only once it listens.
    fn listening(&self, port: Box<dyn BytePort>) -> Result<Box<dyn BytePort>, String> {
        if self.role != PortRole::Bus {
            return Ok(port);
        }
        let adapter = Adapter::listen_only(port).map_err(|fault| fault.to_string())?;
        Ok(Box::new(adapter))
    }
}

impl Reopen for Search {
    fn next(&mut self, why: Loss) -> Result<Reopened, String> {
        self.doubted |= why != Loss::Gone;
        if self.queue.is_empty() {
            self.fill(why);
        }
        let mut words = String::new();
        while let Some(candidate) = self.queue.pop_front() {
            match self.ports.open(&candidate.name, candidate.baud) {
                Ok(port) => {
                    let port = match self.listening(port) {
                        Ok(port) => port,
                        Err(fault) => {
                            words = fault;
                            continue;
                        }
                    };
                    let Candidate { name, baud, trusted } = &candidate;
                    let place = (!trusted).then(|| format!("{name} at {baud} baud"));
                    self.given = Some(candidate);
                    return Ok(Reopened { port, place });
                }
                Err(fault) if words.is_empty() => words = fault,
                Err(_) => {}
            }
        }
        Err(words)
    }

    fn taken(&mut self) {
        self.queue.clear();
        self.doubted = false;
        let Some(Candidate { name, baud, .. }) = self.given.take() else { return };
        self.baud = baud;
        let mut names = vec![name];
        names.extend(self.ports.aliases(&names[0]));
        let others = std::mem::take(&mut self.own).into_iter();
        names.extend(others.filter(|other| !names.contains(other)).collect::<Vec<_>>());
        self.own = names;
    }
}
