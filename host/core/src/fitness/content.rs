//! What the bytes of a port say about what is behind it. A function of the bytes alone.

mod counted;
mod times;

pub use counted::Counted;

use crate::wire::bus::adapter::{AdapterItem, AdapterReader};
use crate::wire::fix::Quality;
use crate::wire::nmea_splitter::LineSplitter;
use crate::wire::sentence::{SentenceFault, parse};
use std::collections::BTreeSet;
use times::{Times, time_and_quality};
use trundle_protocol::message::{Hello, ToHost};
use trundle_protocol::{Deframer, FrameFault};

/// Sentences with a sound checksum that make a receiver. By chance alone a line of text passes
/// the checksum once in 256.
const SENTENCES_ENOUGH: u64 = 3;
/// Frames of a bus that make an adapter: no other line of text looks like one, but a few bytes
/// may by chance.
const BUS_FRAMES_ENOUGH: u64 = 5;
/// Answers that make one, where nothing else came: to closing its channel, and to being asked for
/// its version.
const BUS_ANSWERS_ENOUGH: u64 = 2;
/// Kinds of sentences remembered; more than any receiver sends.
const KINDS_MAX: usize = 32;
/// Fewer bytes than this say nothing.
const BYTES_ENOUGH: u64 = 16;

/// Reads what comes and keeps count.
#[derive(Debug)]
pub struct Content {
    nonce: u32,
    deframer: Deframer<ToHost>,
    splitter: LineSplitter,
    counted: Counted,
    lines: u64,
    hello: Option<Hello>,
    answered: bool,
    /// Frames, and sentences since the last of them: the plugs of two ports may change places
    /// while both stay open, so what came last says what is there.
    frames: u64,
    sentences_lately: u64,
    newer: Option<u8>,
    bad_sentences: u64,
    kinds: BTreeSet<String>,
    times: Times,
    quality: Option<Quality>,
    bus: BusSide,
}

/// What an adapter of a bus sent.
#[derive(Debug, Default)]
struct BusSide {
    adapter: AdapterReader,
    /// Since the last frame of a board or sentence of a receiver.
    frames_lately: u64,
    version: Option<[u8; 4]>,
}

/// What is behind a port.
#[derive(Clone, Debug, PartialEq)]
pub enum PortContent {
    /// No data was received.
    Silent,
    /// Frames of a counter board.
    Board {
        /// Who it is; `None` when it sends but did not answer.
        hello: Option<Hello>,
    },
    /// Sound frames of a version that is not spoken here.
    OtherVersion(u8),
    /// Sentences of a satellite receiver.
    Receiver(ReceiverFinding),
    /// An adapter of the implement bus; its version, where it stated one.
    Adapter(Option<String>),
    /// Lines of text that are not sentences.
    Text(u64),
    /// Bytes that are neither, as at a wrong speed.
    Binary(u64),
}

/// What a receiver sends.
#[derive(Clone, Debug, PartialEq)]
pub struct ReceiverFinding {
    /// Talker and type of the sentences, such as `GNGGA`.
    pub kinds: Vec<String>,
    /// Fixes per second by the receiver's own time; `None` before two of them.
    pub rate_hz: Option<f64>,
    /// Bytes per second by the receiver's own time; `None` before two fixes.
    pub bytes_per_s: Option<f64>,
    /// Kind of the latest position.
    pub quality: Option<Quality>,
}

impl Content {
    /// Nothing read yet. `nonce` is that of the hello request sent.
    #[must_use]
    pub fn new(nonce: u32) -> Self {
        Self {
            nonce,
            deframer: Deframer::new_mid_stream(),
            splitter: LineSplitter::default(),
            counted: Counted::default(),
            lines: 0,
            hello: None,
            answered: false,
            frames: 0,
            sentences_lately: 0,
            newer: None,
            bad_sentences: 0,
            kinds: BTreeSet::new(),
            times: Times::default(),
            quality: None,
            bus: BusSide::default(),
        }
    }

