//! What was combined and how, in words.

use super::Marks;
use super::dates::Dated;
use super::fault::InputFile;
use super::held::held;
use super::place::Axis;
use super::receiver::Recording;
use super::table::CountsTable;
use crate::capture::{HostMarkAction, Record};
use crate::timeline::join::Join;
use crate::units::{rfc3339, signed};

/// Bad lines listed one by one; the rest only counted.
const BAD_LISTED: usize = 10;

/// A line that was kept but says nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadLine {
    /// The file the lines are from.
    pub file: InputFile,
    /// Line number, from 1.
    pub line: usize,
    /// Why it was not used.
    pub why: String,
}

/// How the clocks were combined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clocks {
    /// By the UTC of the counts.
    Utc {
        /// Share of the satellite speed's changes that the counts foretell, where it can be
        /// determined.
        explained: Option<f64>,
    },
    /// By the UTC of the counts, put right by the speeds.
    UtcPutRight {
        /// Seconds added to the counts' times.
        off_s: f64,
        /// The match of both clocks.
        join: Join,
    },
    /// Combined by matching the speeds.
    Matched {
        /// UTC minus board time where the table begins, seconds since 1970.
        offset_s: f64,
        /// The match of both clocks.
        join: Join,
    },
}

/// What went into the capture.
#[derive(Clone, Debug, PartialEq)]
pub struct ImportSummary {
    /// Sentences with a sound checksum.
    pub sentences: u64,
    /// Number of the plausible fixes.
    pub fixes: usize,
    /// Number of the lines of counts.
    pub counts: usize,
    /// Their usual spacing, seconds.
    pub counts_interval_s: f64,
    /// Frames of the bus; `None` where the counts come from a table.
    pub bus: Option<usize>,
    /// Number of marks and notes.
    pub marks: usize,
    /// A course is in it.
    pub course: bool,
    /// How the clocks were combined.
    pub clocks: Clocks,
    /// What should be known, in sentences.
    pub remarks: Vec<String>,
    /// Lines that were not used.
    pub bad: Vec<BadLine>,
}

impl ImportSummary {
    /// That of a recording of the bus.
    pub(super) fn of_bus(
        records: &[Record],
        messages: usize,
        clocks: Clocks,
        remarks: Vec<String>,
        bad: Vec<BadLine>,
    ) -> Self {
        let held = held(records);
        Self {
            sentences: held.sentences,
            fixes: held.fixes,
            counts: 0,
            counts_interval_s: 0.0,
            bus: Some(messages),
            marks: 0,
            course: false,
            clocks,
            remarks,
            bad,
        }
    }

    /// What was combined and how, a sentence a line.
    #[must_use]
    pub fn joined(&self) -> Vec<String> {
        if let Some(messages) = self.bus {
            let Self { sentences, fixes, .. } = self;
            let what = format!("{sentences} sentences giving {fixes} fixes, {messages} messages");
            return vec![format!("{what} of the bus."), self.clock_words()];
        }
        let course = if self.course { "with a course" } else { "without a course" };
        vec![
            format!(
                "{} sentences giving {} fixes, {} lines of counts every {:.2} s, {} marks, \
                 {course}.",
                self.sentences, self.fixes, self.counts, self.counts_interval_s, self.marks
            ),
            self.clock_words(),
        ]
    }

    pub(super) fn clock_words(&self) -> String {
        match &self.clocks {
            Clocks::Utc { explained: Some(share) } => format!(
                "Combined by UTC; at these times the counts foretell {:.1} % of the changes of the \
                 satellite speed.",
                100.0 * share
            ),
            Clocks::Utc { explained: None } => {
                "Combined by UTC; the speed changes too little to check it by.".to_owned()
            }
            Clocks::UtcPutRight { off_s, join } => format!(
                "Combined by UTC, corrected by {} s ± {:.2} s by matching speeds.",
                signed(*off_s, 2),
                join.standard_uncertainty_s
            ),
            Clocks::Matched { offset_s, join } => {
                let rival = join.rival.map_or_else(
                    || "no other offset fits".to_owned(),
                    |rival| {
                        format!(
                            "the next offset lies {:.1} s away with {:.1} times the misfit",
                            rival.apart_s.abs(),
                            rival.misfit_ratio
                        )
                    },
                );
                format!(
                    "Combined by matching speeds: UTC minus board time {offset_s:.2} s ± {:.2} s, \
                     misfit {:.3} m/s; {rival}.",
                    join.standard_uncertainty_s, join.misfit_m_s
                )
            }
        }
    }

