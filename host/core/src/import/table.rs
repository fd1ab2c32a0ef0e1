//! The tables of counts and marks: lines, their times, what they hold.

use super::fault::{ImportFault, InputFile};
use super::{BadLine, Marks};
use crate::capture::{BODY_MAX, ImportRow};
use crate::wire::board::CountSample;
use crate::wire::import_rows::{ImportReader, ImportedRow, RowFault, RowTime};

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
    /// Seconds since `origin_ns` and running count of the channel that shows motion.
    ///
    /// # Errors
    /// [`ImportFault::NoMotion`] when neither wheel nor radar moved.
    pub fn motion(&self, origin_ns: i64) -> Result<Vec<(f64, f64)>, ImportFault> {
        // As when a pass is worked: the wheel, or the radar where there is no wheel sensor.
        for channel in [0, 1] {
            let rises = self
                .samples
                .windows(2)
                .filter(|w| w[1].1.impulses[channel] > w[0].1.impulses[channel])
                .count();
            if rises > 10 {
                return Ok(self
                    .samples
                    .iter()
                    .map(|(time_ns, sample)| {
                        let at_s = (time_ns - origin_ns) as f64 * 1e-9;
                        (at_s, sample.impulses[channel] as f64)
                    })
                    .collect());
            }
        }
        Err(ImportFault::NoMotion)
    }
}

/// Lines of a table; a quoted field may hold line ends (RFC 4180, rule 6).
fn lines(bytes: &[u8]) -> Vec<(usize, &[u8])> {
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

fn time_ns(time: RowTime) -> (i64, bool) {
    match time {
        // Rounded to the microsecond, as the samples are.
        RowTime::BoardS(board_s) => ((board_s * 1e6).round() as i64 * 1000, false),
        RowTime::UtcNs(utc_ns) => (utc_ns, true),
    }
}

/// Read a table line by line; `take` gets the number, the time and the content of each.
fn read<'a>(
    bytes: &'a [u8],
    file: InputFile,
    mut take: impl FnMut(usize, i64, ImportedRow) -> Result<(), ImportFault>,
) -> Result<Table<'a>, ImportFault> {
    if bytes.trim_ascii().is_empty() {
        return Err(ImportFault::Empty(file));
    }
    let which = if file == InputFile::Marks { ImportRow::Marks } else { ImportRow::Counts };
    let mut reader = ImportReader::default();
    let mut table = Table { lines: Vec::new(), is_utc: false, bad: Vec::new() };
    let mut first_fault = None;
    let mut headed = false;
    let mut read = 0;
    for (number, line) in lines(bytes) {
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
    let table = read(bytes, InputFile::Counts, |line, time_ns, row| {
        let last_ns = samples.last().map_or(i64::MIN, |last| last.0);
        if time_ns < last_ns {
            let back_s = (last_ns - time_ns) as f64 * 1e-9;
            return Err(ImportFault::TimeBack { line, back_s });
        }
        repeated += usize::from(time_ns == last_ns);
        match row {
            ImportedRow::Counts(sample) => samples.push((time_ns, sample)),
            ImportedRow::WentBack(sample) => {
                went_back.push(line);
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
    let table = read(bytes, InputFile::Marks, |line, time_ns, row| {
        if let ImportedRow::Mark { action, .. } = row {
            found.push((time_ns, line, action));
        }
        Ok(())
    })?;
    Ok((table, found))
}
