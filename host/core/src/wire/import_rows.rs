//! Lines of imported tables, read: `counts.csv` and `marks.csv` (RFC 4180, with a header line).
//!
//! - counts: `board_s` (seconds of the board's clock) or `utc` (RFC 3339); any of `wheel`,
//!   `radar`, `pto` (running counts, 32-bit wrap allowed); `working` (0 or 1).
//! - marks: `board_s` or `utc`; `mark` = `start`, `finish` or `note`; optional `note`.

use super::board::CountSample;
use super::import_counts::{Counter, Turned};
use crate::capture::{HostMarkAction, ImportRow};
use trundle_protocol::message::CHANNELS;

/// A line that was read.
#[derive(Clone, Debug, PartialEq)]
pub enum ImportedRow {
    /// Running counts at one instant. `board_us` is microseconds since the table's zero.
    Counts(CountSample),
    /// The same, but a count is lower than in the line before: the counter was set back or
    /// restarted, so nothing before can be combined with anything after.
    WentBack(CountSample),
    /// The same, but a count stands lower than it stood before, and came there step by step: a
    /// counter that counts down when the wheel turns back. The sample holds the highest count.
    CountsDown(CountSample),
    /// A mark. Its instant is the host time of its record, which the import derived from the
    /// time in the line.
    Mark {
        /// What the line marks.
        action: HostMarkAction,
        /// The remark of the line.
        text: String,
    },
}

/// Time of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RowTime {
    /// Seconds of the board's clock.
    BoardS(f64),
    /// UTC, nanoseconds since 1970.
    UtcNs(i64),
}

/// Counts as they stand in a line; `None` where the table has no such column.
pub type RawCounts = [Option<u64>; CHANNELS];

/// Why a line could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RowFault {
    /// The header lacks a column.
    #[error("the header line needs {needed}; it has: {found}")]
    Header {
        /// The column that is needed.
        needed: &'static str,
        /// What was found in its place.
        found: String,
    },
    /// A field cannot be read.
    #[error("column {column} holds {found:?}, which is not {wanted}")]
    Field {
        /// The name of the column.
        column: &'static str,
        /// What was found in its place.
        found: String,
        /// What should stand there.
        wanted: &'static str,
    },
    /// Not a line of comma-separated values.
    #[error("this is not a line of comma-separated values")]
    NotCsv,
}

#[derive(Clone, Copy, Debug)]
struct Columns {
    board_s: Option<usize>,
    utc: Option<usize>,
    channels: [Option<usize>; CHANNELS],
    working: Option<usize>,
    mark: Option<usize>,
    note: Option<usize>,
}

/// Streaming reader of both tables.
#[derive(Clone, Debug, Default)]
pub struct ImportReader {
    /// Of counts and marks, once their headers were read.
    columns: [Option<Columns>; 2],
    counter: Counter,
    first_utc_ns: Option<i64>,
}

impl ImportReader {
    /// Which inputs the counts table has, as bits of a hello's capabilities.
    #[must_use]
    pub fn capabilities(&self) -> u8 {
        let Some(columns) = &self.columns[ImportRow::Counts as usize] else { return 0 };
        let working = u8::from(columns.working.is_some()) << 6;
        columns
            .channels
            .iter()
            .enumerate()
            .fold(working, |bits, (i, column)| bits | (u8::from(column.is_some()) << i))
    }

    /// True when the counts carry UTC.
    #[must_use]
    pub const fn has_utc(&self) -> bool {
        self.first_utc_ns.is_some()
    }

    /// Read the next line of a table; the first is its header and gives nothing, like an empty
    /// line.
    ///
    /// # Errors
    /// [`RowFault`] when the line cannot be read; later lines are read all the same.
    pub fn line(
        &mut self,
        table: ImportRow,
        line: &[u8],
        host_ns: u64,
    ) -> Result<Option<ImportedRow>, RowFault> {
        let Some((columns, fields)) = self.fields(table, line)? else { return Ok(None) };
        match table {
            ImportRow::Counts => self.counts_row(&columns, &fields, host_ns).map(Some),
            ImportRow::Marks => mark_row(&columns, &fields).map(Some),
            ImportRow::Refused | ImportRow::Bus => Ok(None),
        }
    }

