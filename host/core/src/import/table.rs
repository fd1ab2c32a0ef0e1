//! The tables of counts and marks: lines, their times, what they hold.

use super::fault::{ImportFault, InputFile};
use super::garbled::garbled;
use super::{BadLine, Marks};
use crate::capture::{BODY_MAX, ImportRow};
use crate::wire::board::CountSample;
use crate::wire::import_rows::{ImportReader, ImportedRow, RowFault, RowTime};
use std::collections::BTreeMap;

/// Lines usually further apart than this cannot show a standstill of two seconds for certain,
/// seconds.
const INTERVAL_MAX_S: f64 = 1.1;

/// A table after it was read.
#[derive(Debug)]
pub struct Table<'a> {
    /// Lines as they stand in the file, line ends included, the header first; with the time of
    /// those that were read.
    pub lines: Vec<(&'a [u8], Option<i64>)>,
    /// Times are UTC, nanoseconds since 1970; else nanoseconds of the board's clock.
    pub is_utc: bool,
    /// Lines that were not read, with their reason.
    pub bad: Vec<BadLine>,
    /// Places in `lines` of those that were refused beside the lines around them, rising.
    pub refused: Vec<usize>,
}

impl Table<'_> {
    /// First and last time, nanoseconds.
    #[must_use]
    pub fn span_ns(&self) -> (i64, i64) {
        let mut times = self.lines.iter().filter_map(|line| line.1);
        let first = times.next().unwrap_or(0);
        (first, times.next_back().unwrap_or(first))
    }
}

/// The counts table with its samples.
#[derive(Debug)]
pub struct CountsTable<'a> {
    /// The lines of the table.
    pub table: Table<'a>,
    /// Its samples with their time, nanoseconds as in the lines.
    pub samples: Vec<(i64, CountSample)>,
    /// Lines that have the time of the line before.
    pub repeated: usize,
    /// Lines at which a count is lower than before.
    pub went_back: Vec<usize>,
    /// Usual spacing of the lines, seconds.
    pub interval_s: f64,
}

impl CountsTable<'_> {
    /// Seconds since `origin_ns` and running count of each channel that shows motion: the wheel
    /// first, and the radar, which does not slip.
    ///
    /// # Errors
    /// [`ImportFault::NoMotion`] when neither wheel nor radar moved.
    pub fn motions(&self, origin_ns: i64) -> Result<Vec<Motion>, ImportFault> {
        let count = |channel: usize, i: usize| self.samples[i].1.impulses[channel];
        let moved = |channel: &usize| {
            let rises =
                (1..self.samples.len()).filter(|&i| count(*channel, i) > count(*channel, i - 1));
            rises.count() > 10
        };
        let motion = |channel: usize| {
            let at = |(time_ns, sample): &(i64, CountSample)| {
                ((time_ns - origin_ns) as f64 * 1e-9, sample.impulses[channel] as f64)
            };
            self.samples.iter().map(at).collect()
        };
        let motions: Vec<Motion> = [0, 1].into_iter().filter(moved).map(motion).collect();
        if motions.is_empty() { Err(ImportFault::NoMotion) } else { Ok(motions) }
    }
}

/// Seconds and running count of one channel, rising in time.
pub type Motion = Vec<(f64, f64)>;

/// Lines of a table; a quoted field may hold line ends (RFC 4180, rule 6).
pub(super) fn lines(bytes: &[u8]) -> Vec<(usize, &[u8])> {
    let mut found = Vec::new();
    let mut number = 1;
    let mut rest = bytes;
    while !rest.is_empty() {
        let physical = rest.iter().position(|&b| b == b'\n').map_or(rest.len(), |at| at + 1);
        let mut quotes = 0_usize;
        let whole = rest.iter().take(BODY_MAX).position(|&b| {
            quotes += usize::from(b == b'"');
            b == b'\n' && quotes.is_multiple_of(2)
        });
        // A quote that is never closed spoils its own line and not the rest of the table.
        let end = whole.map_or(physical, |at| at + 1);
        let line = &rest[..end];
        found.push((number, line));
        number += line.iter().filter(|&&b| b == b'\n').count();
        rest = &rest[end..];
    }
    found
}

pub(super) fn time_ns(time: RowTime) -> (i64, bool) {
    match time {
        // Rounded to the microsecond, as the samples are.
        RowTime::BoardS(board_s) => ((board_s * 1e6).round() as i64 * 1000, false),
        RowTime::UtcNs(utc_ns) => (utc_ns, true),
    }
}

