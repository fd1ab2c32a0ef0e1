//! Plain recordings made into a capture.
//!
//! Sentences, counts and marks recorded elsewhere come as files without a common clock of the
//! host. Here they are laid side by side on one axis, nanoseconds since the earliest of them, and
//! every line goes into the capture as it stands in its file (arrival times before sentences are
//! used and taken off). The later stages read the capture like any other; its header says that
//! its times are derived, so nobody takes them for evidence of a delay.
//!
//! The receiver's own UTC is the axis: every sentence is placed at the UTC of its epoch. Counts
//! with `utc` are placed at theirs; counts with `board_s` where the two speeds fit
//! ([`crate::timeline::join`]). Matching speeds for the receiver's lag is then left to the work
//! on the capture.

mod bus;
mod dates;
pub mod fault;
mod garbled;
mod held;
mod place;
mod plain;
mod receiver;
mod steps;
mod summary;
mod table;
mod vtg_order;

pub use bus::bus_to_records;
pub use fault::{ImportFault, InputFile};
pub use summary::{BadLine, Clocks, ImportSummary};

use crate::capture::{
    Arrival, BODY_MAX, Entry, HEADER_FORMAT, Header, HostMark, HostMarkAction, ImportRow, PortRole,
    Record,
};
use crate::course::file::parse as parse_course;
use held::held;
use place::{Axis, axis};
use plain::plain;
use receiver::Recording;
use table::{CountsTable, Table};

/// The files, each read whole.
#[derive(Clone, Copy, Debug)]
pub struct Inputs<'a> {
    /// The receiver's sentences, one a line.
    pub nmea: &'a [u8],
    /// The table of counts.
    pub counts: &'a [u8],
    /// The table of marks.
    pub marks: Option<&'a [u8]>,
    /// The course, as TOML.
    pub course: Option<&'a str>,
}

/// Remarks that go into the capture's note; the note must fit a record.
const NOTED: usize = 4;

/// The marks table with time, line and kind of each mark.
pub(crate) type Marks<'a> = (Table<'a>, Vec<(i64, usize, HostMarkAction)>);

/// Make the records of a capture.
///
/// # Errors
/// [`ImportFault`] when no honest capture can be made.
pub fn to_records(inputs: &Inputs<'_>) -> Result<(Vec<Record>, ImportSummary), ImportFault> {
    to_records_at(inputs, None)
}

/// The same where the time is known, nanoseconds since 1970: no recording is newer.
///
/// # Errors
/// As [`to_records`].
pub fn to_records_at(
    inputs: &Inputs<'_>,
    now_utc_ns: Option<i64>,
) -> Result<(Vec<Record>, ImportSummary), ImportFault> {
    let (nmea, counts) = (plain(inputs.nmea), plain(inputs.counts));
    let marks = inputs.marks.map(plain);
    let inputs = &Inputs { nmea: &nmea, counts: &counts, marks: marks.as_deref(), ..*inputs };
    let mut remarks = course_remarks(inputs.course)?;
    let counts = table::counts(inputs.counts)?;
    let marks = inputs.marks.map(table::marks).transpose()?;
    let counts_utc_ns = counts.table.is_utc.then(|| counts.table.span_ns().0);
    let mut recording = receiver::read(inputs.nmea, counts_utc_ns, now_utc_ns)?;
    let motions = counts.motions(counts.table.span_ns().0)?;
    steps::take_out(&mut recording, &motions, counts_utc_ns, &mut remarks);
    let axis = axis(&recording, &counts, &motions, &mut remarks)?;
    if let Some((table, _)) = &marks
        && counts.table.is_utc
        && !table.is_utc
    {
        return Err(ImportFault::MarksClock);
    }
    let mut records = records(inputs, &recording, &counts, marks.as_ref(), &axis);
    summary::remark(&recording, &counts, marks.as_ref(), &axis, &mut remarks);
    let mut bad = recording.bad;
    bad.extend(counts.table.bad);
    bad.extend(marks.into_iter().flat_map(|(table, _)| table.bad));
    let held = held(&records);
    let summary = ImportSummary {
        sentences: held.sentences,
        fixes: held.fixes,
        counts: held.counts,
        counts_interval_s: counts.interval_s,
        bus: None,
        marks: held.marks,
        course: inputs.course.is_some(),
        clocks: axis.clocks,
        remarks,
        bad,
    };
    note_join(&summary, &mut records);
    Ok((records, summary))
}

/// How the clocks were combined is part of the evidence: it goes into the capture as a note.
fn note_join(summary: &ImportSummary, records: &mut Vec<Record>) {
    if let Some(last) = records.last_mut() {
        let mut text = summary.clock_words();
        for remark in summary.remarks.iter().take(NOTED) {
            text.push(' ');
            text.push_str(remark);
        }
        let note = HostMark { key: u64::MAX, action: HostMarkAction::Note, text };
        // The last record is the end, and there is always one.
        let end = std::mem::replace(&mut last.entry, Entry::HostMark(note));
        let host_ns = last.host_ns;
        records.push(Record { host_ns, entry: end });
    }
}

