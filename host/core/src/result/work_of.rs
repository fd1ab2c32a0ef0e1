//! A worked job as its document.

use super::document::finite;
use super::work_v1::{
    AgreementV1, AsFoundV1, BudgetLineV1, ChannelV1, ClockV1, CourseV1, FigureV1, FlagV1,
    MonteCarloV1, PassV1, RollingV1, SeenV1, SkyV1, UnansweredV1, WeightV1, WorkV1,
};
use crate::figure::found::AsFound;
use crate::figure::{COVERAGE, ChannelFigures, PassSummary, Work};
use crate::flags::Flag;
use crate::stats::budget::{BudgetLine, Quantity, Sources, cover};
use crate::units::rfc3339;
use crate::wire::fix::quality_words;
use crate::wire::sky::{Seen, SkyTotals};

impl WorkV1 {
    /// Of a worked job.
    #[must_use]
    pub fn of(work: &Work) -> Self {
        Self {
            format: "trundle-work".to_owned(),
            version: 1,
            software: env!("CARGO_PKG_VERSION").to_owned(),
            state: if work.is_clean() { "valid" } else { "flagged" }.to_owned(),
            course: work.course.map(|course| CourseV1 {
                length_m: course.length_m,
                standard_uncertainty_m: course.standard_uncertainty_m,
            }),
            clock: work.clock.map(|clock| ClockV1 {
                offset_s: clock.offset_s,
                standard_uncertainty_s: clock.standard_uncertainty_s,
                method: clock.method.to_owned(),
                receiver_lag_s: clock.lag_s,
                receiver_lag_standard_uncertainty_s: clock.lag_standard_uncertainty_s,
            }),
            sky: sky(&work.sky),
            channels: work.channels.iter().map(|c| (c.name.to_owned(), channel(c, work))).collect(),
            flags: work.all_flags().map(flag).collect(),
            assumptions: work.assumptions.clone(),
            cautions: crate::cautions::ALL.iter().map(|&text| text.to_owned()).collect(),
            passes: work.passes.iter().map(|p| pass(p, None, work)).collect(),
        }
    }
}

fn sky(seen: &SkyTotals) -> Option<SkyV1> {
    let of = |seen: &Seen| {
        let (mean, [least, most]) = (seen.mean()?, seen.ends());
        Some(SeenV1 { mean, least, most })
    };
    let sky = SkyV1 {
        satellites_used: of(&seen.used),
        satellites_in_view: of(&seen.in_view),
        signal_db_hz: of(&seen.signal_db_hz),
        hdop: of(&seen.hdop),
    };
    let stated = [sky.satellites_used, sky.satellites_in_view, sky.signal_db_hz, sky.hdop];
    stated.iter().any(Option::is_some).then_some(sky)
}

fn channel(figures: &ChannelFigures, work: &Work) -> ChannelV1 {
    let sources = &figures.sources;
    let show = |quantity: &Option<Quantity>| quantity.as_ref().map(|q| figure(q, sources));
    let about_sensor = |f: &&Flag| f.channel == Some(figures.name) && f.code.is_sensor();
    let of_passes = work.passes.iter().flat_map(|p| &p.flags);
    let mut unanswered = Vec::new();
    if let Some(Err(fault)) = &figures.found {
        unanswered.push(refused(fault, fault.meaning(), fault.remedy()));
    }
    if let Some(Err(fault)) = &figures.rolling {
        unanswered.push(refused(fault, fault.meaning(), fault.remedy()));
    }
    ChannelV1 {
        tape: show(&figures.tape),
        satellite: show(&figures.satellite),
        combined: show(&figures.combined),
        agreement: figures.agreement.map(|a| AgreementV1 {
            normalised_error: a.normalised_error,
            agrees: a.agrees,
            difference: a.difference,
            expanded_uncertainty: a.expanded_uncertainty,
        }),
        value_to_enter: figures.value_to_enter,
        monte_carlo: figures.monte_carlo.map(|m| MonteCarloV1 {
            trials: m.trials,
            mean: m.mean,
            standard_uncertainty: m.standard_uncertainty,
            interval: [m.low, m.high],
        }),
        as_found: figures.found.as_ref().and_then(|f| f.as_ref().ok()).map(as_found),
        rolling: figures.rolling.as_ref().and_then(|r| r.as_ref().ok()).map(|r| RollingV1 {
            circumference_m: r.circumference.value(),
            standard_uncertainty_m: r.circumference.standard_uncertainty(),
            difference: r.difference,
            plausible: r.plausible,
            sentence: r.sentence.clone(),
        }),
        budget: figures.best().map_or_else(Vec::new, |best| budget(best, sources)),
        passes: work.passes.iter().map(|p| pass(p, Some(figures), work)).collect(),
        health: figures.flags.iter().chain(of_passes).filter(about_sensor).map(flag).collect(),
        unanswered,
    }
}

