//! The receiver's bytes, read: sentences, epochs, plausible fixes.

use super::fix::{EpochAssembler, EpochCounts, Fix, FixEvent, Quality, Refusal};
use super::gate::{Gate, GateRuling};
use super::nmea_splitter::{LineCounts, LineSplitter};
use super::sentence::{SentenceFault, parse};

/// What the receiver's bytes held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReceiverEvent {
    /// A fix that is plausible.
    Fix {
        /// The fix that was received.
        fix: Fix,
        /// Its position has not changed while its speed says that it moves.
        frozen: bool,
    },
    /// An epoch or a fix that was not used.
    Rejected {
        /// Host time of it, nanoseconds.
        host_ns: u64,
        /// The receiver itself said that it had no fix.
        void: bool,
        /// The receiver said that a simulator made the fix.
        simulated: bool,
    },
}

/// Totals since the capture began.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ReceiverTotals {
    /// Lines and what was not a line.
    pub lines: LineCounts,
    /// Sentences with a sound checksum.
    pub sentences: u64,
    /// Sentences without a checksum: not measured from.
    pub no_checksum: u64,
    /// Sentences whose checksum was wrong.
    pub wrong_checksum: u64,
    /// Sentences with a sound checksum and an impossible field.
    pub impossible: u64,
    /// Counts of the epochs seen.
    pub epochs: EpochCounts,
}

/// Streaming reader of the receiver's port.
#[derive(Clone, Debug)]
pub struct ReceiverReader {
    splitter: LineSplitter,
    assembler: EpochAssembler,
    gate: Gate,
    totals: ReceiverTotals,
}

impl Default for ReceiverReader {
    fn default() -> Self {
        Self {
            splitter: LineSplitter::default(),
            assembler: EpochAssembler::new(None),
            gate: Gate::default(),
            totals: ReceiverTotals::default(),
        }
    }
}

impl ReceiverReader {
    /// Show the reader a time known to be near the stream's, RFC 3339: it dates streams without
    /// a date and shows up receivers whose date is decades off. To be called before any bytes.
    pub fn set_reference_utc(&mut self, utc: &str) {
        let reference_ns = chrono::DateTime::parse_from_rfc3339(utc)
            .ok()
            .and_then(|time| time.timestamp_nanos_opt());
        self.assembler = EpochAssembler::new(reference_ns);
    }

    /// Totals since the capture began.
    #[must_use]
    pub fn totals(&self) -> ReceiverTotals {
        let mut totals = self.totals;
        totals.lines = self.splitter.counts();
        totals.epochs = self.assembler.counts();
        totals
    }

    /// Take bytes that was received at `host_ns` and show the fixes they complete.
    pub fn push(&mut self, bytes: &[u8], host_ns: u64, mut report: impl FnMut(ReceiverEvent)) {
        let Self { splitter, assembler, gate, totals } = self;
        splitter.push(bytes, host_ns, |line, at_ns| match parse(line) {
            Ok(sentence) => {
                totals.sentences += 1;
                if let Some(event) = assembler.push(&sentence, at_ns) {
                    report(judge(event, gate));
                }
            }
            Err(SentenceFault::NoChecksum) => totals.no_checksum += 1,
            Err(SentenceFault::Checksum { .. }) => totals.wrong_checksum += 1,
            Err(_) => totals.impossible += 1,
        });
    }

    /// No more bytes will come: the last epoch is closed.
    pub fn flush(&mut self, mut report: impl FnMut(ReceiverEvent)) {
        if let Some(event) = self.assembler.flush() {
            report(judge(event, &mut self.gate));
        }
    }
}

fn judge(event: FixEvent, gate: &mut Gate) -> ReceiverEvent {
    match event {
        FixEvent::Fix(fix) => match gate.check(&fix) {
            GateRuling::Accepted { frozen } => ReceiverEvent::Fix { fix, frozen },
            GateRuling::Refused(_) => ReceiverEvent::Rejected {
                host_ns: fix.host_ns,
                void: false,
                simulated: fix.quality == Quality::Simulated,
            },
        },
        FixEvent::Refused { why, host_ns, .. } => ReceiverEvent::Rejected {
            host_ns,
            void: matches!(why, Refusal::Void | Refusal::NoPosition),
            simulated: false,
        },
    }
}
