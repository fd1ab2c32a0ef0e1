//! What of the drive for the antenna position has been seen, and what is still missing.

use super::{CheckRow, How, Shown, View, answer, listed, measured, satellite};
use crate::text::mount as text;
use trundle_core::survey::mount::{Mount, MountRefusal};

/// What the drive has shown so far.
#[must_use]
pub fn shown_antenna(view: &View, worked: Option<&Result<Mount, MountRefusal>>) -> Shown {
    let rows = match worked {
        Some(Ok(mount)) => text::witnesses(mount).into_iter().map(witness_row).collect(),
        Some(Err(MountRefusal::NothingToHear { passes, turns })) => vec![
            missing(measured::OPPOSITE, &passes.to_string(), passes.next()),
            missing(measured::TURNS, &turns.to_string(), turns.next()),
        ],
        Some(Err(why)) => vec![missing(measured::ONE_CLOCK, &why.to_string(), why.next())],
        None => Vec::new(),
    };
    let clean = matches!(worked, Some(Ok(mount)) if mount.is_clean());
    let next = match rows.iter().find(|row: &&CheckRow| !row.done && !clean) {
        Some(row) => row.next.clone(),
        None if rows.is_empty() => measured::ANTENNA_BEGINS.to_owned(),
        None => measured::ANTENNA_ALL.to_owned(),
    };
    let figures = match worked {
        Some(Ok(mount)) => text::positions(mount)
            .into_iter()
            .map(|(label, found)| match found {
                Some(words) => answer(label, words, false),
                None => answer(label, measured::NOT_YET.to_owned(), true),
            })
            .collect(),
        _ => Vec::new(),
    };
    Shown { figures, ..listed(view, &next, satellite(view), rows) }
}

fn missing(label: &str, why: &str, next: &str) -> CheckRow {
    CheckRow::new(How::Missing, measured::MISSING, label, format!("{why}."), next)
}

/// What one part of the drive has shown.
pub(crate) fn witness_row(witness: text::Witness) -> CheckRow {
    match witness.found {
        Ok(words) => CheckRow::new(How::Good, measured::SEEN, witness.label, words, ""),
        Err((why, next)) => missing(witness.label, &why, next),
    }
}
