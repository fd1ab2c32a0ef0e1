//! A bench of ports that come, go and change names while a job goes on.

use crate::fakes::Heard;
use std::collections::BTreeMap;
use std::io::{self, ErrorKind, Read, Write};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tempfile::TempDir;
use trundle::ports::PortChoice;
use trundle::ports::adapter::Adapter;
use trundle::ports::open::BOARD_BAUD;
use trundle::ports::search::{Ports, Search};
use trundle::ports::serial::{BytePort, Opener};
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup, OpenPart, Parts};
use trundle_core::capture::PortRole;
use trundle_core::session::Keeps;
use trundle_protocol::WireMessage as _;
use trundle_protocol::message::{Counts, Hello, Identity, Stamp, ToHost};
use trundle_protocol::units::{BoardMicros, Fixed32, Impulses};

/// How often a device sends.
const SENDS_EVERY: Duration = Duration::from_millis(100);

/// What is behind a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Device {
    /// A counter board of this identity.
    Board(u64),
    /// A receiver at this speed.
    Receiver(u32),
    /// An adapter of a bus, and whether it does what it is told when it is to listen only.
    Adapter(bool),
}

/// Which device is at which name, and the how-manieth plug-in it is.
#[derive(Default)]
struct State {
    at: BTreeMap<String, (Device, u64)>,
    plugged: u64,
    opened: Vec<String>,
    listed: usize,
    sequence: u32,
    /// What adapters were sent, all of it, and what they have not answered yet.
    told: Vec<u8>,
    command: Vec<u8>,
    answers: Vec<u8>,
    listening: bool,
}

/// The bench.
#[derive(Clone, Default)]
pub struct Bench(Arc<Mutex<State>>);

impl Bench {
    pub fn plug(&self, name: &str, device: Device) {
        let mut state = self.0.lock().unwrap();
        state.plugged += 1;
        let plugged = state.plugged;
        state.at.insert(name.to_owned(), (device, plugged));
    }

    pub fn unplug(&self, name: &str) {
        self.0.lock().unwrap().at.remove(name);
    }

    /// The receiver at `name` goes on at another speed; its port stays open.
    pub fn set_speed(&self, name: &str, baud: u32) {
        self.0.lock().unwrap().at.get_mut(name).unwrap().0 = Device::Receiver(baud);
    }

    /// What is behind these two names changes places; both ports stay open.
    pub fn swap(&self, a: &str, b: &str) {
        let mut state = self.0.lock().unwrap();
        let (at_a, at_b) = (state.at[a].0, state.at[b].0);
        state.at.get_mut(a).unwrap().0 = at_b;
        state.at.get_mut(b).unwrap().0 = at_a;
    }

    /// Every port that was opened, in order.
    pub fn opened(&self) -> Vec<String> {
        self.0.lock().unwrap().opened.clone()
    }

    /// Every byte that an adapter was ever sent.
    pub fn told_adapters(&self) -> Vec<u8> {
        self.0.lock().unwrap().told.clone()
    }

    /// How often all ports were listed: each search begins with that.
    pub fn listed(&self) -> usize {
        self.0.lock().unwrap().listed
    }

    fn search(&self, role: PortRole, choice: &PortChoice, partners: &[&PortChoice]) -> Opener {
        Box::new(Search::new(role, choice, partners, Box::new(self.clone())))
    }

    /// The same as [`Self::job`], with a bus adapter.
    pub fn job_with_bus(&self, board: &str, receiver: &str, bus: &str) -> (LiveJob, TempDir) {
        let choice = |path: &str| PortChoice { path: path.to_owned(), baud: BOARD_BAUD };
        let bus = choice(bus);
        let mut ports = self.clone();
        let port = Adapter::listen_only(ports.open(&bus.path, bus.baud).unwrap()).unwrap();
        let others = [choice(board), choice(receiver)];
        let part: OpenPart =
            (Box::new(port), self.search(PortRole::Bus, &bus, &[&others[0], &others[1]]));
        self.job_of(board, (receiver, BOARD_BAUD), Some((bus, part)))
    }

    /// A job with the board at `board` and the receiver at `receiver`.
    pub fn job(&self, board: &str, receiver: (&str, u32)) -> (LiveJob, TempDir) {
        self.job_of(board, receiver, None)
    }

    fn job_of(
        &self,
        board: &str,
        receiver: (&str, u32),
        bus: Option<(PortChoice, OpenPart)>,
    ) -> (LiveJob, TempDir) {
        let folder = tempfile::tempdir().unwrap();
        let capture = folder.path().join("x.capture");
        let choice = |path: &str, baud| PortChoice { path: path.to_owned(), baud };
        let (board, receiver) = (choice(board, BOARD_BAUD), choice(receiver.0, receiver.1));
        let (bus, bus_part) = bus.unzip();
        let beside = |other| std::iter::once(other).chain(&bus).collect::<Vec<_>>();
        let mut ports = self.clone();
        let parts = Parts {
            writer: CaptureWriter::create(&capture).unwrap(),
            board: Some((
                ports.open(&board.path, board.baud).unwrap(),
                self.search(PortRole::Board, &board, &beside(&receiver)),
            )),
            receiver: Some((
                ports.open(&receiver.path, receiver.baud).unwrap(),
                self.search(PortRole::Receiver, &receiver, &beside(&board)),
            )),
            bus: bus_part,
        };
        let setup = LiveSetup {
            board: Some(board),
            receiver: Some(receiver),
            bus,
            capture,
            course_text: None,
            keeps: Keeps::Passes,
            pace: 1.0,
            started_utc: Some("2026-03-30T10:15:00Z".to_owned()),
            practice: false,
        };
        (LiveJob::start_with(&setup, parts).unwrap(), folder)
    }
}

