//! `trundle-check`, version 1: the check before the course is taped, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-check-1.schema.json`. Fields are only ever added;
//! shares are plain numbers, 0.001 is 0.1 %.

use crate::cautions;
use crate::survey::sensors::check::{Check, Line};
use crate::survey::sensors::{Finding, Health, Verdict};
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
struct CheckV1<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    passes: bool,
    judged: bool,
    capture_whole: bool,
    damaged_bytes: u64,
    lines: Vec<LineV1<'a>>,
    sensors: BTreeMap<&'static str, SensorV1<'a>>,
    rough_impulses_per_100m: BTreeMap<&'static str, f64>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct LineV1<'a> {
    key: &'a str,
    title: &'a str,
    result: &'static str,
    optional: bool,
    what: &'a str,
    next: &'a str,
    evidence: BTreeMap<&'static str, f64>,
}

#[derive(Serialize)]
struct SensorV1<'a> {
    healthy: bool,
    intervals: u32,
    spread: Option<f64>,
    ring_teeth: Option<u32>,
    noise: Option<f64>,
    spread_by_rate: Vec<RateV1>,
    aspects: BTreeMap<&'static str, AspectV1<'a>>,
}

#[derive(Serialize)]
struct RateV1 {
    rate_hz: f64,
    spread: f64,
}

#[derive(Serialize)]
struct AspectV1<'a> {
    verdict: &'static str,
    finding: Option<FindingV1>,
    what: Option<&'a str>,
}

#[derive(Serialize)]
struct FindingV1 {
    kind: &'static str,
    what: String,
    next: &'static str,
    evidence: BTreeMap<&'static str, f64>,
}

/// The check as one line of JSON, without a line end. Same check, same bytes.
#[must_use]
pub fn to_json(check: &Check) -> String {
    let sensors = check.sensors.iter().map(|health| (health.channel.name(), sensor(health)));
    let rough = check.rough_per_100m.iter().map(|(channel, value)| (channel.name(), *value));
    let out = CheckV1 {
        format: "trundle-check",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        passes: check.passes(),
        judged: check.judged(),
        capture_whole: check.whole,
        damaged_bytes: check.damaged_bytes,
        lines: check.lines.iter().map(line).collect(),
        sensors: sensors.collect(),
        rough_impulses_per_100m: rough.collect(),
        cautions: cautions::ALL,
    };
    serde_json::to_string(&out).expect("plain numbers and strings always serialise")
}

fn line(line: &Line) -> LineV1<'_> {
    LineV1 {
        key: line.key,
        title: line.title,
        result: line.mark.word(),
        optional: line.optional,
        what: &line.what,
        next: &line.next,
        evidence: line.numbers.iter().copied().collect(),
    }
}

fn sensor(health: &Health) -> SensorV1<'_> {
    let rate = |&(rate_hz, spread): &(f64, f64)| RateV1 { rate_hz, spread };
    let aspects = health.aspects.iter().map(|(of, verdict)| (of.word(), aspect(verdict)));
    SensorV1 {
        healthy: health.healthy(),
        intervals: health.intervals,
        spread: health.evenness.map(|even| even.spread),
        ring_teeth: health.evenness.and_then(|even| even.teeth),
        noise: health.evenness.and_then(|even| even.noise),
        spread_by_rate: health.by_rate.iter().map(rate).collect(),
        aspects: aspects.collect(),
    }
}

fn aspect(verdict: &Verdict) -> AspectV1<'_> {
    match verdict {
        Verdict::Sound(what) => AspectV1 { verdict: "sound", finding: None, what: Some(what) },
        Verdict::NotJudged(why) => {
            AspectV1 { verdict: "not_judged", finding: None, what: Some(why) }
        }
        Verdict::Faulty(found) => {
            AspectV1 { verdict: "faulty", finding: Some(finding(found)), what: None }
        }
    }
}

fn finding(finding: &Finding) -> FindingV1 {
    FindingV1 {
        kind: finding.word(),
        what: finding.what(),
        next: finding.next(),
        evidence: finding.numbers().into_iter().collect(),
    }
}
