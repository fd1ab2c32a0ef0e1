//! `trundle-work`, version 1: the result of a job as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-work-1.schema.json`. Fields are only ever added.
//! A figure that cannot be given is `null`, and a flag says why. Infinite degrees of freedom are
//! `null` too, since JSON has no word for them.

use crate::figure::{COVERAGE, ChannelFigures, PassSummary, Work};
use crate::flags::Flag;
use crate::passes::pass::{MeasuredPass, quality_words};
use crate::stats::budget::{BudgetLine, Kind, Quantity, Sources, cover};
use crate::units::rfc3339;
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
struct WorkV1<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    state: &'static str,
    course: Option<CourseV1>,
    clock: Option<ClockV1>,
    channels: BTreeMap<&'static str, ChannelV1<'a>>,
    flags: Vec<FlagV1<'a>>,
    assumptions: &'a [String],
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct CourseV1 {
    length_m: f64,
    standard_uncertainty_m: f64,
}

#[derive(Serialize)]
struct ClockV1 {
    offset_s: f64,
    standard_uncertainty_s: f64,
    method: &'static str,
    receiver_lag_s: f64,
}

#[derive(Serialize)]
struct ChannelV1<'a> {
    tape: Option<FigureV1>,
    satellite: Option<FigureV1>,
    combined: Option<FigureV1>,
    agreement: Option<AgreementV1>,
    figure_to_enter: Option<i64>,
    monte_carlo: Option<MonteCarloV1>,
    as_found: Option<AsFoundV1<'a>>,
    rolling: Option<RollingV1<'a>>,
    budget: Vec<BudgetLineV1>,
    passes: Vec<PassV1>,
    health: Vec<FlagV1<'a>>,
}

#[derive(Serialize)]
struct FigureV1 {
    impulses_per_100m: f64,
    standard_uncertainty: f64,
    expanded_uncertainty: f64,
    coverage_factor: f64,
    coverage_probability: f64,
    degrees_of_freedom: Option<f64>,
}

#[derive(Serialize)]
struct AgreementV1 {
    normalised_error: f64,
    agrees: bool,
}

#[derive(Serialize)]
struct MonteCarloV1 {
    trials: usize,
    mean: f64,
    standard_uncertainty: f64,
    interval: [f64; 2],
}

#[derive(Serialize)]
struct AsFoundV1<'a> {
    found: f64,
    figure_error: f64,
    applied_rate_error: f64,
    applied_rate_error_standard_uncertainty: f64,
    significant: bool,
    difference_l_per_ha: Option<f64>,
    sentence: &'a str,
}

#[derive(Serialize)]
struct RollingV1<'a> {
    circumference_m: f64,
    standard_uncertainty_m: f64,
    difference: Option<f64>,
    plausible: Option<bool>,
    sentence: &'a str,
}

#[derive(Serialize)]
struct BudgetLineV1 {
    source: String,
    r#type: &'static str,
    distribution: String,
    standard_uncertainty: f64,
    degrees_of_freedom: Option<f64>,
    contribution: f64,
}

#[derive(Serialize)]
struct PassV1 {
    number: u32,
    direction: Option<&'static str>,
    start_utc: Option<String>,
    finish_utc: Option<String>,
    duration_s: Option<f64>,
    standing: Option<bool>,
    impulses: Option<f64>,
    tape_m: Option<f64>,
    satellite_m: Option<f64>,
    satellite_standard_uncertainty_m: Option<f64>,
    fix_quality: Option<[&'static str; 2]>,
    state: &'static str,
    flags: Vec<&'static str>,
}

#[derive(Serialize)]
struct FlagV1<'a> {
    code: &'static str,
    pass: Option<u32>,
    channel: Option<&'static str>,
    what: &'a str,
    means: &'static str,
    next: &'static str,
}

/// The object as one line of JSON, without a line end. Same work, same bytes.
#[must_use]
pub fn to_json(work: &Work) -> String {
    let value = WorkV1 {
        format: "trundle-work",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        state: if work.is_clean() { "valid" } else { "flagged" },
        course: work.course.map(|course| CourseV1 {
            length_m: course.length_m,
            standard_uncertainty_m: course.standard_uncertainty_m,
        }),
        clock: work.clock.map(|clock| ClockV1 {
            offset_s: clock.offset_s,
            standard_uncertainty_s: clock.standard_uncertainty_s,
            method: clock.method,
            receiver_lag_s: clock.lag_s,
        }),
        channels: work.channels.iter().map(|c| (c.name, channel(c, work))).collect(),
        flags: work.all_flags().map(flag).collect(),
        assumptions: &work.assumptions,
        cautions: crate::cautions::ALL,
    };
    serde_json::to_string(&value).expect("plain structs of text and numbers always serialise")
}

