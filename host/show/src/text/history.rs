//! The history of a rig for the terminal: the answer first, the records below.

use super::lines::with_cautions;
use std::fmt::Write as _;
use trundle_core::cautions;
use trundle_core::figure::COVERAGE;
use trundle_core::history::{
    Change, History, HistoryRefusal, HistoryStep, Point, causes, sentence,
};
use trundle_core::result::history_v1::HistoryFacts;
use trundle_core::stats::budget::student::coverage_factor;
use trundle_core::units::signed;

/// Shown of a record's identity, characters: its day and the beginning of its content.
const ID_SHOWN: usize = 19;

/// The history as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(history: &Result<History, HistoryRefusal>, facts: &HistoryFacts) -> String {
    let mut out = String::new();
    if facts.practice {
        out.push_str("PRACTICE: these records come from the simulator; nothing was measured.\n");
    }
    match history {
        Ok(history) => given(&mut out, history, facts),
        Err(refusal) => {
            let _ = writeln!(out, "HISTORY: NO RESULT: {refusal}.");
            let _ = writeln!(out, "{} {}", refusal.means(), refusal.next());
        }
    }
    out.push('\n');
    with_cautions(out, cautions::ALL)
}

fn given(out: &mut String, history: &History, facts: &HistoryFacts) {
    let _ = writeln!(out, "HISTORY: {}", sentence(history));
    if let Some(causes) = causes(history, &facts.channel) {
        let _ = writeln!(out, "{causes}");
    }
    let _ = writeln!(out, "Next: {}", history.verdict.next());
    let _ = writeln!(
        out,
        "\nRig {}, {}; impulses per 100 m, ± is 95 %; En above 1 is significant",
        facts.rig, facts.channel
    );
    let _ = writeln!(
        out,
        "{:<12}{:>10}{:>9}{:>12}{:>7}{:>14}{:>7}  record",
        "Day", "value", "±", "since last", "En", "against mean", "En"
    );
    for step in &history.steps {
        let _ = writeln!(out, "{}", line(step));
    }
    let _ = writeln!(out, "\n{}", trend_words(history));
}

fn line(step: &HistoryStep) -> String {
    let point = &step.point;
    let id: String = point.record.chars().take(ID_SHOWN).collect();
    let (previous, previous_en) = cells(step.previous);
    let (mean, mean_en) = cells(step.mean);
    let amended = if point.amended { ", amended: not used" } else { "" };
    format!(
        "{:<12}{:>10.1}{:>9.1}{previous:>12}{previous_en:>7}{mean:>14}{mean_en:>7}  {id}{amended}",
        point.day.to_string(),
        point.figure,
        half_width(point)
    )
}

/// Half-width of a point's 95 % interval, impulses per 100 m.
pub(crate) fn half_width(point: &Point) -> f64 {
    coverage_factor(COVERAGE, point.degrees_of_freedom) * point.standard_uncertainty
}

/// A change in words: its share in per cent, and En with a mark where it is significant.
pub(crate) fn cells(change: Option<Change>) -> (String, String) {
    let Some(change) = change else { return ("-".to_owned(), "-".to_owned()) };
    let mark = if change.significant { "!" } else { "" };
    (
        format!("{} %", signed(100.0 * change.share, 2)),
        format!("{:.2}{mark}", change.normalised_error),
    )
}

/// The trend in a sentence.
pub(crate) fn trend_words(history: &History) -> String {
    match &history.trend {
        Ok(trend) => format!(
            "Trend: {} ± {:.2} % a year, {}.",
            signed(100.0 * trend.share_per_year, 2),
            100.0 * trend.half_width_per_year,
            if trend.significant { "significant" } else { "not significant" }
        ),
        Err(refusal) => format!("Trend: {refusal}."),
    }
}