/// Read a table line by line, but for the `garbled` lines; `take` gets the number, the time and the
/// content of each.
fn read<'a>(
    bytes: &'a [u8],
    file: InputFile,
    garbled: &BTreeMap<usize, String>,
    mut take: impl FnMut(usize, i64, ImportedRow) -> Result<(), ImportFault>,
) -> Result<Table<'a>, ImportFault> {
    if bytes.trim_ascii().is_empty() {
        return Err(ImportFault::Empty(file));
    }
    let which = if file == InputFile::Marks { ImportRow::Marks } else { ImportRow::Counts };
    let mut reader = ImportReader::default();
    let mut table =
        Table { lines: Vec::new(), is_utc: false, bad: Vec::new(), refused: Vec::new() };
    let mut first_fault = None;
    let mut headed = false;
    let mut read = 0;
    for (number, line) in lines(bytes) {
        if let Some(why) = garbled.get(&number) {
            table.bad.push(BadLine { file, line: number, why: why.clone() });
            table.refused.push(table.lines.len());
            table.lines.push((line, None));
            continue;
        }
        let mut time = None;
        let row =
            if line.len() > BODY_MAX { Err(RowFault::NotCsv) } else { reader.line(which, line, 0) };
        match row {
            Ok(Some(row)) => {
                let stated = reader.time_of(which, line).map(time_ns);
                if let Ok((time_ns, is_utc)) = stated {
                    table.is_utc = is_utc;
                    time = Some(time_ns);
                    read += 1;
                    take(number, time_ns, row)?;
                }
            }
            Ok(None) => headed |= !line.trim_ascii().is_empty(),
            Err(fault) if !headed => return Err(ImportFault::Header(file, fault)),
            Err(fault) => {
                table.bad.push(BadLine { file, line: number, why: fault.to_string() });
                first_fault.get_or_insert(fault);
            }
        }
        table.lines.push((line, time));
    }
    match first_fault {
        _ if read > 0 => Ok(table),
        Some(fault) => Err(ImportFault::NoGoodRows(file, fault)),
        None => Err(ImportFault::NoRows(file)),
    }
}

/// Read the counts table.
///
/// # Errors
/// [`ImportFault`] when it cannot be used.
pub fn counts(bytes: &[u8]) -> Result<CountsTable<'_>, ImportFault> {
    let mut samples: Vec<(i64, CountSample)> = Vec::new();
    let mut went_back = Vec::new();
    let mut repeated = 0;
    let mut down = false;
    let table = read(bytes, InputFile::Counts, &garbled(bytes), |line, time_ns, row| {
        let last_ns = samples.last().map_or(i64::MIN, |last| last.0);
        if time_ns < last_ns {
            let back_s = (last_ns - time_ns) as f64 * 1e-9;
            return Err(ImportFault::TimeBack { line, back_s });
        }
        repeated += usize::from(time_ns == last_ns);
        let was_down = std::mem::take(&mut down);
        match row {
            ImportedRow::Counts(sample) => samples.push((time_ns, sample)),
            ImportedRow::WentBack(sample) => {
                went_back.push(line);
                samples.push((time_ns, sample));
            }
            ImportedRow::CountsDown(sample) => {
                down = true;
                went_back.extend((!was_down).then_some(line));
                samples.push((time_ns, sample));
            }
            ImportedRow::Mark { .. } => {}
        }
        Ok(())
    })?;
    let mut steps: Vec<i64> =
        samples.windows(2).map(|w| w[1].0 - w[0].0).filter(|step| *step > 0).collect();
    steps.sort_unstable();
    let interval_s = steps.get(steps.len() / 2).map_or(0.0, |step| *step as f64 * 1e-9);
    if interval_s > INTERVAL_MAX_S {
        return Err(ImportFault::TooCoarse { interval_s });
    }
    Ok(CountsTable { table, samples, repeated, went_back, interval_s })
}

/// Read the marks table: its lines, and time, line and kind of each mark.
///
/// # Errors
/// [`ImportFault`] when it cannot be used.
pub fn marks(bytes: &[u8]) -> Result<Marks<'_>, ImportFault> {
    let mut found = Vec::new();
    let table = read(bytes, InputFile::Marks, &BTreeMap::new(), |line, time_ns, row| {
        if let ImportedRow::Mark { action, .. } = row {
            found.push((time_ns, line, action));
        }
        Ok(())
    })?;
    Ok((table, found))
}
