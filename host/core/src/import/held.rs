//! What a capture that was made holds, counted as those count it who read it.

use crate::capture::{Entry, Piece, Record};
use crate::session::Listener;
use crate::wire::import_rows::{ImportReader, ImportedRow};
use crate::wire::receiver::ReceiverEvent;

/// Counts of what is in a capture.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Held {
    /// Sentences with a sound checksum.
    pub(super) sentences: u64,
    /// Plausible fixes.
    pub(super) fixes: usize,
    /// Lines of counts.
    pub(super) counts: usize,
    /// Marks and notes.
    pub(super) marks: usize,
}

/// Counts what is in the records.
pub(super) fn held(records: &[Record]) -> Held {
    let mut held = Held::default();
    let mut listener = Listener::default();
    let mut rows = ImportReader::default();
    for record in records {
        let Record { host_ns, entry } = record;
        let piece = match entry {
            Entry::Bytes(role, bytes) => Piece::Bytes { host_ns: *host_ns, role: *role, bytes },
            Entry::Header(_) | Entry::End => Piece::Record(Box::new(record.clone())),
            Entry::Import(table, line) => {
                match rows.line(*table, line, *host_ns) {
                    Ok(Some(ImportedRow::Mark { .. })) => held.marks += 1,
                    Ok(Some(_)) => held.counts += 1,
                    Ok(None) | Err(_) => {}
                }
                continue;
            }
            _ => continue,
        };
        listener.take(&piece, |event| {
            held.fixes += usize::from(matches!(event, ReceiverEvent::Fix { .. }));
        });
    }
    held.sentences = listener.totals().sentences;
    held
}