    /// Time and counts of the next line of the counts table, as they stand in it.
    ///
    /// # Errors
    /// As [`Self::line`].
    pub fn raw_counts(&mut self, line: &[u8]) -> Result<Option<(RowTime, RawCounts)>, RowFault> {
        let Some((columns, fields)) = self.fields(ImportRow::Counts, line)? else {
            return Ok(None);
        };
        Ok(Some((row_time(&columns, &fields)?, raw_counts(&columns, &fields)?)))
    }

    /// The fields of a line below the header; the header itself is kept.
    fn fields(
        &mut self,
        table: ImportRow,
        line: &[u8],
    ) -> Result<Option<(Columns, Vec<String>)>, RowFault> {
        // Tables made by hand end in empty lines.
        if line.trim_ascii().is_empty() {
            return Ok(None);
        }
        let fields = split(line)?;
        let Some(known) = self.columns.get_mut(table as usize) else { return Ok(None) };
        let Some(columns) = *known else {
            *known = Some(header(table, &fields)?);
            return Ok(None);
        };
        Ok(Some((columns, fields)))
    }

    /// The time written in a line of a table whose header was read.
    ///
    /// # Errors
    /// [`RowFault`] when the line or its time cannot be read, or no header was read.
    pub fn time_of(&self, table: ImportRow, line: &[u8]) -> Result<RowTime, RowFault> {
        let columns = self.columns.get(table as usize).and_then(Option::as_ref);
        row_time(columns.ok_or(RowFault::NotCsv)?, &split(line)?)
    }

    fn counts_row(
        &mut self,
        columns: &Columns,
        fields: &[String],
        host_ns: u64,
    ) -> Result<ImportedRow, RowFault> {
        let board_us = match row_time(columns, fields)? {
            RowTime::BoardS(board_s) => (board_s * 1e6).round() as u64,
            RowTime::UtcNs(utc_ns) => {
                let first_ns = *self.first_utc_ns.get_or_insert(utc_ns);
                u64::try_from(utc_ns.saturating_sub(first_ns) / 1000).unwrap_or(0)
            }
        };
        // The whole line is read before any of it is believed.
        let raw = raw_counts(columns, fields)?;
        let (impulses, turned) = self.counter.next(&raw);
        let in_work = match columns.working.and_then(|column| fields.get(column)) {
            Some(text) => text.trim() == "1",
            None => false,
        };
        let sample = CountSample {
            host_ns,
            board_us,
            impulses,
            last_edge_us: [None; CHANNELS],
            rejected: [0; CHANNELS],
            in_work,
            overruns: 0,
        };
        Ok(match turned {
            Turned::On => ImportedRow::Counts(sample),
            Turned::Down => ImportedRow::CountsDown(sample),
            Turned::Set => ImportedRow::WentBack(sample),
        })
    }
}

/// Names of the columns of counts.
pub const NAMES: [&str; CHANNELS] = ["wheel", "radar", "pto"];

/// Times are taken from 1970 up to the year 2200, nanoseconds: the difference of any two of them
/// fits 64 bits, and nothing was measured outside.
const UTC_END_NS: i64 = 7_258_118_400_000_000_000;

fn split(line: &[u8]) -> Result<Vec<String>, RowFault> {
    match split_plain(line) {
        Some(fields) => Ok(fields),
        None => split_any(line),
    }
}

/// The fields of a line that commas alone take apart, which nearly every line is. `None` leaves
/// it to the full reader, whose tables take far longer to set up than such a line to read.
fn split_plain(line: &[u8]) -> Option<Vec<String>> {
    const BYTE_ORDER_MARK: &str = "\u{feff}";
    let text = std::str::from_utf8(line).ok()?.trim_end_matches(['\r', '\n']);
    let plain = !text.contains(['"', '\r', '\n']) && !text.starts_with(BYTE_ORDER_MARK);
    (plain && !text.is_empty()).then(|| text.split(',').map(str::to_owned).collect())
}

/// The fields of any line of RFC 4180.
fn split_any(line: &[u8]) -> Result<Vec<String>, RowFault> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(line.len() + 1)
        .from_reader(line);
    let mut record = csv::StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(true) => Ok(record.iter().map(str::to_owned).collect()),
        _ => Err(RowFault::NotCsv),
    }
}

