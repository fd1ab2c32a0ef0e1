//! What the receiver said in the records: all that it takes is in them, so that it can be read by
//! itself, beside the rest.

use crate::capture::{Arrival, Entry, Piece, PortRole, Record};
use crate::wire::receiver::{ReceiverEvent, ReceiverReader, ReceiverTotals};

/// Reads the receiver's bytes out of records.
#[derive(Clone, Debug, Default)]
pub struct Listener {
    pub(super) receiver: ReceiverReader,
}

impl Listener {
    /// Take what comes next in a capture and show what the receiver said in it.
    pub fn take(&mut self, piece: &Piece<'_>, report: impl FnMut(ReceiverEvent)) {
        match piece {
            Piece::Bytes { host_ns, role: PortRole::Receiver, bytes } => {
                self.receiver.push(bytes, *host_ns, report);
            }
            Piece::Record(record) => self.record(record, report),
            Piece::Bytes { role: PortRole::Board, .. } | Piece::Damage(_) => {}
        }
    }

    /// No more will come: the last epoch is closed. Harmless to call twice.
    pub fn finish(&mut self, report: impl FnMut(ReceiverEvent)) {
        self.receiver.flush(report);
    }

    /// Totals of all it took.
    #[must_use]
    pub fn totals(&self) -> ReceiverTotals {
        self.receiver.totals()
    }

    pub(super) fn record(&mut self, record: &Record, report: impl FnMut(ReceiverEvent)) {
        match &record.entry {
            Entry::Header(header) => {
                // Times that were made up or run faster are not those of a clock; a demonstration
                // has its day from its scenario.
                let paced = (header.pace - 1.0).abs() > f64::EPSILON;
                let is_computers =
                    header.arrival == Arrival::Measured && !paced && !header.practice;
                self.receiver.set_reference_utc(&header.started_utc, is_computers);
            }
            Entry::WallClock(wall) => self.receiver.computer_clock(record.host_ns, wall.utc_ns),
            Entry::End => self.finish(report),
            _ => {}
        }
    }
}
