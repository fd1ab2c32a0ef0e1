//! Record to bytes. Pure: the shell owns the file.

use super::entry::{Entry, ImportRow, Record};
use super::{BODY_MAX, HEAD_LEN, SYNC, TAIL_LEN, crc32c, kind_of};

/// Append the bytes of `record` to `out`.
///
/// Port bytes longer than [`BODY_MAX`] become several records with the same time, which mean
/// the same to every reader. Other bodies are cut at the limit.
pub fn encode(record: &Record, out: &mut Vec<u8>) {
    let (kind, body) = match &record.entry {
        Entry::Bytes(role, bytes) => {
            for chunk in bytes.chunks(BODY_MAX) {
                put(kind_of(*role), record.host_ns, chunk, out);
            }
            return;
        }
        Entry::Header(header) => (1, json(header)),
        Entry::HostMark(mark) => (4, json(mark)),
        Entry::Port(event) => (5, json(event)),
        Entry::Course(text) => (6, text.clone().into_bytes()),
        Entry::WallClock(wall) => (7, json(wall)),
        Entry::End => (8, Vec::new()),
        Entry::Import(ImportRow::Counts, line) => (9, line.clone()),
        Entry::Import(ImportRow::Marks, line) => (10, line.clone()),
        Entry::Import(ImportRow::Refused, line) => (12, line.clone()),
        Entry::Import(ImportRow::Bus, line) => (14, line.clone()),
        Entry::Slept(slept) => (11, json(slept)),
        // Nothing of this program makes one; a reader that met one does not write it on.
        Entry::Unknown(_) => return,
    };
    put(kind, record.host_ns, &body[..body.len().min(BODY_MAX)], out);
}

fn json<T: serde::Serialize>(value: &T) -> Vec<u8> {
    serde_json::to_vec(value).expect("plain structs of text and numbers always serialise")
}

fn put(kind: u8, host_ns: u64, body: &[u8], out: &mut Vec<u8>) {
    let start = out.len();
    out.reserve(HEAD_LEN + body.len() + TAIL_LEN);
    out.extend_from_slice(&SYNC);
    let length = u16::try_from(body.len()).expect("bodies are cut to BODY_MAX");
    out.extend_from_slice(&length.to_le_bytes());
    out.push(kind);
    out.extend_from_slice(&host_ns.to_le_bytes());
    out.extend_from_slice(body);
    let sum = crc32c(&out[start + SYNC.len()..]);
    out.extend_from_slice(&sum.to_le_bytes());
}
