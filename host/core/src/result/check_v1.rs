//! `trundle-check`, version 1: the check before the course is taped, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-check-1.schema.json`. Fields are only ever added;
//! shares are plain numbers, 0.001 is 0.1 %.

use super::document::{objects, to_text};
use crate::cautions;
use crate::survey::sensors::check::{Check, CheckLine};
use crate::survey::sensors::{Health, SensorRuling, SensorWarning};
use std::collections::BTreeMap;

/// The check as one line of JSON, without a line end. Same check, same bytes.
#[must_use]
pub fn to_json(check: &Check) -> String {
    to_text(&CheckV1::of(check))
}

objects! {
    CheckV1<'a> of check: &'a Check {
        format: &'static str = "trundle-check",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        passes: bool = check.passes(),
        judged: bool = check.judged(),
        capture_whole: bool = check.whole,
        damaged_bytes: u64 = check.damaged_bytes,
        lines: Vec<LineV1<'a>> = check.lines.iter().map(LineV1::of).collect(),
        sensors: BTreeMap<&'static str, SensorV1<'a>> = check
            .sensors
            .iter()
            .map(|health| (health.channel.name(), SensorV1::of(health)))
            .collect(),
        rough_impulses_per_100m: BTreeMap<&'static str, f64> =
            check.rough_per_100m.iter().map(|(channel, value)| (channel.name(), *value)).collect(),
        cautions: &'static [&'static str] = cautions::ALL,
    }

    LineV1<'a> of line: &'a CheckLine {
        key: &'a str = line.key,
        title: &'a str = line.title,
        result: &'static str = line.mark.word(),
        optional: bool = line.optional,
        what: &'a str = &line.what,
        next: &'a str = &line.next,
        evidence: BTreeMap<&'static str, f64> = line.numbers.iter().copied().collect(),
    }

    SensorV1<'a> of health: &'a Health {
        healthy: bool = health.healthy(),
        intervals: u32 = health.intervals,
        spread: Option<f64> = health.evenness.map(|even| even.spread),
        ring_teeth: Option<u32> = health.evenness.and_then(|even| even.teeth),
        noise: Option<f64> = health.evenness.and_then(|even| even.noise),
        spread_by_rate: Vec<RateV1> = health.by_rate.iter().copied().map(RateV1::of).collect(),
        aspects: BTreeMap<&'static str, AspectV1<'a>> = health
            .aspects
            .iter()
            .map(|(of, verdict)| (of.word(), AspectV1::of(verdict)))
            .collect(),
    }

    RateV1 of (rate_hz, spread): (f64, f64) {
        rate_hz: f64 = rate_hz,
        spread: f64 = spread,
    }

    AspectV1<'a> of verdict: &'a SensorRuling {
        verdict: &'static str = match verdict {
            SensorRuling::Sound(_) => "sound",
            SensorRuling::NotJudged(_) => "not_judged",
            SensorRuling::Faulty(_) => "faulty",
        },
        finding: Option<FindingV1> = match verdict {
            SensorRuling::Faulty(found) => Some(FindingV1::of(found)),
            SensorRuling::Sound(_) | SensorRuling::NotJudged(_) => None,
        },
        what: Option<&'a str> = match verdict {
            SensorRuling::Sound(what) | SensorRuling::NotJudged(what) => Some(what),
            SensorRuling::Faulty(_) => None,
        },
    }

    FindingV1 of finding: &SensorWarning {
        kind: &'static str = finding.word(),
        what: String = finding.what(),
        next: &'static str = finding.next(),
        evidence: BTreeMap<&'static str, f64> = finding.numbers().into_iter().collect(),
    }
}
