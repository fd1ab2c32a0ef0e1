//! `trundle-proof`, version 1: did the value that was keyed in take, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-proof-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers, 0.001 is 0.1 %.

use super::bus_v1::{source_word, speed_word};
use super::document::{finite, list, objects, refusal, to_text};
use super::work_of::flag;
use crate::cautions;
use crate::figure::COVERAGE;
use crate::passes::satellite::Length;
use crate::stats::budget::{BudgetLine, Expanded};
use crate::survey::proof::{
    Alarm, Beside, BusPass, BusReading, Candidate, Cause, Cost, HandedOn, Judged, KnownValue, More,
    OnBus, Origin, PassReading, Proof, ProofRefusal, SpeedReading,
};
use crate::units::KM_H_PER_M_S;
use serde::Serialize;

/// The result as one line of JSON, without a line end. Same result, same bytes.
#[must_use]
pub fn to_json(proof: &Proof) -> String {
    to_text(&proof_v1(proof, proof.judged.as_ref().ok(), proof.judged.as_ref().err()))
}

fn origin(origin: &Origin) -> &'static str {
    match origin {
        Origin::Entered => "entered",
        Origin::Old => "old",
        Origin::OtherSensor => "other_sensor",
        Origin::Tyres(_) => "tyres",
    }
}

fn cause_tyres(cause: &Cause) -> Option<&str> {
    if let Cause::Tyres(name) | Cause::OnTyres(name) = cause { Some(name) } else { None }
}

fn times(cause: &Cause) -> Option<f64> {
    if let Cause::Times(times) = cause { Some(*times) } else { None }
}

fn apart(alarm: &Alarm) -> Option<f64> {
    match alarm {
        Alarm::SpeedDisagrees { apart } | Alarm::BusDisagrees { apart } => Some(*apart),
        _ => None,
    }
}

fn handed_on(handed_on: HandedOn) -> Option<&'static str> {
    match handed_on {
        HandedOn::NotStated => None,
        HandedOn::From(source) | HandedOn::Changed(source) => Some(source_word(source)),
    }
}

fn ratio(judged: &Judged) -> Option<impl Serialize> {
    let (value, expanded) = judged.ratio?;
    Some(ratio_v1(value, expanded, &judged.budget))
}

