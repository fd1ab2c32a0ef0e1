//! The receiver's bytes, read: sentences, epochs, plausible fixes.

use super::clock_offset::ClockOffset;
use super::fix::{EpochAssembler, EpochCounts, Fix, FixEvent, Quality, Refusal};
use super::gate::{Gate, GateReason, GateRuling};
use super::nmea_splitter::{LineCounts, LineSplitter};
use super::sentence::{Sentence, SentenceFault, read};
use super::sky::{Sky, SkyReader, SkyTotals};

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
#[derive(Clone, Copy, Debug, Default, PartialEq)]
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
    /// Sentences read without a field of theirs that holds what it cannot hold.
    pub left_out: u64,
    /// Fixes whose time is not later than that of the fix before.
    pub time_back: u64,
    /// Counts of the epochs seen.
    pub epochs: EpochCounts,
    /// Satellites, signal and dilution.
    pub sky: SkyTotals,
    /// The computer's clock and the receiver's time, where they differ.
    pub clock: Option<ClockOffset>,
}

impl ReceiverTotals {
    /// Sentences that came twice for one time, or for a time that was over, and fixes whose time
    /// goes back, for each epoch. One receiver has next to none of them; two on one line have one
    /// or more.
    #[must_use]
    pub fn entangled(&self) -> f64 {
        let EpochCounts { fixes, void, no_position, disagree, no_date, .. } = self.epochs;
        let epochs = fixes + void + no_position + disagree + no_date;
        let odd = self.epochs.duplicates + self.epochs.late + self.time_back;
        odd as f64 / epochs.max(1) as f64
    }

    /// Whether two receivers seem to send on one line.
    #[must_use]
    pub fn is_entangled(&self) -> bool {
        self.entangled() > ENTANGLED && self.epochs.fixes > ENTANGLED_EPOCHS
    }
}

/// From so many odd sentences for each epoch on there are two receivers on a line. One whose line
/// is cut up repeats a few in a hundred.
const ENTANGLED: f64 = 0.2;
/// Fixes it takes to say so.
const ENTANGLED_EPOCHS: u64 = 20;

/// Streaming reader of the receiver's port.
#[derive(Clone, Debug, Default)]
pub struct ReceiverReader {
    splitter: LineSplitter,
    behind: Behind,
}

/// What stands behind the splitter.
#[derive(Clone, Debug)]
struct Behind {
    assembler: EpochAssembler,
    gate: Gate,
    sky: SkyReader,
    totals: ReceiverTotals,
}

impl Default for Behind {
    fn default() -> Self {
        Self {
            assembler: EpochAssembler::new(None),
            gate: Gate::default(),
            sky: SkyReader::default(),
            totals: ReceiverTotals::default(),
        }
    }
}

impl ReceiverReader {
    /// Show the reader a time known to be near the stream's, RFC 3339: it dates streams without
    /// a date and shows up receivers whose date is decades off. Where it is the computer's clock at
    /// host time 0, the receiver's time is held against it. To be called before any bytes.
    pub fn set_reference_utc(&mut self, utc: &str, is_computers: bool) {
        let reference_ns = chrono::DateTime::parse_from_rfc3339(utc)
            .ok()
            .and_then(|time| time.timestamp_nanos_opt());
        self.behind.assembler = EpochAssembler::new(reference_ns);
        if let Some(utc_ns) = reference_ns.filter(|_| is_computers) {
            self.behind.assembler.clock.computer(0, utc_ns);
        }
    }

    /// What the computer's clock says later, nanoseconds both; nothing where it is not watched.
    pub fn computer_clock(&mut self, host_ns: u64, utc_ns: i64) {
        let clock = &mut self.behind.assembler.clock;
        if clock.is_watching() {
            clock.computer(host_ns, utc_ns);
        }
    }

    /// Totals since the capture began.
    #[must_use]
    pub fn totals(&self) -> ReceiverTotals {
        let mut totals = self.behind.totals;
        totals.lines = self.splitter.counts();
        totals.epochs = self.behind.assembler.counts();
        totals.clock = self.behind.assembler.clock.found();
        totals
    }

    /// The newest sky, unless it is old at `host_ns`.
    #[must_use]
    pub fn sky(&self, host_ns: u64) -> Option<Sky> {
        self.behind.sky.fresh(host_ns)
    }

    /// Take bytes that were received at `host_ns` and show the fixes they complete.
    pub fn push(&mut self, bytes: &[u8], host_ns: u64, mut report: impl FnMut(ReceiverEvent)) {
        let Self { splitter, behind } = self;
        splitter.push(bytes, host_ns, |line, at_ns| behind.line(line, at_ns, &mut report));
    }

    /// No more bytes will come: the last line, epoch and round of the sky are closed.
    pub fn flush(&mut self, mut report: impl FnMut(ReceiverEvent)) {
        let Self { splitter, behind } = self;
        splitter.finish(|line, at_ns| behind.line(line, at_ns, &mut report));
        if let Some(event) = behind.assembler.flush() {
            report(behind.judge(event));
        }
        if let Some(sky) = behind.sky.close() {
            behind.totals.sky.round(sky);
        }
    }
}

impl Behind {
    fn line(&mut self, line: &[u8], at_ns: u64, report: &mut impl FnMut(ReceiverEvent)) {
        match read(line) {
            Ok((sentence, left_out)) => {
                self.totals.sentences += 1;
                self.totals.left_out += u64::from(left_out.is_some());
                if matches!(&sentence, Sentence::Other(kind) if matches!(kind, b"GSA" | b"GSV"))
                    && let Some(sky) = self.sky.take(line, at_ns)
                {
                    self.totals.sky.round(sky);
                }
                if let Some(event) = self.assembler.push(&sentence, at_ns) {
                    report(self.judge(event));
                }
            }
            Err(SentenceFault::NoChecksum) => self.totals.no_checksum += 1,
            Err(SentenceFault::Checksum { .. }) => self.totals.wrong_checksum += 1,
            Err(_) => self.totals.impossible += 1,
        }
    }

    fn judge(&mut self, event: FixEvent) -> ReceiverEvent {
        match event {
            FixEvent::Fix(mut fix) => {
                // GGA and GNS state both; a receiver that sends neither may send GSA.
                let sky = self.sky.fresh(fix.host_ns);
                fix.satellites = fix.satellites.or(sky.and_then(|sky| sky.used));
                fix.hdop = fix.hdop.or(sky.and_then(|sky| sky.hdop));
                match self.gate.check(&fix) {
                    GateRuling::Accepted { frozen } => {
                        self.totals.sky.fix(&fix);
                        ReceiverEvent::Fix { fix, frozen }
                    }
                    GateRuling::Refused(reason) => {
                        let back = [GateReason::TimeNotForward, GateReason::SaidBefore];
                        self.totals.time_back += u64::from(back.contains(&reason));
                        ReceiverEvent::Rejected {
                            host_ns: fix.host_ns,
                            void: false,
                            simulated: fix.quality == Quality::Simulated,
                        }
                    }
                }
            }
            FixEvent::Refused { why, host_ns, .. } => ReceiverEvent::Rejected {
                host_ns,
                void: matches!(why, Refusal::Void | Refusal::NoPosition),
                simulated: false,
            },
        }
    }
}
