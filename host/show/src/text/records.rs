//! Records in lists, for the terminal.

use super::register::safe;
use crate::phrases::proof::outcome;
use trundle_core::result::part_of::PartVerified;
use trundle_core::result::part_read::PartRead;
use trundle_core::result::part_v1::title;
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::result::sign_off::Verified;
use trundle_core::result::verify_v1::{VerifiedPart, VerifiedRecord};

/// Widest rig name shown in a list, characters.
const RIG_WIDE: usize = 32;
/// Characters of an RFC 3339 time that say the day.
const DAY: usize = 10;

/// A list, one line a record, and what is wrong below the line.
#[must_use]
pub fn render(rows: &[RecordRow], more: usize) -> String {
    if rows.is_empty() {
        return "No record. `trundle sign CAPTURE` makes one.\n".to_owned();
    }
    let wide = rows.iter().map(|row| row.rig.chars().count()).max().unwrap_or(0).min(RIG_WIDE);
    let mut text = String::new();
    for row in rows {
        let day: String = row.issued_utc.chars().take(DAY).collect();
        let rig: String = safe(&row.rig).chars().take(RIG_WIDE).collect();
        text.push_str(&safe(&row.id));
        // Of a record that may be any, no value is shown.
        if row.state != DAMAGED {
            text.push_str(&format!("  {}  {rig:wide$}  {:<20} ", safe(&day), value(row)));
            text.push_str(&safe(&row.state));
            if !row.parts.is_empty() {
                let named = |word: &String| match &row.as_left_measured {
                    Some(state) if word == "proof" => {
                        format!("{}: {}", title(word), outcome(state))
                    }
                    _ => title(word).to_owned(),
                };
                let titles: Vec<String> = row.parts.iter().map(named).collect();
                let with = if row.to_enter.is_some() { "with " } else { "" };
                text.push_str(&format!("  {with}{}", titles.join(", ")));
            }
        }
        if row.practice {
            text.push_str("  PRACTICE");
        }
        if let Some(newer) = &row.amended_by {
            text.push_str(&format!("  superseded by {}", safe(newer)));
        }
        text.push('\n');
        if let Some(damage) = &row.damage {
            text.push_str(&format!("    DAMAGED: {}\n", safe(damage)));
        }
    }
    if rows.iter().any(|row| row.damage.is_some()) {
        text.push_str(
            "Do not use a damaged record: restore the last backup into another folder and \
             use it there. Every other record is sound.\n",
        );
    }
    if more > 0 {
        text.push_str(&format!("{more} more: see them with --all, or add words to search for.\n"));
    }
    text
}

/// The value of a record's course, as wide for every record.
fn value(row: &RecordRow) -> String {
    let Some(to_enter) = row.to_enter else { return "no course".to_owned() };
    let uncertainty = format!("{:.1}", row.expanded_uncertainty.unwrap_or_default());
    format!("{:5} {to_enter:>7} ±{uncertainty:<5}", safe(&row.channel))
}

/// What came of working records anew.
#[must_use]
pub fn verdicts(verdicts: &[VerifiedRecord], register: &[String]) -> String {
    let mut text = String::new();
    let sound = verdicts.iter().filter(|one| one.is_sound()).count();
    text.push_str(&format!("{sound} of {} records hold.\n", verdicts.len()));
    for one in verdicts {
        let said = match (&one.found, &one.trouble) {
            (None, None) => "no course in it".to_owned(),
            (Some(Verified::Same), _) => "recalculated: the same bytes".to_owned(),
            (Some(Verified::SameFigure { then, now }), _) => format!(
                "recalculated: the same value; later digits differ (signed off by version {then}, \
                 recalculated by {now})"
            ),
            (Some(Verified::Differs { then, now: Some(now) }), _) => format!(
                "DIFFERS: signed off as {then}, recalculated as {now}. The record stays as it was \
                 signed off; find out why before you use it"
            ),
            (Some(Verified::Differs { then, now: None }), _) => format!(
                "DIFFERS: signed off as {then}, no value when recalculated. The record stays as \
                 it was signed off; find out why before you use it"
            ),
            (None, trouble) => format!("DAMAGED: {}", trouble.as_deref().unwrap_or_default()),
        };
        text.push_str(&format!("{}  {}\n", safe(&one.id), safe(&said)));
        for part in &one.parts {
            text.push_str(&format!("    {}: {}\n", title(part.word), safe(&of_part(part))));
        }
    }
    for line in register {
        text.push_str(&format!("The register itself is damaged: {}\n", safe(line)));
    }
    if !register.is_empty() {
        text.push_str("Do not delete the file; restore the last backup into another folder.\n");
    }
    text
}

fn of_part(part: &VerifiedPart) -> String {
    match &part.found {
        Ok(PartVerified::Same) => "recalculated: the same bytes".to_owned(),
        Ok(PartVerified::SameValues { then, now }) => format!(
            "recalculated: the same values; later digits differ (signed off by version {then}, \
             recalculated by {now})"
        ),
        Ok(PartVerified::Differs { then, now }) => {
            let all = |read: &PartRead| {
                let lines = read.lines.iter().map(|line| format!("{}: {line}", line.what));
                format!("{}, {}", read.state, lines.collect::<Vec<_>>().join(", "))
            };
            format!(
                "DIFFERS: signed off as ({}), recalculated as ({}). The record stays as it was \
                 signed off; find out why before you use it",
                all(then),
                all(now)
            )
        }
        Err(trouble) => format!("DAMAGED: {trouble}"),
    }
}
