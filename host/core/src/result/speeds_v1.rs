//! `trundle-speeds`, version 1: wheel, radar and satellite speed compared, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-speeds-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers, 0.001 is 0.1 %.

use super::document::{list, objects, refusal, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::survey::speeds::{
    AngleHint, Bin, Interval, Least, NoLine, PAIRS, PairFit, PairLine, SHARE, Sensor, Single,
    Speeds, SpeedsRefusal,
};
use serde::Serialize;

/// The comparison as one line of JSON, without a line end. Same comparison, same bytes.
#[must_use]
pub fn to_json(speeds: &Result<Speeds, SpeedsRefusal>) -> String {
    to_text(&speeds_v1(speeds.as_ref().ok(), speeds.as_ref().err()))
}

/// The state in one word.
#[must_use]
pub fn state(speeds: &Speeds) -> &'static str {
    let lines = || speeds.pairs.iter().filter_map(|pair| pair.as_ref().ok()?.line.ok());
    if speeds.agree() {
        "agree"
    } else if lines().any(|line| line.offset_differs) {
        "disagree"
    } else if speeds.singles.iter().any(Option::is_none) {
        "incomplete"
    } else {
        "ratios_only"
    }
}

fn pair((of, against): (Sensor, Sensor), fit: &Result<PairFit, NoLine>) -> impl Serialize {
    let given = fit.as_ref().ok();
    let no_line = given.and_then(|fit| fit.line.as_ref().err());
    pair_v1(of, against, given, fit.as_ref().err().or(no_line))
}

fn sensor(speeds: &Speeds, channel: usize) -> impl Serialize {
    let single = speeds.singles[channel].as_ref();
    let least = match single.map(|single| single.least) {
        None => ("not_known", None, None),
        Some(Least::Never) => ("never", None, None),
        Some(Least::BelowSlowest { slowest_m_s }) => ("below_slowest", Some(slowest_m_s), None),
        Some(Least::From { speed_m_s, fails_at_m_s }) => {
            ("from", Some(speed_m_s), Some(fails_at_m_s))
        }
    };
    sensor_v1(speeds, channel, single, least)
}

/// State, least usable speed, speed at which it fails.
type LeastOf = (&'static str, Option<f64>, Option<f64>);

objects! {
    speeds_v1(given: Option<&Speeds>, refused: Option<&SpeedsRefusal>) {
        format = "trundle-speeds",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        cautions = cautions::ALL,
        state = given.map_or("refused", state),
        refusal = refused.map(|why| refusal(why.code(), why, why.means(), why.next())),
        coverage_probability = COVERAGE,
        steady_runs = given.map(|speeds| speeds.steady_runs.len()),
        pairs = list(
            given.into_iter().flat_map(|speeds| PAIRS.into_iter().zip(&speeds.pairs)),
            |(names, fit)| pair(names, fit),
        ),
        sensors = list(
            given.into_iter().flat_map(|speeds| [0, 1].map(|channel| sensor(speeds, channel))),
            |sensor| sensor,
        ),
        standing_s = given.map(|speeds| speeds.standing.seconds),
        radar_angle_hint = given.and_then(|speeds| speeds.hint).map(hint_v1),
    }

    pair_v1(of: Sensor, against: Sensor, given: Option<&PairFit>, why: Option<&NoLine>) {
        of = of.word(),
        against = against.word(),
        steady_runs = given.map(|fit| fit.steady_runs),
        ratio = given.map(|fit| interval_v1(fit.ratio)),
        line = given.and_then(|fit| fit.line.ok()).map(line_v1),
        impulses_per_100m = given
            .filter(|_| against == Sensor::Satellite)
            .map(|fit| 100.0 * fit.gain().value),
        refused_because = why.map(ToString::to_string),
    }

    interval_v1(interval: Interval) {
        value = interval.value,
        standard_uncertainty = interval.standard_uncertainty,
        expanded_uncertainty = interval.half_width,
    }

    line_v1(line: PairLine) {
        gain = interval_v1(line.gain),
        offset_hz = interval_v1(line.offset),
        offset_differs = line.offset_differs,
        reduced_chi_squared = line.reduced_chi_squared,
        own_share = line.own_share,
    }

    sensor_v1(speeds: &Speeds, channel: usize, single: Option<&Single>, least: LeastOf) {
        name = ["wheel", "radar"][channel],
        least_state = least.0,
        least_usable_m_s = least.1,
        fails_at_m_s = least.2,
        share = SHARE,
        standing_per_minute = (speeds.standing.seconds > 0.0)
            .then(|| 60.0 * speeds.standing.impulses[channel] / speeds.standing.seconds),
        bins = list(single.into_iter().flat_map(|single| &single.bins), bin_v1),
    }

    bin_v1(bin: &Bin) {
        speed_m_s = bin.speed_m_s,
        steady_runs = bin.steady_runs,
        deviation = bin.residual,
        uncertainty = bin.uncertainty,
        judged = bin.judged(),
        lacks_impulses = bin.lacks,
    }

    hint_v1(hint: AngleHint) {
        nominal_per_m = hint.nominal_per_m,
        angle_deg = hint.angle_deg,
        difference = hint.difference,
        share_per_degree = hint.share_per_degree,
        steeper_deg = hint.steeper_deg,
    }
}