fn as_found(f: &AsFound) -> AsFoundV1 {
    AsFoundV1 {
        found: f.found,
        value_error: f.value_error.value,
        applied_rate_error: f.applied_rate_error.value,
        applied_rate_error_standard_uncertainty: f.applied_rate_error.expanded.standard_uncertainty,
        significant: f.significant,
        difference_l_per_ha: f.difference_l_per_ha,
        sentence: f.sentence.clone(),
    }
}

fn refused(what: &impl ToString, means: &str, next: &str) -> UnansweredV1 {
    UnansweredV1 { what: what.to_string(), means: means.to_owned(), next: next.to_owned() }
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
        budget: budget(quantity, sources),
    }
}

fn budget(quantity: &Quantity, sources: &Sources) -> Vec<BudgetLineV1> {
    quantity.budget(sources).into_iter().map(budget_line).collect()
}

fn budget_line(line: BudgetLine) -> BudgetLineV1 {
    BudgetLineV1 {
        source: line.source,
        r#type: line.kind.word().to_owned(),
        distribution: line.distribution.word().to_owned(),
        standard_uncertainty: line.standard_uncertainty,
        degrees_of_freedom: finite(line.degrees_of_freedom),
        contribution: line.contribution,
        key: line.key,
    }
}

/// The pass as one sensor saw it; as driven without one.
fn pass(summary: &PassSummary, sensor: Option<&ChannelFigures>, work: &Work) -> PassV1 {
    let measured = summary.measured.as_ref();
    let satellite = measured.and_then(|m| m.satellite).map(|s| s.joined);
    let utc = measured.and_then(|m| m.utc_ns);
    let mine = |f: &&Flag| sensor.is_none_or(|s| f.channel.is_none_or(|c| c == s.name));
    let counted = sensor.and_then(|s| measured?.impulses[s.index]);
    let words = |quality| quality_words(quality).to_owned();
    PassV1 {
        number: summary.number,
        direction: summary.direction.map(|d| d.word().to_owned()),
        start_utc: utc.map(|u| rfc3339(u.0)),
        finish_utc: utc.map(|u| rfc3339(u.1)),
        duration_s: measured.map(|m| m.duration_s),
        standing: measured.map(|m| m.standing),
        impulses: counted.map(|i| i.impulses),
        tape_m: work.course.map(|c| c.length_m),
        satellite_m: satellite.map(|s| s.length_m),
        satellite_standard_uncertainty_m: satellite.map(|s| s.standard_uncertainty_m),
        fix_quality: measured.and_then(|m| m.ends).map(|(a, b)| [a, b].map(|e| words(e.quality))),
        state: summary.state().to_owned(),
        flags: summary.flags.iter().filter(mine).map(|f| f.code.word().to_owned()).collect(),
    }
}

pub(super) fn flag(flag: &Flag) -> FlagV1 {
    FlagV1 {
        code: flag.code.word().to_owned(),
        pass: flag.pass,
        channel: flag.channel.map(str::to_owned),
        what: flag.what.clone(),
        means: flag.code.means().to_owned(),
        next: flag.code.advice().to_owned(),
        weight: match flag.code {
            code if code.leaves_no_value() => WeightV1::NoValue,
            code if code.refuses() => WeightV1::PassNotUsed,
            code if code.is_remark() => WeightV1::Remark,
            _ => WeightV1::TakeCare,
        },
    }
}