/// The wheel-based speed of control unit F0: 2.000 m/s, 1 km.
pub const FRAME: &[u8] = b"T18FE48F08D00740420F00FFFD\r";

impl State {
    fn adapter(&mut self, bytes: &[u8], listens: bool) {
        self.told.extend_from_slice(bytes);
        for &byte in bytes {
            if byte != b'\r' {
                self.command.push(byte);
                continue;
            }
            let done = match &std::mem::take(&mut self.command)[..] {
                b"C" => std::mem::take(&mut self.listening),
                b"S5" => !self.listening,
                b"L" if listens => !std::mem::replace(&mut self.listening, true),
                _ => false,
            };
            self.answers.push(if done { b'\r' } else { 0x07 });
        }
    }
}

impl Ports for Bench {
    fn list(&mut self) -> Vec<String> {
        let mut state = self.0.lock().unwrap();
        state.listed += 1;
        state.at.keys().cloned().collect()
    }

    fn aliases(&mut self, _: &str) -> Vec<String> {
        Vec::new()
    }

    fn open(&mut self, name: &str, baud: u32) -> Result<Box<dyn BytePort>, String> {
        let mut state = self.0.lock().unwrap();
        let Some(&(_, plugged)) = state.at.get(name) else {
            return Err(format!("{name}: there is no such port"));
        };
        state.opened.push(name.to_owned());
        let last = Instant::now();
        Ok(Box::new(Open { bench: self.clone(), name: name.to_owned(), baud, plugged, last }))
    }

    fn has_no_speed(&self, _: &str) -> bool {
        false
    }
}

struct Open {
    bench: Bench,
    name: String,
    baud: u32,
    plugged: u64,
    last: Instant,
}

impl Read for Open {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        std::thread::sleep(Duration::from_millis(10));
        let mut state = self.bench.0.lock().unwrap();
        let device = match state.at.get(&self.name) {
            Some(&(device, plugged)) if plugged == self.plugged => device,
            _ => return Ok(0),
        };
        if matches!(device, Device::Adapter(_)) && !state.answers.is_empty() {
            let bytes = std::mem::take(&mut state.answers);
            buffer[..bytes.len()].copy_from_slice(&bytes);
            return Ok(bytes.len());
        }
        if self.last.elapsed() < SENDS_EVERY {
            return Err(ErrorKind::TimedOut.into());
        }
        self.last = Instant::now();
        state.sequence += 1;
        let bytes = match device {
            Device::Board(id) => frames(id, state.sequence),
            Device::Receiver(baud) if baud == self.baud => sentences(state.sequence),
            Device::Adapter(_) if state.listening => FRAME.to_vec(),
            Device::Adapter(_) => return Err(ErrorKind::TimedOut.into()),
            // What a wrong speed makes of text: hardly half of it looks like text.
            Device::Receiver(_) => sentences(state.sequence).iter().map(|b| b ^ 0xA5).collect(),
        };
        buffer[..bytes.len()].copy_from_slice(&bytes);
        Ok(bytes.len())
    }
}

impl Write for Open {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.bench.0.lock().unwrap();
        if let Some(&(Device::Adapter(listens), plugged)) = state.at.get(&self.name)
            && plugged == self.plugged
        {
            state.adapter(bytes, listens);
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl BytePort for Open {
    fn set_wait(&mut self, _: Duration) {}
}

fn frames(id: u64, sequence: u32) -> Vec<u8> {
    let stamp = |sequence| Stamp {
        boot_id: Fixed32(5),
        sequence: Fixed32(sequence),
        board_us: BoardMicros(1_000_000 + u64::from(sequence) * 50_000),
    };
    let board_id = Identity(id);
    let hello = Hello { stamp: stamp(2 * sequence), board_id, capabilities: 1, ..Hello::default() };
    let mut counts = Counts { stamp: stamp(2 * sequence + 1), ..Counts::default() };
    counts.channels[0].impulses = Impulses(u64::from(sequence) * 3);
    let hello = ToHost::Hello(hello).frame();
    [&[0], hello.as_bytes(), ToHost::Counts(counts).frame().as_bytes()].concat()
}

fn sentences(sequence: u32) -> Vec<u8> {
    let seconds = f64::from(sequence) / 10.0;
    let time = format!("10{:02}{:04.1}", (seconds / 60.0) as u32 % 60, seconds % 60.0);
    let rmc = format!("GNRMC,{time},A,5000.0000,N,00800.0000,E,0.0,0.0,300326,,,A");
    let gga = format!("GNGGA,{time},5000.0000,N,00800.0000,E,1,12,0.8,100.0,M,47.0,M,,");
    let line = |body: &str| {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}\r\n")
    };
    (line(&rmc) + &line(&gga)).into_bytes()
}

/// Wait until an event fits; tells after how many seconds.
pub fn seconds_until(heard: &mut Heard, job: &LiveJob, fits: impl Fn(&LiveEvent) -> bool) -> f64 {
    let started = Instant::now();
    heard.until(job, fits);
    started.elapsed().as_secs_f64()
}