    /// The lines that were not used, a sentence each, the first few of each file.
    #[must_use]
    pub fn bad_lines(&self) -> Vec<String> {
        let mut stated = Vec::new();
        for file in [InputFile::Nmea, InputFile::Counts, InputFile::Marks, InputFile::Bus] {
            let of_file = || self.bad.iter().filter(|bad| bad.file == file);
            stated.extend(of_file().take(BAD_LISTED).map(|bad| {
                format!("Line {} of the {} is not used: {}.", bad.line, file.name(), bad.why)
            }));
            let more = of_file().count().saturating_sub(BAD_LISTED);
            if more > 0 {
                stated.push(format!("{more} more lines of the {} are not used.", file.name()));
            }
        }
        stated
    }
}

/// What should be known about the recordings.
pub(super) fn remark(
    recording: &Recording<'_>,
    counts: &CountsTable<'_>,
    marks: Option<&Marks<'_>>,
    axis: &Axis,
    remarks: &mut Vec<String>,
) {
    let counted = [
        (
            recording.out_of_order as u64,
            "epochs of the receiver are out of order in time; they stay where they stand.",
        ),
        (
            recording.refused,
            "epochs of the receiver give no usable fix (void, contradictory or impossible).",
        ),
        (
            recording.dates_bad,
            "dates of the receiver are more than a year off and were not believed.",
        ),
        (
            counts.repeated as u64,
            "lines of counts have the time of the line before; the first of each counts.",
        ),
    ];
    receiver_remarks(recording, remarks);
    let seen = counted.into_iter().filter(|(count, _)| *count > 0);
    remarks.extend(seen.map(|(count, what)| format!("{count} {what}")));
    for line in counts.went_back.iter().take(BAD_LISTED) {
        remarks.push(format!(
            "A count goes down at line {line} of the counts table; a pass across it is refused."
        ));
    }
    match marks {
        None => remarks.push(
            "No marks were given, so the capture holds no pass and gives no value.".to_owned(),
        ),
        Some(marks) => mark_remarks(marks, counts, axis, remarks),
    }
}

/// What should be known about the receiver's sentences and dates.
pub(super) fn receiver_remarks(recording: &Recording<'_>, remarks: &mut Vec<String>) {
    let day = |utc_ns: i64| rfc3339(utc_ns).chars().take(10).collect::<String>();
    match recording.dated {
        Dated::Known => {}
        Dated::PerhapsRolled { stated_ns, then_ns } => remarks.push(format!(
            "The receiver dates the recording {}. If it is newer, the receiver's count of weeks \
             has rolled over, and 1024 weeks (19.6 years) on it is {}: give the counts utc, or \
             the sentences their time of arrival, to have it dated right. The value does not \
             depend on it.",
            day(stated_ns),
            day(then_ns)
        )),
        Dated::OtherWrong { stated_ns, other_ns } => remarks.push(format!(
            "The receiver dates the recording {}, the clock beside it {}: that clock was not set, \
             and the receiver's date is used.",
            day(stated_ns),
            day(other_ns)
        )),
    }
    if let (count, Some(first)) = &recording.left_out {
        remarks.push(format!(
            "{count} sentences of the receiver hold an impossible field that the rest does not \
             depend on, and are used without it; the first, {first}."
        ));
    }
}

fn mark_remarks(
    (table, marks): &Marks<'_>,
    counts: &CountsTable<'_>,
    axis: &Axis,
    remarks: &mut Vec<String>,
) {
    let (first_ns, last_ns) = counts.table.span_ns();
    let span = axis.counts_utc_ns(first_ns)..=axis.counts_utc_ns(last_ns);
    for (time_ns, line, action) in marks {
        let utc_ns = axis.marks_utc_ns(table, *time_ns);
        if *action != HostMarkAction::Note && !span.contains(&utc_ns) {
            remarks.push(format!(
                "The mark in line {line} of the marks table lies outside the counts."
            ));
        }
    }
}