fn header(table: ImportRow, fields: &[String]) -> Result<Columns, RowFault> {
    let find =
        |name: &str| fields.iter().position(|f| f.trim().trim_start_matches('\u{feff}') == name);
    let columns = Columns {
        board_s: find("board_s"),
        utc: find("utc"),
        channels: NAMES.map(find),
        working: find("working"),
        mark: find("mark"),
        note: find("note"),
    };
    let timed = columns.board_s.is_some() || columns.utc.is_some();
    let (holds, needed) = match table {
        ImportRow::Counts => (
            columns.channels.iter().any(Option::is_some),
            "board_s or utc, and at least one of wheel, radar, pto",
        ),
        ImportRow::Refused | ImportRow::Bus => (false, "nothing"),
        ImportRow::Marks => (columns.mark.is_some(), "board_s or utc, and mark"),
    };
    if timed && holds {
        Ok(columns)
    } else {
        Err(RowFault::Header { needed, found: fields.join(",") })
    }
}

fn row_time(columns: &Columns, fields: &[String]) -> Result<RowTime, RowFault> {
    let text = |column: usize| fields.get(column).map_or("", |f| f.trim());
    if let Some(column) = columns.board_s {
        let found = text(column);
        let wanted = "seconds, 0 or more";
        let fault = || RowFault::Field { column: "board_s", found: found.to_owned(), wanted };
        let board_s: f64 = found.parse().map_err(|_| fault())?;
        // 1e9 seconds are thirty years: beyond it the column holds something else.
        if !(0.0..1e9).contains(&board_s) {
            return Err(fault());
        }
        return Ok(RowTime::BoardS(board_s));
    }
    let found = columns.utc.map_or("", text);
    let wanted = "a time like 2026-05-01T08:00:00Z";
    chrono::DateTime::parse_from_rfc3339(found)
        .ok()
        .and_then(|time| time.timestamp_nanos_opt())
        .filter(|utc_ns| (0..UTC_END_NS).contains(utc_ns))
        .map(RowTime::UtcNs)
        .ok_or(RowFault::Field { column: "utc", found: found.to_owned(), wanted })
}

fn mark_row(columns: &Columns, fields: &[String]) -> Result<ImportedRow, RowFault> {
    let text = |column: Option<usize>| {
        column.and_then(|c| fields.get(c)).map_or("", |field| field.trim()).to_owned()
    };
    let found = text(columns.mark);
    let action = match found.as_str() {
        "start" => HostMarkAction::Start,
        "finish" => HostMarkAction::Finish,
        "note" => HostMarkAction::Note,
        _ => {
            let wanted = "start, finish or note";
            return Err(RowFault::Field { column: "mark", found, wanted });
        }
    };
    Ok(ImportedRow::Mark { action, text: text(columns.note) })
}

fn raw_counts(columns: &Columns, fields: &[String]) -> Result<RawCounts, RowFault> {
    let mut raw = [None; CHANNELS];
    for (i, column) in columns.channels.iter().enumerate() {
        if let Some(column) = column {
            raw[i] = Some(number(fields, *column, NAMES[i])?);
        }
    }
    Ok(raw)
}

fn number(fields: &[String], column: usize, name: &'static str) -> Result<u64, RowFault> {
    let found = fields.get(column).map_or("", |f| f.trim());
    found.parse().map_err(|_| RowFault::Field {
        column: name,
        found: found.to_owned(),
        wanted: "a whole count",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every text of up to six characters of those that matter, by both ways.
    #[test]
    fn plain_lines_are_split_as_the_full_reader_splits_them() {
        const OF: [&str; 8] = ["a", ",", "\"", "\r", "\n", " ", "\u{feff}", "é"];
        let mut taken = 0;
        for length in 0..=6_u32 {
            for number in 0..OF.len().pow(length) {
                let pick = |place| OF[number / OF.len().pow(place) % OF.len()];
                let text: String = (0..length).map(pick).collect();
                if let Some(plain) = split_plain(text.as_bytes()) {
                    taken += 1;
                    assert_eq!(split_any(text.as_bytes()), Ok(plain), "{text:?}");
                }
            }
        }
        assert!(taken > 10_000, "{taken}");
    }
}
