//! Opening a port to find out what is behind it.

use super::open::{BOARD_BAUD, OpenFault, READ_WAIT, WRITE_WAIT, open};
use crate::shell::stop;
use serialport::SerialPort;
use std::io::ErrorKind;
use std::time::{Duration, Instant};
use trundle_core::fitness::content::{Content, PortContent, ReceiverFinding};
use trundle_core::fitness::firmware;
use trundle_core::wire::bus::setup::{CLOSE, VERSION};
use trundle_core::wire::fix::quality_words;
use trundle_protocol::WireMessage as _;
use trundle_protocol::message::{CHANNELS, Hello, HelloRequest, ToBoard};
use trundle_protocol::units::{Channel, Fixed32};

/// How long a port is listened to at the first speed. A board that resets when its port is
/// opened needs most of it.
const LISTEN: Duration = Duration::from_secs(3);
/// How long at each other speed.
const LISTEN_OTHER: Duration = Duration::from_millis(700);
/// How long to listen at the first speed when what comes is neither frames nor sentences.
const LISTEN_NOISE: Duration = Duration::from_millis(1500);
/// So long a port is only listened to. What sends by itself shows within it what it is.
const LISTEN_FIRST: Duration = Duration::from_millis(300);
/// How often a question is asked again.
const ASK_AGAIN: Duration = Duration::from_millis(500);
/// How much longer where a sentence has come: a slow receiver sends one a second.
const LISTEN_ON: Duration = Duration::from_millis(2300);
/// Usual speeds of receivers, bits per second.
pub(super) const OTHER_BAUDS: [u32; 8] =
    [9_600, 38_400, 460_800, 57_600, 230_400, 921_600, 4_800, 19_200];
/// A line fuller than this loses sentences sooner or later.
const LINE_FULL: f64 = 0.9;
/// Bits on the line for each byte: start, eight data, stop.
const BITS_PER_BYTE: f64 = 10.0;

/// What was found at one port.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    /// The name it was opened by.
    pub path: String,
    /// The speed at which the finding was made, bits per second.
    pub baud: u32,
    /// The finding, or why there is none.
    pub found: Result<PortContent, OpenFault>,
}

impl Probe {
    /// True for a board that can be used.
    #[must_use]
    pub fn is_board(&self) -> bool {
        matches!(self.found, Ok(PortContent::Board { .. }))
    }

    /// True for a satellite receiver.
    #[must_use]
    pub fn is_receiver(&self) -> bool {
        matches!(self.found, Ok(PortContent::Receiver(_)))
    }

    /// True for an adapter of the implement bus.
    #[must_use]
    pub const fn is_adapter(&self) -> bool {
        matches!(self.found, Ok(PortContent::Adapter(_)))
    }

    /// Identity of the board, when one answered.
    #[must_use]
    pub fn board_id(&self) -> Option<u64> {
        match &self.found {
            Ok(PortContent::Board { hello: Some(hello) }) => Some(hello.board_id.0),
            _ => None,
        }
    }

    /// What it is, in one word or two; why it is taken to be that; and what to do about it, which
    /// is empty when all is well.
    #[must_use]
    pub fn words(&self) -> (&'static str, String, String) {
        let (role, why, next) = match &self.found {
            Err(fault) => {
                let role = match fault {
                    OpenFault::NoPermission => "no permission",
                    OpenFault::Taken(_) => "taken",
                    OpenFault::NoSuchPort => "not there",
                    OpenFault::NotAPort(_) => "not a port",
                    OpenFault::Failed(_) => "not usable",
                };
                return (role, fault.to_string(), fault.next());
            }
            Ok(PortContent::Receiver(receiver)) => {
                return ("satellite receiver", self.sends(receiver), self.line_full(receiver));
            }
            Ok(PortContent::Board { hello: Some(hello) }) => {
                return ("counter board", board_words(hello), firmware_next(hello));
            }
            Ok(PortContent::Board { hello: None }) => (
                "counter board",
                "sends the frames of a counter board, but did not answer".to_owned(),
                "Check the wire towards the board (host TX to board RX).",
            ),
            Ok(PortContent::OtherVersion(version)) => (
                "counter board",
                format!("sends frames of version {version}, which this program does not speak"),
                "Bring program and firmware to the same version.",
            ),
            Ok(PortContent::Adapter(version)) => {
                let version = version.as_ref().map(|v| format!(", version {v}"));
                let why = "passes on frames of the implement bus".to_owned();
                ("bus adapter", why + &version.unwrap_or_default(), "")
            }
            Ok(PortContent::Silent) => (
                "silent",
                format!("no data received in {} s", LISTEN.as_secs()),
                "Is it switched on? A receiver must be set to send sentences.",
            ),
            Ok(PortContent::Text(bytes)) => (
                "text",
                format!("{bytes} bytes of text received, 0 frames and no satellite sentences"),
                "This looks like a console, not an instrument.",
            ),
            Ok(PortContent::Binary(bytes)) => (
                "unknown",
                format!("{bytes} bytes received, 0 frames and no satellite sentences at any speed"),
                "A receiver may be set to a binary form: set it to NMEA 0183 sentences. If its \
                 speed is unusual, name it with --receiver-speed.",
            ),
        };
        (role, why, next.to_owned())
    }