objects! {
    proof_v1(proof: &Proof, judged: Option<&Judged>, refused: Option<&ProofRefusal>) {
        format = "trundle-proof",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        cautions = cautions::PROOF,
        state = judged.map_or("refused", |judged| judged.taken.code()),
        refusal = refused.map(|why| refusal(why.code(), why, why.means(), why.next())),
        verdict = judged.map(|judged| judged.verdict(&proof.known)),
        by = judged.map(|judged| judged.by.word()),
        beside = list(judged.iter().flat_map(|judged| &judged.beside), beside_v1),
        shown_over_true = judged.and_then(ratio),
        source = proof.known.source().name(),
        source_assumed = proof.known.source.is_none(),
        known = list(&proof.known.values, known_v1),
        in_force = judged.and_then(|judged| judged.in_force).map(|(v, e)| in_force_v1(v, e)),
        candidates = list(judged.iter().flat_map(|judged| &judged.candidates), candidate_v1),
        cost = judged
            .and_then(|judged| judged.cost)
            .map(|cost| cost_v1(cost, proof.stated.rate_l_per_ha)),
        to_drive = judged.and_then(|judged| judged.more).map(to_drive_v1),
        warnings = list(judged.iter().flat_map(|judged| &judged.alarms), warning_v1),
        course = proof.work.course.map(course_v1),
        passes = list(&proof.passes, pass_v1),
        speeds = list(&proof.speeds, speed_v1),
        bus = proof.bus.as_ref().map(bus_v1),
        readings_astray = proof.astray.clone(),
        flags = list(proof.work.all_flags(), flag),
    }

    ratio_v1(value: f64, expanded: Expanded, budget: &[BudgetLine]) {
        value = value,
        standard_uncertainty = expanded.standard_uncertainty,
        expanded_uncertainty = expanded.expanded_uncertainty,
        coverage_factor = expanded.coverage_factor,
        coverage_probability = COVERAGE,
        degrees_of_freedom = finite(expanded.degrees_of_freedom),
        budget = list(budget, budget_v1),
    }

    budget_v1(line: &BudgetLine) {
        key = line.key.clone(),
        source = line.source.clone(),
        r#type = line.kind.word(),
        distribution = line.distribution.word(),
        degrees_of_freedom = finite(line.degrees_of_freedom),
        contribution = line.contribution,
    }

    known_v1(value: &KnownValue) {
        origin = origin(&value.origin),
        tyres = value.origin.tyres(),
        impulses_per_100m = value.per_100m,
    }

    in_force_v1(value: f64, expanded: Expanded) {
        impulses_per_100m = value,
        expanded_uncertainty = expanded.expanded_uncertainty,
        coverage_probability = COVERAGE,
    }

    candidate_v1(one: &Candidate) {
        cause = one.cause.code(),
        times = times(&one.cause),
        tyres = cause_tyres(&one.cause),
        sensor = one.channel.name(),
        impulses_per_100m = one.per_100m,
        would_show_over_true = one.expected,
        shown_over_expected = one.shown_over_expected,
        half_width = one.half_width,
        fits = one.fits,
        shows_as_entered = one.alike,
    }

    cost_v1(cost: Cost, rate: Option<f64>) {
        error = cost.error,
        expanded_uncertainty = cost.expanded.expanded_uncertainty,
        coverage_probability = COVERAGE,
        area_m2_per_ha = cost.area_m2_per_ha,
        set_l_per_ha = rate,
        difference_l_per_ha = rate.map(|rate| cost.of_rate(rate)),
    }

    to_drive_v1(more: More) {
        one_pass_m = more.metres,
        passes_of_100m = more.passes,
    }

    warning_v1(one: &Alarm) {
        code = one.code(),
        apart = apart(one),
    }

    course_v1(length: Length) {
        length_m = length.length_m,
        standard_uncertainty_m = length.standard_uncertainty_m,
    }

    pass_v1(pass: &PassReading) {
        number = pass.number,
        start_m = pass.start_m,
        end_m = pass.finish_m,
        shown_m = pass.shown.ok().map(|shown| shown.shown_m),
        display_step_m = pass.shown.ok().map(|shown| shown.step_m),
        wrapped = pass.shown.ok().map(|shown| shown.wrapped),
        wheel_impulses = pass.shown.ok().and_then(|shown| Some(shown.impulses[0]?.impulses)),
        radar_impulses = pass.shown.ok().and_then(|shown| Some(shown.impulses[1]?.impulses)),
        satellite_m = pass.shown.ok().and_then(|shown| shown.satellite_m),
        refused = pass.shown.err().map(|why| why.code()),
        refused_because = pass.shown.err().map(|why| why.to_string()),
    }

    speed_v1(one: &SpeedReading) {
        shown_km_h = KM_H_PER_M_S * one.shown_m_s,
        display_step_km_h = KM_H_PER_M_S * one.step_m_s,
        host_s = one.host_ns as f64 * 1e-9,
        run_s = one.run.ok().map(|run| run.seconds),
        satellite_km_h = one.run.ok().and_then(|run| Some(KM_H_PER_M_S * run.speed_m_s?.value)),
        wheel_hz = one.run.ok().and_then(|run| Some(run.rates_hz[0]?.value)),
        radar_hz = one.run.ok().and_then(|run| Some(run.rates_hz[1]?.value)),
        refused = one.run.err().map(|why| why.code()),
        refused_because = one.run.err().map(|why| why.to_string()),
    }

    beside_v1(one: &Beside) {
        by = one.by.word(),
        state = one.taken.code(),
        shown_over_true = one.ratio.map(|(value, _)| value),
        expanded_uncertainty = one.ratio.map(|(_, expanded)| expanded.expanded_uncertainty),
        coverage_probability = COVERAGE,
    }

    bus_v1(bus: &OnBus) {
        sender = bus.reading().map(|one| one.key.sender),
        speed = bus.reading().map(|one| speed_word(one.key.kind)),
        refused = bus.chosen.err().map(|why| why.code()),
        refused_because = bus.chosen.err().map(|why| why.to_string()),
        handed_on = handed_on(bus.handed_on),
        handed_on_changed = matches!(bus.handed_on, HandedOn::Changed(_)),
        readings = list(&bus.readings, bus_reading_v1),
    }

    bus_reading_v1(one: &BusReading) {
        sender = one.key.sender,
        speed = speed_word(one.key.kind),
        handed_on = handed_on(one.handed_on),
        delay_s = one.delay.map(|delay| delay.seconds.value),
        delay_standard_uncertainty_s = one.delay.map(|delay| delay.seconds.standard_uncertainty),
        shown_over_true = one.ratio().map(|(value, _)| value),
        expanded_uncertainty = one.ratio().map(|(_, expanded)| expanded.expanded_uncertainty),
        in_force = one.in_force().map(|(value, expanded)| in_force_v1(value, expanded)),
        passes = list(&one.passes, bus_pass_v1),
    }

    bus_pass_v1(pass: &BusPass) {
        number = pass.number,
        shown_m = pass.shown.ok().map(|shown| shown.shown_m),
        step_m = pass.shown.ok().map(|shown| shown.step_m),
        start_m_s = pass.shown.ok().map(|shown| shown.speeds_m_s[0]),
        end_m_s = pass.shown.ok().map(|shown| shown.speeds_m_s[1]),
        wheel_impulses = pass.shown.ok().and_then(|shown| Some(shown.impulses[0]?.impulses)),
        radar_impulses = pass.shown.ok().and_then(|shown| Some(shown.impulses[1]?.impulses)),
        satellite_m = pass.shown.ok().and_then(|shown| shown.satellite_m),
        refused = pass.shown.err().map(|why| why.code()),
        refused_because = pass.shown.err().map(|why| why.to_string()),
    }
}
