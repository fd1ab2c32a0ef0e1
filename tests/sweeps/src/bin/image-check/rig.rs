//! A board on the bench: an image that runs, what is done to it, and what the host hears.

use std::path::Path;
use trundle_bench::{Account, Start, Stimulus};
use trundle_protocol::message::{Counts, Hello, HelloRequest, Stamp, ToBoard, ToHost};
use trundle_protocol::units::Fixed32;
use trundle_protocol::{Deframer, WireMessage as _};
use trundle_sim::image::{HostLine, Image};

/// Which image, and what runs it.
#[derive(Clone, Copy, Debug)]
pub struct Subject<'a> {
    pub image: &'a Path,
    pub harness: &'a Path,
    pub line: HostLine,
}

/// A board that nothing is wrong with.
pub const START: Start = Start {
    unique_id: 0xE660_3811_2A0B_5C17,
    // Wraps some seconds into each run.
    timer_start: u32::MAX - 3_000_000,
    supply_mv: 12_600,
    pulse_ns: 10_000,
    drop_every: 0,
};
/// Longest time from power-on until the host hears the board, microseconds.
const CONNECT_US: u64 = 3_000_000;
/// One look at it while that lasts, microseconds.
const LOOK_US: u64 = 20_000;

/// A board, running.
pub struct Rig {
    image: Image,
    deframer: Deframer<ToHost>,
    nonce: u32,
    /// Time since the start, microseconds.
    pub now_us: u64,
    /// When the first hello had come, microseconds.
    pub first_hello_us: u64,
    pub heard: Heard,
}

/// What came from the board.
#[derive(Default)]
pub struct Heard {
    /// All that was said since it was last taken.
    pub said: Vec<ToHost>,
    /// All bytes, where somebody wants them.
    pub bytes: Vec<u8>,
    pub frames: u64,
    /// Frames damaged, or out of sequence within one boot.
    pub broken: u64,
    pub counts: Option<Counts>,
    pub hello: Option<Hello>,
    pub supply_mv: Option<u16>,
    pub marks: u32,
    last: Option<Stamp>,
}

impl Heard {
    fn take(&mut self, message: ToHost) {
        self.frames += 1;
        let stamp = message.stamp();
        if let Some(last) = self.last {
            let follows = stamp.sequence.0 == last.sequence.0.wrapping_add(1);
            self.broken += u64::from(stamp.boot_id == last.boot_id && !follows);
        }
        self.last = Some(stamp);
        match message {
            ToHost::Counts(counts) => self.counts = Some(counts),
            ToHost::Hello(hello) => self.hello = Some(hello),
            ToHost::Mark(mark) => self.marks = mark.number.0,
            ToHost::Health(health) => self.supply_mv = Some(health.supply_mv.0),
            _ => {}
        }
        self.said.push(message);
    }

    /// Impulses of the last report.
    pub fn impulses(&self) -> [u64; 3] {
        self.counts.map_or([0; 3], |counts| counts.channels.map(|channel| channel.impulses.0))
    }
}

impl Rig {
    /// Power on.
    pub fn start(subject: Subject<'_>, start: &Start) -> Result<Self, String> {
        let image = Image::start(subject.image, subject.harness, subject.line, start);
        Ok(Self {
            image: image.map_err(|error| error.to_string())?,
            deframer: Deframer::new(),
            nonce: 0,
            now_us: 0,
            first_hello_us: 0,
            heard: Heard::default(),
        })
    }

    /// Power on, and wait until the host has an answer.
    pub fn connected(subject: Subject<'_>, start: &Start) -> Result<Self, String> {
        let mut rig = Self::start(subject, start)?;
        rig.connect()?;
        Ok(rig)
    }

    /// Asks who is there until somebody answers and reports.
    pub fn connect(&mut self) -> Result<Hello, String> {
        let from_us = self.now_us;
        self.heard.counts = None;
        while self.now_us < from_us + CONNECT_US {
            self.hail();
            self.run(LOOK_US)?;
            if let Some(hello) = self.answered().filter(|_| self.heard.counts.is_some()) {
                return Ok(hello);
            }
        }
        Err("the board does not answer the host".to_owned())
    }

    /// Asks who is there.
    pub fn hail(&mut self) {
        self.nonce += 1;
        self.ask(ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(self.nonce) }));
    }

    /// The answer to the last such question, if it has come.
    pub fn answered(&self) -> Option<Hello> {
        self.heard.hello.filter(|hello| hello.nonce == Fixed32(self.nonce))
    }

    /// The host sends something.
    pub fn ask(&mut self, message: ToBoard) {
        self.image.tell(message.frame().as_bytes());
    }

    /// Something happens at a time that has not come yet, microseconds.
    pub fn play(&mut self, at_us: u64, stimulus: Stimulus) {
        self.image.play(at_us, stimulus);
    }

    /// As [`Self::play`], nanoseconds.
    pub fn play_ns(&mut self, at_ns: u64, stimulus: Stimulus) {
        self.image.play_ns(at_ns, stimulus);
    }

    /// Something happens now.
    pub fn now(&mut self, stimulus: Stimulus) {
        self.image.play(self.now_us, stimulus);
    }

    /// Lets time pass, microseconds.
    pub fn run(&mut self, span_us: u64) -> Result<(), String> {
        self.run_to(self.now_us + span_us)
    }

    /// Lets time pass up to this.
    pub fn run_to(&mut self, at_us: u64) -> Result<(), String> {
        self.image.run_to(at_us).map_err(|error| error.to_string())?;
        self.now_us = at_us;
        let bytes = self.image.heard();
        let heard = &mut self.heard;
        self.deframer.push_slice(&bytes, |frame| match frame {
            Ok(message) => heard.take(message),
            Err(_) => heard.broken += 1,
        });
        heard.bytes.extend(bytes);
        if self.first_hello_us == 0 && heard.hello.is_some() {
            self.first_hello_us = at_us;
        }
        Ok(())
    }

    /// What the image needed so far.
    pub fn account(&mut self) -> Result<Account, String> {
        self.image.account(self.now_us).map_err(|error| error.to_string())
    }
}
