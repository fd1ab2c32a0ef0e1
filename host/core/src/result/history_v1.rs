//! `trundle-history`, version 1: has the value of a rig changed, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-history-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers: 0.008 is 0.8 %. Unlimited degrees of freedom are `null`, since JSON
//! has no word for them.

use super::document::{RefusalV1, finite, objects, to_text};
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
    to_text(&HistoryV1::of((history.as_ref().ok(), history.as_ref().err(), facts)))
}

objects! {
    HistoryV1<'a> of (given, refusal, facts):
        (Option<&'a History>, Option<&HistoryRefusal>, &'a HistoryFacts)
    {
        format: &'static str = "trundle-history",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        rig: &'a str = &facts.rig,
        channel: &'a str = &facts.channel,
        practice: bool = facts.practice,
        state: &'static str = given.map_or("refused", |history| history.verdict.word()),
        refusal: Option<RefusalV1> =
            refusal.map(|why| RefusalV1::of(why.code(), why, why.means(), why.next())),
        sentence: Option<String> = given.map(sentence),
        causes: Option<&'static str> = given.and_then(|history| causes(history, &facts.channel)),
        next: &'static str = given
            .map(|history| history.verdict.next())
            .or(refusal.map(HistoryRefusal::next))
            .unwrap_or_default(),
        coverage_probability: f64 = COVERAGE,
        points: Vec<PointV1<'a>> =
            given.into_iter().flat_map(|history| &history.steps).map(PointV1::of).collect(),
        trend: Option<TrendV1> =
            given.and_then(|history| history.trend.as_ref().ok()).map(TrendV1::of),
        trend_refused_because: Option<String> =
            given.and_then(|history| Some(history.trend.as_ref().err()?.to_string())),
        cautions: &'static [&'static str] = cautions::ALL,
    }

    PointV1<'a> of step: &'a HistoryStep {
        record: &'a str = &step.point.record,
        day: String = step.point.day.to_string(),
        impulses_per_100m: f64 = step.point.figure,
        standard_uncertainty: f64 = step.point.standard_uncertainty,
        degrees_of_freedom: Option<f64> = finite(step.point.degrees_of_freedom),
        shared: Option<SharedV1<'a>> = step.point.shared.as_ref().map(SharedV1::of),
        amended: bool = step.point.amended,
        from_previous: Option<ChangeV1> = step.previous.map(ChangeV1::of),
        from_mean: Option<ChangeV1> = step.mean.map(ChangeV1::of),
    }

    SharedV1<'a> of shared: &'a Shared {
        key: &'a str = &shared.key,
        standard_uncertainty: f64 = shared.standard_uncertainty,
    }

    ChangeV1 of change: Change {
        since: String = change.since.to_string(),
        points: usize = change.points,
        reference: f64 = change.reference,
        reference_standard_uncertainty: f64 = change.reference_standard_uncertainty,
        share: f64 = change.share,
        share_half_width: f64 = change.share_half_width,
        normalised_error: f64 = change.normalised_error,
        significant: bool = change.significant,
    }

    TrendV1 of trend: &Trend {
        origin: String = trend.origin.to_string(),
        at_origin: f64 = trend.line.intercept,
        per_day: f64 = trend.line.slope,
        share_per_year: f64 = trend.share_per_year,
        share_per_year_half_width: f64 = trend.half_width_per_year,
        significant: bool = trend.significant,
        mean: f64 = trend.mean,
        chi_squared: f64 = trend.line.chi_squared,
        degrees_of_freedom: usize = trend.line.degrees_of_freedom,
    }
}
