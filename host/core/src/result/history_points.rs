//! Signed-off records as the points of a history.

use super::record_v1::{RecordFault, RecordV1};
use super::work_v1::{BudgetLineV1, ChannelV1};
use crate::history::{Point, Shared};
use crate::rig::Entry;
use chrono::{DateTime, NaiveDate};

/// Keys of the budget's line of the tape itself, by class or certificate: its error is the same
/// each time that the same tape is laid.
const TAPE_ITSELF: [&str; 2] = ["tape.class", "tape.certificate"];

/// Which records are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Which<'a> {
    /// Name of the rig; upper and lower case are alike.
    pub rig: &'a str,
    /// The sensor, `wheel` or `radar`.
    pub channel: &'a str,
    /// Those of the simulator instead of those that were measured: never both together.
    pub practice: bool,
}

/// The points of one rig and sensor, in the order of the records. A record without a value of that
/// sensor gives none.
///
/// # Errors
/// [`RecordFault`] of the first record whose result cannot be read.
pub fn points(records: &[RecordV1], which: Which<'_>) -> Result<Vec<Point>, RecordFault> {
    let rig = which.rig.to_lowercase();
    let mut out = Vec::new();
    for record in records {
        let mine = record.rig.rig.name.to_lowercase() == rig && record.practice == which.practice;
        if !mine {
            continue;
        }
        let Some(work) = record.worked()? else { continue };
        if let Some(channel) = work.channels.get(which.channel) {
            let amended = |other: &RecordV1| {
                other.amends.as_ref().is_some_and(|amends| amends.id == record.id)
            };
            out.extend(point(record, channel, records.iter().any(amended)));
        }
    }
    Ok(out)
}

fn point(record: &RecordV1, channel: &ChannelV1, amended: bool) -> Option<Point> {
    let best = channel.best()?;
    // The day it was measured; an amendment may come much later.
    let began = record.capture.as_ref().and_then(|capture| day(&capture.started_utc));
    let day = began.or_else(|| day(&record.issued_utc))?;
    Some(Point {
        record: record.id.clone(),
        day,
        figure: best.impulses_per_100m,
        standard_uncertainty: best.standard_uncertainty,
        degrees_of_freedom: best.degrees_of_freedom.unwrap_or(f64::INFINITY),
        shared: record.rig.tape.as_ref().and_then(|tape| shared(tape, &channel.budget)),
        amended,
    })
}

fn day(rfc3339: &str) -> Option<NaiveDate> {
    Some(DateTime::parse_from_rfc3339(rfc3339).ok()?.to_utc().date_naive())
}

/// The error of the tape itself. A tape with another certificate is corrected again, so it counts
/// as another one.
fn shared(tape: &Entry, budget: &[BudgetLineV1]) -> Option<Shared> {
    let lines = budget.iter().filter(|line| TAPE_ITSELF.contains(&line.key.as_str()));
    let variance: f64 = lines.map(|line| line.contribution.powi(2)).sum();
    let stated = ["serial", "certificate", "certified_on"];
    let stated = stated.iter().filter_map(|key| tape.text(key));
    let key = std::iter::once(tape.name.as_str()).chain(stated).collect::<Vec<_>>().join(", ");
    (variance > 0.0).then(|| Shared { key, standard_uncertainty: variance.sqrt() })
}