fn channel<'a>(figures: &'a ChannelFigures, work: &'a Work) -> ChannelV1<'a> {
    let sources = &figures.sources;
    let show = |quantity: &Option<Quantity>| quantity.as_ref().map(|q| figure(q, sources));
    let budget = figures.best().map_or(Vec::new(), |q| q.budget(sources));
    ChannelV1 {
        tape: show(&figures.tape),
        satellite: show(&figures.satellite),
        combined: show(&figures.combined),
        agreement: figures
            .agreement
            .map(|a| AgreementV1 { normalised_error: a.normalised_error, agrees: a.agrees }),
        figure_to_enter: figures.figure_to_enter,
        monte_carlo: figures.monte_carlo.map(|m| MonteCarloV1 {
            trials: m.trials,
            mean: m.mean,
            standard_uncertainty: m.standard_uncertainty,
            interval: [m.low, m.high],
        }),
        as_found: figures.found.as_ref().and_then(|f| f.as_ref().ok()).map(|f| AsFoundV1 {
            found: f.found,
            figure_error: f.figure_error.value,
            applied_rate_error: f.applied_rate_error.value,
            applied_rate_error_standard_uncertainty: f
                .applied_rate_error
                .expanded
                .standard_uncertainty,
            significant: f.significant,
            difference_l_per_ha: f.difference_l_per_ha,
            sentence: &f.sentence,
        }),
        rolling: figures.rolling.as_ref().and_then(|r| r.as_ref().ok()).map(|r| RollingV1 {
            circumference_m: r.circumference.value(),
            standard_uncertainty_m: r.circumference.standard_uncertainty(),
            difference: r.difference,
            plausible: r.plausible,
            sentence: &r.sentence,
        }),
        budget: budget.iter().map(budget_line).collect(),
        passes: work.passes.iter().map(|p| pass(p, figures, work)).collect(),
        health: figures
            .flags
            .iter()
            .chain(work.passes.iter().flat_map(|p| &p.flags))
            .filter(|f| f.channel == Some(figures.name) && f.code.is_sensor())
            .map(flag)
            .collect(),
    }
}

fn figure(quantity: &Quantity, sources: &Sources) -> FigureV1 {
    let expanded = cover(quantity, sources, COVERAGE);
    FigureV1 {
        impulses_per_100m: quantity.value(),
        standard_uncertainty: expanded.standard_uncertainty,
        expanded_uncertainty: expanded.expanded_uncertainty,
        coverage_factor: expanded.coverage_factor,
        coverage_probability: expanded.coverage_probability,
        degrees_of_freedom: finite(expanded.degrees_of_freedom),
    }
}

fn budget_line(line: &BudgetLine) -> BudgetLineV1 {
    BudgetLineV1 {
        source: line.source.clone(),
        r#type: match line.kind {
            Kind::TypeA => "A",
            Kind::TypeB => "B",
        },
        distribution: line.distribution.to_string(),
        standard_uncertainty: line.standard_uncertainty,
        degrees_of_freedom: finite(line.degrees_of_freedom),
        contribution: line.contribution,
    }
}

fn pass(summary: &PassSummary, figures: &ChannelFigures, work: &Work) -> PassV1 {
    let measured = summary.measured.as_ref();
    let index = figures.index;
    let satellite = measured.and_then(|m| m.satellite);
    let utc = measured.and_then(|m| m.utc_ns);
    let mine = |f: &&Flag| f.channel.is_none_or(|c| c == figures.name);
    PassV1 {
        number: summary.number,
        direction: summary.direction.map(|d| d.word()),
        start_utc: utc.map(|u| rfc3339(u.0)),
        finish_utc: utc.map(|u| rfc3339(u.1)),
        duration_s: measured.map(|m| m.duration_s),
        standing: measured.map(|m| m.standing),
        impulses: measured.and_then(|m| m.impulses[index]).map(|i| i.impulses),
        tape_m: work.course.map(|c| c.length_m),
        satellite_m: satellite.map(|s| s.joined.length_m),
        satellite_standard_uncertainty_m: satellite.map(|s| s.joined.standard_uncertainty_m),
        fix_quality: measured.and_then(qualities),
        state: summary.state(),
        flags: summary.flags.iter().filter(mine).map(|f| f.code.word()).collect(),
    }
}

fn qualities(pass: &MeasuredPass) -> Option<[&'static str; 2]> {
    let (start, finish) = pass.ends?;
    Some([quality_words(start.quality), quality_words(finish.quality)])
}

fn flag(flag: &Flag) -> FlagV1<'_> {
    FlagV1 {
        code: flag.code.word(),
        pass: flag.pass,
        channel: flag.channel,
        what: &flag.what,
        means: flag.code.means(),
        next: flag.code.advice(),
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
