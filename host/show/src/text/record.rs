//! A signed-off record for the terminal: what to enter and how sure first, then on what and by
//! whom, then what stands against it; the long form on paper has the rest.

use super::lines::wrap;
use super::work as text;
use crate::paper::{PaperFacts, Sheet};
use crate::phrases::plain::line;
use crate::phrases::result::{day, relative, sentence};
use std::fmt::Write as _;
use trundle_core::result::record_v1::{CaptureV1, RecordV1};
use trundle_core::result::work_v1::WorkV1;

/// Most lines of the budget that are shown; they come largest first.
const BUDGET_SHOWN: usize = 5;

/// The record as text of at most 100 columns where its words allow, ending with a line end.
/// `work` is the result of its course ([`RecordV1::worked`]).
#[must_use]
pub fn render(record: &RecordV1, work: Option<&WorkV1>, facts: &PaperFacts) -> String {
    let sheet = Sheet { record, work, facts };
    let mut out = String::new();
    headline(&mut out, &sheet);
    standing(&mut out, &sheet);
    if work.is_none() {
        parts(&mut out, &sheet);
    }
    against(&mut out, &sheet);
    about(&mut out, &sheet);
    conditions(&mut out, &sheet);
    if let Some(work) = work {
        parts(&mut out, &sheet);
        text::passes(&mut out, work, &sheet.sensors());
    }
    for (name, channel) in sheet.sensors() {
        text::details(&mut out, name, channel, BUDGET_SHOWN);
    }
    foundation(&mut out, &sheet);
    let _ = writeln!(out, "\n{}", sheet.end());
    wrap(&out.replace('\u{a0}', " "))
}

fn headline(out: &mut String, sheet: &Sheet<'_>) {
    let record = sheet.record;
    let practice = if record.practice { "PRACTICE, do not enter. " } else { "" };
    if record.work.is_none() {
        let all: Vec<&str> = sheet.parts().iter().map(|part| part.title).collect();
        let _ = writeln!(out, "{practice}Signed off, without a course: {}", all.join(", "));
        let _ = writeln!(out, "  record {}, signed off {}", sheet.id(), day(&record.issued_utc));
        return;
    }
    let good = match sheet.best() {
        Some(best) => format!("uncertainty {}", relative(best)),
        None => "uncertainty not calculated".to_owned(),
    };
    let _ = writeln!(
        out,
        "{practice}{}: {} impulses per 100 m were signed off, {good}",
        sheet.sensor(),
        sheet.entered()
    );
    let _ = writeln!(
        out,
        "  as found {}; to enter {}; as left {}{}",
        sheet.read(record.as_found),
        sheet.entered(),
        sheet.read(record.as_left),
        measured(sheet),
    );
    let _ = writeln!(out, "  record {}, signed off {}", sheet.id(), day(&record.issued_utc));
    if let Some(cost) = sheet.cost() {
        let _ = writeln!(out, "  {cost}");
    }
}

/// What the proof drive found of the value left, where there was one.
fn measured(sheet: &Sheet<'_>) -> String {
    let Some((outcome, ratio)) = sheet.as_left_measured() else { return String::new() };
    let ratio = ratio.map_or_else(String::new, |ratio| format!(", shown over true {ratio}"));
    format!("; as left, measured: {outcome}{ratio}")
}

fn standing(out: &mut String, sheet: &Sheet<'_>) {
    if let Some(by) = &sheet.facts.superseded_by {
        let _ = writeln!(out, "  SUPERSEDED by record {}: go by that one", line(by));
    }
    if let Some(amends) = &sheet.record.amends {
        let (id, reason) = (line(&amends.id), line(&amends.reason));
        let _ = writeln!(out, "  replaces record {id}, because: {reason}");
    }
}

fn against(out: &mut String, sheet: &Sheet<'_>) {
    let discrepancies = sheet.discrepancies();
    let silent = sheet.flags().is_empty() && sheet.record.accepted_because.is_none();
    if silent && discrepancies.is_empty() {
        return;
    }
    out.push_str("\nLook at this first:\n");
    for warning in discrepancies {
        let _ = writeln!(out, "  {warning}");
    }
    for flag in sheet.flags() {
        let _ = writeln!(out, "  {} {}", line(&flag.code), sentence(flag));
    }
    if let Some(because) = &sheet.record.accepted_because {
        let _ = writeln!(out, "  Signed off in spite of this: {}", line(because));
    }
}

fn about(out: &mut String, sheet: &Sheet<'_>) {
    let _ = writeln!(out, "\n{}", sheet.done());
    for (part, thing, entry) in sheet.record.rig.parts() {
        let Some(entry) = entry else { continue };
        let rows = sheet.rows(part, thing, entry).into_iter().map(|(label, value, stated)| {
            let stated = if stated { " (stated by the customer)" } else { "" };
            format!("; {}: {value}{stated}", label.to_lowercase())
        });
        let rows: String = rows.collect();
        let _ = writeln!(out, "  {part:<9} {}{rows}", line(&entry.name));
    }
    if let Some(place) = &sheet.record.place {
        let _ = writeln!(out, "  {:<9} {}", "place", line(place));
    }
}

fn conditions(out: &mut String, sheet: &Sheet<'_>) {
    let said = sheet.conditions().into_iter().filter_map(|(field, value, stated)| {
        let stated = if stated { " (stated by the customer)" } else { "" };
        Some(format!("{}: {}{stated}", field.label.to_lowercase(), value?))
    });
    let known: Vec<String> = said.collect();
    if !known.is_empty() {
        let _ = writeln!(out, "  {:<9} {}", "that day", known.join("; "));
    }
}

/// What else was measured, in few lines each.
fn parts(out: &mut String, sheet: &Sheet<'_>) {
    let all = sheet.parts();
    if all.is_empty() {
        return;
    }
    let also = if sheet.work.is_some() { "Also measured" } else { "Measured" };
    let _ = writeln!(out, "\n{also} (95 %)");
    for (what, value) in all.into_iter().flat_map(|part| part.lines) {
        let _ = writeln!(out, "  {what}: {value}");
    }
}

fn foundation(out: &mut String, sheet: &Sheet<'_>) {
    let record = sheet.record;
    out.push('\n');
    for sentence in sheet.traceability() {
        let _ = writeln!(out, "{sentence}");
    }
    if let Some(remark) = &record.remark {
        let _ = writeln!(out, "Opinion of the signer: {}", line(remark));
    }
    let capture = |capture: &CaptureV1| {
        let (name, sha256) = (line(&capture.name), line(&capture.sha256));
        format!("capture {name}, {} bytes, SHA-256 {sha256}", capture.bytes)
    };
    if let Some(course) = record.course() {
        let (name, version) = (line(&course.method.name), course.method.version);
        let capture = capture(course.capture);
        let software = line(&record.software);
        let _ = writeln!(out, "Method {name}, version {version}; trundle {software}; {capture}");
    }
    for part in &record.parts {
        let (title, capture) = (part.method.title(), capture(&part.capture));
        let _ = writeln!(out, "Of the {title}: {capture}");
    }
}
