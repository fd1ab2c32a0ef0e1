//! `trundle-check`, version 1: the check before the course is taped, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-check-1.schema.json`. Fields are only ever added;
//! shares are plain numbers, 0.001 is 0.1 %.

use super::document::{list, objects, to_text};
use crate::cautions;
use crate::survey::sensors::check::{Check, CheckLine};
use crate::survey::sensors::{Health, SensorRuling, SensorWarning};
use std::collections::BTreeMap;

/// The check as one line of JSON, without a line end. Same check, same bytes.
#[must_use]
pub fn to_json(check: &Check) -> String {
    to_text(&check_v1(check))
}

objects! {
    check_v1(check: &Check) {
        format = "trundle-check",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        passes = check.passes(),
        judged = check.judged(),
        capture_whole = check.whole,
        damaged_bytes = check.damaged_bytes,
        lines = list(&check.lines, line_v1),
        sensors = by_name(&check.sensors, |health| (health.channel.name(), sensor_v1(health))),
        rough_impulses_per_100m =
            by_name(&check.rough_per_100m, |(channel, value)| (channel.name(), value)),
        cautions = cautions::ALL,
    }

    line_v1(line: &CheckLine) {
        key = line.key,
        title = line.title,
        result = line.mark.word(),
        optional = line.optional,
        what = &line.what,
        next = &line.next,
        evidence = by_name(&line.numbers, |number| *number),
    }

    sensor_v1(health: &Health) {
        healthy = health.healthy(),
        intervals = health.intervals,
        spread = health.evenness.map(|even| even.spread),
        ring_teeth = health.evenness.and_then(|even| even.teeth),
        noise = health.evenness.and_then(|even| even.noise),
        spread_by_rate = list(&health.by_rate, rate_v1),
        aspects = by_name(&health.aspects, |(of, verdict)| (of.word(), aspect_v1(verdict))),
    }

    rate_v1(rate: &(f64, f64)) {
        rate_hz = rate.0,
        spread = rate.1,
    }

    aspect_v1(verdict: &SensorRuling) {
        verdict = match verdict {
            SensorRuling::Sound(_) => "sound",
            SensorRuling::NotJudged(_) => "not_judged",
            SensorRuling::Faulty(_) => "faulty",
        },
        finding = match verdict {
            SensorRuling::Faulty(found) => Some(finding_v1(found)),
            SensorRuling::Sound(_) | SensorRuling::NotJudged(_) => None,
        },
        what = match verdict {
            SensorRuling::Sound(what) | SensorRuling::NotJudged(what) => Some(what),
            SensorRuling::Faulty(_) => None,
        },
    }

    finding_v1(finding: &SensorWarning) {
        kind = finding.word(),
        what = finding.what(),
        next = finding.next(),
        evidence = by_name(finding.numbers(), |number| number),
    }
}

fn by_name<T, O>(
    items: impl IntoIterator<Item = T>,
    named: impl Fn(T) -> (&'static str, O),
) -> BTreeMap<&'static str, O> {
    items.into_iter().map(named).collect()
}