    /// Take the bytes that were received.
    pub fn push(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.lines += u64::from(matches!(byte, b'\r' | b'\n'));
            let text = matches!(byte, b' '..=b'~' | b'\r' | b'\n' | b'\t');
            self.counted.printable += u64::from(text);
        }
        self.counted.bytes += bytes.len() as u64;
        self.bus_in(bytes);
        self.frames_in(bytes);
        self.sentences_in(bytes);
    }

    /// True when more listening would not change the finding: a board answered, or a receiver
    /// has been received long enough to show its rate.
    #[must_use]
    pub fn settled(&self) -> bool {
        let long = self.times.span_ns() >= 900_000_000;
        self.answered
            || (self.sentences_lately >= SENTENCES_ENOUGH && long)
            || matches!(self.finding(), PortContent::Adapter(_))
    }

    /// True once what came is a board's: before that nothing meant for one is to be written.
    #[must_use]
    pub const fn is_boards(&self) -> bool {
        self.frames > 0 || self.newer.is_some()
    }

    /// Answers to commands of an adapter, where nothing else came.
    #[must_use]
    pub fn adapter_answers(&self) -> u64 {
        let totals = self.bus.adapter.totals();
        let alone = totals.dropped() == 0 && self.bus.adapter.open_bytes() == 0;
        if alone { totals.answers + totals.refusals } else { 0 }
    }

    /// True when a sentence came whole, so that listening on may make it a receiver.
    #[must_use]
    pub const fn hopeful(&self) -> bool {
        self.counted.sentences > 0
    }

    /// How much has come.
    #[must_use]
    pub const fn counted(&self) -> Counted {
        self.counted
    }

    /// The board's latest word on who it is.
    #[must_use]
    pub const fn hello(&self) -> Option<Hello> {
        self.hello
    }

    /// What is behind the port.
    #[must_use]
    pub fn finding(&self) -> PortContent {
        if self.frames > 0 {
            return PortContent::Board { hello: self.hello };
        }
        if let Some(version) = self.newer {
            return PortContent::OtherVersion(version);
        }
        if self.bus.frames_lately >= BUS_FRAMES_ENOUGH
            || self.adapter_answers() >= BUS_ANSWERS_ENOUGH
        {
            let version = self.bus.version;
            return PortContent::Adapter(
                version.map(|digits| digits.iter().map(|&byte| char::from(byte)).collect()),
            );
        }
        let enough = self.sentences_lately >= SENTENCES_ENOUGH;
        if enough && self.sentences_lately > self.bad_sentences {
            return PortContent::Receiver(self.receiver());
        }
        match self.counted.bytes {
            0 => PortContent::Silent,
            n if n >= BYTES_ENOUGH && self.lines > 0 && self.counted.printable * 20 >= n * 19 => {
                PortContent::Text(n)
            }
            n => PortContent::Binary(n),
        }
    }

    fn receiver(&self) -> ReceiverFinding {
        let Times { epochs, bytes_at_first, bytes_at_last, .. } = self.times;
        let span_s = self.times.span_ns() as f64 * 1e-9;
        let per_s = |count: u64| (span_s > 0.0).then(|| count as f64 / span_s);
        ReceiverFinding {
            kinds: self.kinds.iter().cloned().collect(),
            rate_hz: per_s(epochs),
            bytes_per_s: per_s(bytes_at_last - bytes_at_first),
            quality: self.quality,
        }
    }

    fn bus_in(&mut self, bytes: &[u8]) {
        let Self { bus, counted, frames, newer, hello, answered, sentences_lately, .. } = self;
        let BusSide { adapter, frames_lately, version } = bus;
        adapter.push(bytes, |item| match item {
            AdapterItem::Frame(..) => {
                counted.bus_frames += 1;
                *frames_lately += 1;
                if *frames_lately >= BUS_FRAMES_ENOUGH {
                    // Neither board nor receiver sends these: it is not there any more.
                    (*frames, *newer, *hello, *answered) = (0, None, None, false);
                    *sentences_lately = 0;
                }
            }
            AdapterItem::Version(digits) => *version = Some(digits),
            AdapterItem::Acknowledged | AdapterItem::Refused => {}
        });
    }

    fn frames_in(&mut self, bytes: &[u8]) {
        let Self { deframer, hello, answered, frames, newer, nonce, counted, .. } = self;
        let Self { sentences_lately, bad_sentences, bus, .. } = self;
        deframer.push_slice(bytes, |frame| {
            match frame {
                Ok(ToHost::Hello(received)) => {
                    *frames += 1;
                    *hello = Some(received);
                    *answered |= received.nonce.0 == *nonce;
                }
                Ok(_) => *frames += 1,
                Err(FrameFault::WrongVersion { found }) => *newer = Some(found),
                Err(_) => return,
            }
            counted.frames += 1;
            (*sentences_lately, *bad_sentences, bus.frames_lately) = (0, 0, 0);
        });
    }

    fn sentences_in(&mut self, bytes: &[u8]) {
        let Self { splitter, counted, bad_sentences, kinds, times, quality, .. } = self;
        let Self { sentences_lately, frames, newer, hello, answered, bus, .. } = self;
        splitter.push(bytes, 0, |line, _| match parse(line) {
            Ok(sentence) => {
                counted.sentences += 1;
                *sentences_lately += 1;
                if *sentences_lately >= SENTENCES_ENOUGH && *sentences_lately > *bad_sentences {
                    // No board sends these: it is not there any more.
                    bus.frames_lately = 0;
                    (*frames, *newer, *hello, *answered) = (0, None, None, false);
                }
                if kinds.len() < KINDS_MAX {
                    let kind = line.iter().skip(1).take_while(|b| b.is_ascii_alphanumeric());
                    kinds.insert(kind.take(8).map(|&b| char::from(b)).collect());
                }
                let (time, said) = time_and_quality(&sentence);
                if let Some(time) = time {
                    times.note(time, counted.bytes);
                }
                *quality = said.or(*quality);
            }
            Err(SentenceFault::Checksum { .. }) => *bad_sentences += 1,
            Err(_) => {}
        });
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_protocol::WireMessage as _;
    use trundle_protocol::message::Counts;
    use trundle_protocol::units::Fixed32;

    fn of(bytes: &[u8]) -> Content {
        let mut content = Content::new(77);
        // One byte at a time: the finding may not hang on how the bytes were cut.
        bytes.chunks(1).for_each(|byte| content.push(byte));
        content
    }

    fn sentence(body: &str) -> String {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}\r\n")
    }

    fn epoch(tenths: u32, quality: u8) -> String {
        let (s, t) = (tenths / 10, tenths % 10);
        let gga = format!(
            "GNGGA,1015{s:02}.{t}0,4721.604,N,02817.500,W,{quality},12,0.9,31.7,M,58.2,M,,"
        );
        sentence(&gga) + &sentence("GNGSA,A,3,,,,,,,,,,,,,1.2,0.9,0.8")
    }

    #[test]
    fn a_receiver_is_known_by_its_sentences_and_told_by_its_own_time() {
        let text: String = (0..=10).map(|tenths| epoch(tenths, 5)).collect();
        let content = of(text.as_bytes());
        assert!(content.settled());
        let PortContent::Receiver(found) = content.finding() else {
            panic!("{:?}", content.finding())
        };
        assert_eq!(found.kinds, ["GNGGA", "GNGSA"]);
        assert_eq!(found.quality, Some(Quality::RtkFloat));
        let rate = found.rate_hz.unwrap();
        assert!((rate - 10.0).abs() < 1e-9, "{rate}");
    }

    #[test]
    fn one_moment_with_other_digits_counts_once() {
        let gll = |tenths: u32| {
            let (s, t) = (tenths / 10, tenths % 10);
            sentence(&format!("GNGLL,4721.604,N,02817.500,W,1015{s:02}.{t}03,A,A"))
        };
        let text: String = (0..=10).map(|tenths| epoch(tenths, 1) + &gll(tenths)).collect();
        let PortContent::Receiver(found) = of(text.as_bytes()).finding() else { panic!() };
        assert!((found.rate_hz.unwrap() - 10.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn a_board_is_known_by_its_frames_and_settled_by_its_answer() {
        let counts = ToHost::Counts(Counts::default()).frame();
        let stale = ToHost::Hello(Hello { nonce: Fixed32(76), ..Hello::default() }).frame();
        let ours = ToHost::Hello(Hello { nonce: Fixed32(77), ..Hello::default() }).frame();
        let mut content = of(&[&[9, 9, 0], counts.as_bytes()].concat());
        assert_eq!(content.finding(), PortContent::Board { hello: None });
        content.push(stale.as_bytes());
        assert!(!content.settled(), "an old answer settles nothing");
        content.push(ours.as_bytes());
        assert!(content.settled());
    }

    /// Fault row: plugs change places while both ports stay open.
    #[test]
    fn an_early_frame_makes_no_port_the_boards_for_ever() {
        let counts = ToHost::Counts(Counts::default()).frame();
        let mut content = of(&[&[0], counts.as_bytes()].concat());
        content.push(epoch(0, 4).as_bytes());
        content.push(epoch(1, 4).as_bytes());
        assert!(matches!(content.finding(), PortContent::Receiver(_)), "{:?}", content.finding());
        content.push(&[&[0], counts.as_bytes()].concat());
        assert_eq!(content.finding(), PortContent::Board { hello: None });
    }

    #[test]
    fn what_is_neither_is_called_neither() {
        assert_eq!(of(b"").finding(), PortContent::Silent);
        assert!(matches!(of(b"[ 0.01] booting\r\nlogin: \r\n").finding(), PortContent::Text(26)));
        assert!(matches!(of(&[0xF8; 200]).finding(), PortContent::Binary(200)));
        // Sentences with wrong checksums are no receiver.
        let text = epoch(0, 4).replace('*', "*0").repeat(9);
        assert!(matches!(of(text.as_bytes()).finding(), PortContent::Text(_)));
    }

    #[test]
    fn another_version_is_called_that() {
        let mut body = vec![9, 1, 2, 3];
        let sum = trundle_protocol::crc::crc32c(&body);
        body.extend_from_slice(&sum.to_le_bytes());
        let mut framed = vec![0];
        // Byte stuffing by hand: no zero inside is needed for these bytes.
        assert!(!body.contains(&0));
        framed.push(body.len() as u8 + 1);
        framed.extend_from_slice(&body);
        framed.push(0);
        assert_eq!(of(&framed).finding(), PortContent::OtherVersion(9));
    }
}