    fn sends(&self, receiver: &ReceiverFinding) -> String {
        let mut words = vec![format!("sends {}", receiver.kinds.join(" "))];
        words.extend(receiver.rate_hz.map(|hz| format!("{hz:.0} fixes a second")));
        words.extend(receiver.quality.map(|quality| quality_words(quality).to_owned()));
        words.push(format!("{} baud", self.baud));
        words.join(", ")
    }

    fn line_full(&self, receiver: &ReceiverFinding) -> String {
        let bits = receiver.bytes_per_s.unwrap_or(0.0) * BITS_PER_BYTE;
        let share = bits / f64::from(self.baud);
        if share <= LINE_FULL {
            return String::new();
        }
        format!(
            "Its line is {:.0} % full and will lose sentences: raise its speed, or turn off the \
             sentences that are not needed (GGA and RMC are enough).",
            share * 100.0
        )
    }
}

fn board_words(hello: &Hello) -> String {
    let inputs: Vec<&str> = (0..CHANNELS)
        .filter(|bit| hello.capabilities & (1 << bit) != 0)
        .map(|bit| Channel::ALL[bit].name())
        .collect();
    let (id, stands) = (hello.board_id.0, firmware::stands(hello.firmware));
    format!("board {id:016x}, {stands}, inputs {}", inputs.join(" "))
}

/// What another firmware than the expected one means, and what to do about it.
fn firmware_next(hello: &Hello) -> String {
    let age = firmware::age(hello.firmware);
    let parts = [firmware::means(age), firmware::next(age)];
    parts.iter().filter(|part| !part.is_empty()).copied().collect::<Vec<_>>().join(" ")
}

/// What is behind each of these ports, all at once. `baud`, where given, is the only speed tried
/// on that port.
#[must_use]
pub fn probe_all(paths: &[(String, Option<u32>)]) -> Vec<Probe> {
    let failed = |path: &str| Probe {
        path: path.to_owned(),
        baud: BOARD_BAUD,
        found: Err(OpenFault::Failed("looking at it failed".to_owned())),
    };
    std::thread::scope(|scope| {
        let ports = paths.iter().enumerate();
        let workers: Vec<_> = ports
            .map(|(at, (path, baud))| {
                let look = move || probe(path, *baud, nonce(at));
                (path, std::thread::Builder::new().spawn_scoped(scope, look))
            })
            .collect();
        let ended = workers.into_iter();
        let found = |(path, worker): (&String, std::io::Result<_>)| match worker {
            Ok(worker) => {
                let worker: std::thread::ScopedJoinHandle<'_, Probe> = worker;
                worker.join().unwrap_or_else(|_| failed(path))
            }
            // Without a thread one is looked at after the other.
            Err(_) => probe(path, None, nonce(0)),
        };
        ended.map(found).collect()
    })
}

/// Not 0, and not that of an earlier run: an old answer must not pass for a new one.
#[must_use]
pub fn nonce(salt: usize) -> u32 {
    let wall = crate::shell::clock::wall_utc_ns() as u64;
    ((wall >> 10) as u32).wrapping_add((salt as u32).wrapping_mul(0x9E37_79B9)) | 1
}

