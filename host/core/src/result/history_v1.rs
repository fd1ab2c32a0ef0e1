//! `trundle-history`, version 1: has the figure of a rig changed, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-history-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers: 0.008 is 0.8 %. Unlimited degrees of freedom are `null`, since JSON
//! has no word for them.

use crate::cautions;
use crate::figure::COVERAGE;
use crate::history::{
    Change, History, HistoryRefusal, Point, Shared, Step, Trend, causes, sentence,
};
use serde::Serialize;

/// What the result says beside the history. Nothing in it is trusted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HistoryFacts {
    /// Name of the rig.
    pub rig: String,
    /// `wheel` or `radar`.
    pub channel: String,
    /// The records come from the simulator.
    pub practice: bool,
}

#[derive(Serialize)]
struct HistoryV1<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    rig: &'a str,
    channel: &'a str,
    practice: bool,
    state: &'static str,
    refusal: Option<RefusalV1>,
    sentence: Option<String>,
    causes: Option<&'static str>,
    next: &'static str,
    coverage_probability: f64,
    points: Vec<PointV1<'a>>,
    trend: Option<TrendV1>,
    trend_refused_because: Option<String>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct RefusalV1 {
    code: &'static str,
    what: String,
    means: &'static str,
    next: &'static str,
}

#[derive(Serialize)]
struct PointV1<'a> {
    record: &'a str,
    day: String,
    impulses_per_100m: f64,
    standard_uncertainty: f64,
    degrees_of_freedom: Option<f64>,
    shared: Option<SharedV1<'a>>,
    amended: bool,
    from_previous: Option<ChangeV1>,
    from_mean: Option<ChangeV1>,
}

#[derive(Serialize)]
struct SharedV1<'a> {
    key: &'a str,
    standard_uncertainty: f64,
}

#[derive(Serialize)]
struct ChangeV1 {
    since: String,
    points: usize,
    reference: f64,
    reference_standard_uncertainty: f64,
    share: f64,
    share_half_width: f64,
    normalised_error: f64,
    significant: bool,
}

#[derive(Serialize)]
struct TrendV1 {
    origin: String,
    at_origin: f64,
    per_day: f64,
    share_per_year: f64,
    share_per_year_half_width: f64,
    significant: bool,
    mean: f64,
    chi_squared: f64,
    degrees_of_freedom: usize,
}

/// The object as one line of JSON, without a line end. Same history, same bytes.
#[must_use]
pub fn to_json(history: &Result<History, HistoryRefusal>, facts: &HistoryFacts) -> String {
    let given = history.as_ref().ok();
    let refusal = history.as_ref().err();
    let value = HistoryV1 {
        format: "trundle-history",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        rig: &facts.rig,
        channel: &facts.channel,
        practice: facts.practice,
        state: given.map_or("refused", |history| history.verdict.word()),
        refusal: refusal.map(refused),
        sentence: given.map(sentence),
        causes: given.and_then(|history| causes(history, &facts.channel)),
        next: match history {
            Ok(history) => history.verdict.next(),
            Err(refusal) => refusal.next(),
        },
        coverage_probability: COVERAGE,
        points: given.map(|history| history.steps.iter().map(point).collect()).unwrap_or_default(),
        trend: given.and_then(|history| history.trend.as_ref().ok()).map(trend),
        trend_refused_because: given
            .and_then(|history| history.trend.as_ref().err())
            .map(ToString::to_string),
        cautions: cautions::ALL,
    };
    serde_json::to_string(&value).expect("plain structs of text and numbers always serialise")
}

fn refused(refusal: &HistoryRefusal) -> RefusalV1 {
    RefusalV1 {
        code: refusal.code(),
        what: refusal.to_string(),
        means: refusal.means(),
        next: refusal.next(),
    }
}

fn point(step: &Step) -> PointV1<'_> {
    let Point { record, day, figure, standard_uncertainty, degrees_of_freedom, shared, amended } =
        &step.point;
    let limited = degrees_of_freedom.is_finite();
    PointV1 {
        record,
        day: day.to_string(),
        impulses_per_100m: *figure,
        standard_uncertainty: *standard_uncertainty,
        degrees_of_freedom: limited.then_some(*degrees_of_freedom),
        shared: shared.as_ref().map(|Shared { key, standard_uncertainty }| SharedV1 {
            key,
            standard_uncertainty: *standard_uncertainty,
        }),
        amended: *amended,
        from_previous: step.previous.map(change),
        from_mean: step.mean.map(change),
    }
}

fn change(change: Change) -> ChangeV1 {
    ChangeV1 {
        since: change.since.to_string(),
        points: change.points,
        reference: change.reference,
        reference_standard_uncertainty: change.reference_standard_uncertainty,
        share: change.share,
        share_half_width: change.share_half_width,
        normalised_error: change.normalised_error,
        significant: change.significant,
    }
}

fn trend(trend: &Trend) -> TrendV1 {
    TrendV1 {
        origin: trend.origin.to_string(),
        at_origin: trend.line.intercept,
        per_day: trend.line.slope,
        share_per_year: trend.share_per_year,
        share_per_year_half_width: trend.half_width_per_year,
        significant: trend.significant,
        mean: trend.mean,
        chi_squared: trend.line.chi_squared,
        degrees_of_freedom: trend.line.degrees_of_freedom,
    }
}