fn course_remarks(course: Option<&str>) -> Result<Vec<String>, ImportFault> {
    let Some(text) = course else { return Ok(Vec::new()) };
    let file = parse_course(text).map_err(|fault| ImportFault::Course(fault.to_string()))?;
    if text.len() > BODY_MAX {
        return Err(ImportFault::CourseTooLong);
    }
    let unknown = |key: &String| format!("The course file's {key} is not known and not used.");
    Ok(file.unknown.iter().map(unknown).collect())
}

/// Lines on the axis: host time, order among equals, content.
type Placed = Vec<(u64, u8, Entry)>;

fn records(
    inputs: &Inputs<'_>,
    recording: &Recording<'_>,
    counts: &CountsTable<'_>,
    marks: Option<&Marks<'_>>,
    axis: &Axis,
) -> Vec<Record> {
    let mut placed: Placed = Vec::new();
    let to_host_ns = |line_ns: i64| axis.host_ns(axis.counts_utc_ns(line_ns));
    place_table(&counts.table, ImportRow::Counts, to_host_ns, 0, &mut placed);
    place_lines(recording, axis, &mut placed);
    if let Some((table, _)) = marks {
        place_marks(table, |line_ns| axis.host_ns(axis.marks_utc_ns(table, line_ns)), &mut placed);
    }
    assemble(placed, axis.zero_utc_ns, inputs.course)
}

/// Head, course, what was placed, in order of time, and the end.
fn assemble(mut placed: Placed, zero_utc_ns: i64, course: Option<&str>) -> Vec<Record> {
    placed.sort_by_key(|(host_ns, order, _)| (*host_ns, *order));
    let header = Header {
        format: HEADER_FORMAT.to_owned(),
        version: 1,
        software: env!("CARGO_PKG_VERSION").to_owned(),
        started_utc: crate::units::rfc3339(zero_utc_ns),
        arrival: Arrival::Derived,
        pace: 1.0,
        practice: false,
    };
    let mut records = vec![Record { host_ns: 0, entry: Entry::Header(header) }];
    if let Some(text) = course {
        records.push(Record { host_ns: 0, entry: Entry::Course(text.to_owned()) });
    }
    let end_ns = placed.last().map_or(0, |last| last.0);
    records.extend(placed.into_iter().map(|(host_ns, _, entry)| Record { host_ns, entry }));
    records.push(Record { host_ns: end_ns, entry: Entry::End });
    records
}

/// Lines of the counts table. A line without a time stays behind the line before it.
fn place_table(
    table: &Table<'_>,
    row: ImportRow,
    to_host_ns: impl Fn(i64) -> u64,
    order: u8,
    placed: &mut Placed,
) {
    let mut host_ns = 0;
    for (place, (line, time_ns)) in table.lines.iter().enumerate() {
        // A drift that was fitted must not turn two lines of one microsecond round.
        host_ns = time_ns.map_or(host_ns, &to_host_ns).max(host_ns);
        let refused = table.refused.binary_search(&place).is_ok();
        let row = if refused { ImportRow::Refused } else { row };
        placed.push((host_ns, order, Entry::Import(row, line.to_vec())));
    }
}

/// Lines of the marks table, in order of time whatever their order in the file.
fn place_marks(table: &Table<'_>, to_host_ns: impl Fn(i64) -> u64, placed: &mut Placed) {
    let mut lines: Vec<(u64, &[u8])> = Vec::new();
    let mut host_ns = 0;
    for (line, time_ns) in &table.lines {
        host_ns = time_ns.map_or(host_ns, &to_host_ns);
        lines.push((host_ns, line));
    }
    // The header line stays in front: a stable sort, and nothing is placed before 0.
    lines[1..].sort_by_key(|line| line.0);
    let mut last_ns = None;
    for (host_ns, line) in lines {
        // The host time is a mark's identity: a note and a start of one instant stay two.
        let host_ns = last_ns.map_or(host_ns, |last: u64| host_ns.max(last + 1));
        last_ns = Some(host_ns);
        placed.push((host_ns, 2, Entry::Import(ImportRow::Marks, line.to_vec())));
    }
}

/// The receiver's lines, those of one epoch in one record as far as it holds them.
fn place_lines(recording: &Recording<'_>, axis: &Axis, placed: &mut Placed) {
    let mut open: Option<(u64, Vec<u8>)> = None;
    let mut close = |open: Option<(u64, Vec<u8>)>| {
        if let Some((host_ns, bytes)) = open {
            placed.push((host_ns, 1, Entry::Bytes(PortRole::Receiver, bytes)));
        }
    };
    for (line, utc_ns) in &recording.lines {
        let host_ns = axis.host_ns(*utc_ns);
        match &mut open {
            Some((at_ns, bytes)) if *at_ns == host_ns && bytes.len() + line.len() <= BODY_MAX => {
                bytes.extend_from_slice(line);
            }
            _ => close(open.replace((host_ns, line.to_vec()))),
        }
    }
    close(open);
}
