//! `trundle-history`, version 1: has the value of a rig changed, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-history-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers: 0.008 is 0.8 %. Unlimited degrees of freedom are `null`, since JSON
//! has no word for them.

use super::document::{finite, list, objects, refusal, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::history::{
    Change, History, HistoryRefusal, HistoryStep, Shared, Trend, causes, sentence,
};

/// What the result says beside the history. Nothing in it is trusted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HistoryFacts {
    /// Name of the rig.
    pub rig: String,
    /// The sensor, `wheel` or `radar`.
    pub channel: String,
    /// The records come from the simulator.
    pub practice: bool,
}

/// The object as one line of JSON, without a line end. Same history, same bytes.
#[must_use]
pub fn to_json(history: &Result<History, HistoryRefusal>, facts: &HistoryFacts) -> String {
    to_text(&history_v1(history.as_ref().ok(), history.as_ref().err(), facts))
}

objects! {
    history_v1(
        given: Option<&History>,
        refused: Option<&HistoryRefusal>,
        facts: &HistoryFacts
    ) {
        format = "trundle-history",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        rig = &facts.rig,
        channel = &facts.channel,
        practice = facts.practice,
        state = given.map_or("refused", |history| history.verdict.word()),
        refusal = refused.map(|why| refusal(why.code(), why, why.means(), why.next())),
        sentence = given.map(sentence),
        causes = given.and_then(|history| causes(history, &facts.channel)),
        next = given
            .map(|history| history.verdict.next())
            .or(refused.map(HistoryRefusal::next))
            .unwrap_or_default(),
        coverage_probability = COVERAGE,
        points = list(given.into_iter().flat_map(|history| &history.steps), point_v1),
        trend = given.and_then(|history| history.trend.as_ref().ok()).map(trend_v1),
        trend_refused_because =
            given.and_then(|history| Some(history.trend.as_ref().err()?.to_string())),
        cautions = cautions::ALL,
    }

    point_v1(step: &HistoryStep) {
        record = &step.point.record,
        day = step.point.day.to_string(),
        impulses_per_100m = step.point.figure,
        standard_uncertainty = step.point.standard_uncertainty,
        degrees_of_freedom = finite(step.point.degrees_of_freedom),
        shared = step.point.shared.as_ref().map(shared_v1),
        amended = step.point.amended,
        from_previous = step.previous.map(change_v1),
        from_mean = step.mean.map(change_v1),
    }

    shared_v1(shared: &Shared) {
        key = &shared.key,
        standard_uncertainty = shared.standard_uncertainty,
    }

    change_v1(change: Change) {
        since = change.since.to_string(),
        points = change.points,
        reference = change.reference,
        reference_standard_uncertainty = change.reference_standard_uncertainty,
        share = change.share,
        share_half_width = change.share_half_width,
        normalised_error = change.normalised_error,
        significant = change.significant,
    }

    trend_v1(trend: &Trend) {
        origin = trend.origin.to_string(),
        at_origin = trend.line.intercept,
        per_day = trend.line.slope,
        share_per_year = trend.share_per_year,
        share_per_year_half_width = trend.half_width_per_year,
        significant = trend.significant,
        mean = trend.mean,
        chi_squared = trend.line.chi_squared,
        degrees_of_freedom = trend.line.degrees_of_freedom,
    }
}