/// What is behind this port.
#[must_use]
pub fn probe(path: &str, baud: Option<u32>, nonce: u32) -> Probe {
    let first = baud.unwrap_or(BOARD_BAUD);
    let mut probe = look(path, first, nonce, LISTEN);
    if baud.is_some() || !matches!(probe.found, Ok(PortContent::Binary(_))) || has_no_speed(path) {
        return probe;
    }
    for other in OTHER_BAUDS.into_iter().take_while(|_| !stop::wanted()) {
        let there = look(path, other, nonce, LISTEN_OTHER);
        if there.is_receiver() || there.is_board() {
            return there;
        }
        if let (
            Ok(PortContent::Binary(sum)),
            Ok(PortContent::Binary(more) | PortContent::Text(more)),
        ) = (&mut probe.found, &there.found)
        {
            *sum += more;
        }
    }
    probe
}

/// Pseudo-terminals carry bytes at no speed, so there is no other one to try.
pub(super) fn has_no_speed(path: &str) -> bool {
    let device = std::path::Path::new(path).canonicalize();
    device.is_ok_and(|device| device.starts_with("/dev/pts"))
}

fn look(path: &str, baud: u32, nonce: u32, limit: Duration) -> Probe {
    let found = open(path, baud).and_then(|mut port| listen(port.as_mut(), nonce, limit));
    Probe { path: path.to_owned(), baud, found }
}

fn listen(
    port: &mut dyn SerialPort,
    nonce: u32,
    limit: Duration,
) -> Result<PortContent, OpenFault> {
    let started = Instant::now();
    let mut content = Content::new(nonce);
    let mut asked: Option<Instant> = None;
    let mut version_asked = false;
    let mut buffer = [0; 1024];
    let more = |content: &Content| if content.hopeful() { LISTEN_ON } else { Duration::ZERO };
    while started.elapsed() < limit + more(&content) && !content.settled() && !stop::wanted() {
        if started.elapsed() >= LISTEN_FIRST && asked.is_none_or(|at| at.elapsed() >= ASK_AGAIN) {
            asked = Some(Instant::now());
            ask(port, &content, nonce);
        }
        if content.adapter_answers() == 1 && !version_asked {
            version_asked = true;
            write(port, VERSION);
        }
        let count = match port.read(&mut buffer) {
            Ok(0) => return Err(OpenFault::Failed("it closed while it was looked at".to_owned())),
            Ok(count) => count,
            Err(error) if passing(error.kind()) => 0,
            Err(error) => {
                return Err(OpenFault::Failed(crate::shell::out::scrub(&error.to_string(), 120)));
            }
        };
        content.push(&buffer[..count]);
        let noise = matches!(content.finding(), PortContent::Text(_) | PortContent::Binary(_));
        if noise && !content.hopeful() && started.elapsed() > LISTEN_NOISE {
            break;
        }
    }
    Ok(content.finding())
}

/// Errors of a read that mean "nothing yet".
pub(super) const fn passing(kind: ErrorKind) -> bool {
    matches!(kind, ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

/// A board is asked who it is once its frames have shown that it is one, so that an adapter is
/// never given anything but its own commands. What is silent may be an adapter: it answers when
/// its channel is closed, and nothing else takes harm from that command.
fn ask(port: &mut dyn SerialPort, content: &Content, nonce: u32) {
    if content.is_boards() {
        write(port, &hello_request(nonce));
    } else if content.counted().bytes == 0 {
        write(port, CLOSE);
    }
}

/// Whether it got through shows in the answer.
fn write(port: &mut dyn SerialPort, bytes: &[u8]) {
    let _ = port.set_timeout(WRITE_WAIT);
    let _ = port.write_all(bytes);
    let _ = port.set_timeout(READ_WAIT);
}

/// The bytes that ask a board who it is. The leading zero ends whatever was on the line before.
#[must_use]
pub fn hello_request(nonce: u32) -> Vec<u8> {
    command_bytes(&ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(nonce) }))
}

/// The bytes of a command to the board, with the same leading zero.
#[must_use]
pub fn command_bytes(command: &ToBoard) -> Vec<u8> {
    [&[0], command.frame().as_bytes()].concat()
}
