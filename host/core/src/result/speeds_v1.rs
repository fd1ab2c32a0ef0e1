//! `trundle-speeds`, version 1: wheel, radar and satellite speed compared, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-speeds-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers, 0.001 is 0.1 %.

use super::document::{RefusalV1, objects, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::survey::speeds::{
    AngleHint, Bin, Interval, Least, NoLine, PAIRS, PairFit, PairLine, SHARE, Sensor, Single,
    Speeds, SpeedsRefusal,
};

/// The comparison as one line of JSON, without a line end. Same comparison, same bytes.
#[must_use]
pub fn to_json(speeds: &Result<Speeds, SpeedsRefusal>) -> String {
    to_text(&SpeedsV1::of((speeds.as_ref().ok(), speeds.as_ref().err())))
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

fn pairs(speeds: &Speeds) -> Vec<PairV1> {
    let pair = |(names, fit): (_, &Result<PairFit, NoLine>)| {
        let given = fit.as_ref().ok();
        let no_line = given.and_then(|fit| fit.line.as_ref().err());
        PairV1::of((names, given, fit.as_ref().err().or(no_line)))
    };
    PAIRS.into_iter().zip(&speeds.pairs).map(pair).collect()
}

fn sensors(speeds: &Speeds) -> Vec<SensorV1> {
    let sensor = |(channel, name): (usize, _)| {
        let single = speeds.singles[channel].as_ref();
        SensorV1::of((speeds, channel, name, single, least(single)))
    };
    [(0, "wheel"), (1, "radar")].map(sensor).into()
}

fn least(single: Option<&Single>) -> LeastOf {
    match single.map(|single| single.least) {
        None => ("not_known", None, None),
        Some(Least::Never) => ("never", None, None),
        Some(Least::BelowSlowest { slowest_m_s }) => ("below_slowest", Some(slowest_m_s), None),
        Some(Least::From { speed_m_s, fails_at_m_s }) => {
            ("from", Some(speed_m_s), Some(fails_at_m_s))
        }
    }
}

/// State, least usable speed, speed at which it fails.
type LeastOf = (&'static str, Option<f64>, Option<f64>);

objects! {
    SpeedsV1 of (given, refusal): (Option<&Speeds>, Option<&SpeedsRefusal>) {
        format: &'static str = "trundle-speeds",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        cautions: &'static [&'static str] = cautions::ALL,
        state: &'static str = given.map_or("refused", state),
        refusal: Option<RefusalV1> =
            refusal.map(|why| RefusalV1::of(why.code(), why, why.means(), why.next())),
        coverage_probability: f64 = COVERAGE,
        steady_runs: Option<usize> = given.map(|speeds| speeds.steady_runs.len()),
        pairs: Vec<PairV1> = given.map(pairs).unwrap_or_default(),
        sensors: Vec<SensorV1> = given.map(sensors).unwrap_or_default(),
        standing_s: Option<f64> = given.map(|speeds| speeds.standing.seconds),
        radar_angle_hint: Option<HintV1> = given.and_then(|speeds| speeds.hint).map(HintV1::of),
    }

    PairV1 of ((of, against), given, why):
        ((Sensor, Sensor), Option<&PairFit>, Option<&NoLine>)
    {
        of: &'static str = of.word(),
        against: &'static str = against.word(),
        steady_runs: Option<usize> = given.map(|fit| fit.steady_runs),
        ratio: Option<IntervalV1> = given.map(|fit| IntervalV1::of(fit.ratio)),
        line: Option<LineV1> = given.and_then(|fit| fit.line.ok()).map(LineV1::of),
        impulses_per_100m: Option<f64> = given
            .filter(|_| against == Sensor::Satellite)
            .map(|fit| 100.0 * fit.gain().value),
        refused_because: Option<String> = why.map(ToString::to_string),
    }

    IntervalV1 of interval: Interval {
        value: f64 = interval.value,
        standard_uncertainty: f64 = interval.standard_uncertainty,
        expanded_uncertainty: f64 = interval.half_width,
    }

    LineV1 of line: PairLine {
        gain: IntervalV1 = IntervalV1::of(line.gain),
        offset_hz: IntervalV1 = IntervalV1::of(line.offset),
        offset_differs: bool = line.offset_differs,
        reduced_chi_squared: f64 = line.reduced_chi_squared,
        own_share: f64 = line.own_share,
    }

    SensorV1 of (speeds, channel, name, single, least):
        (&Speeds, usize, &'static str, Option<&Single>, LeastOf)
    {
        name: &'static str = name,
        least_state: &'static str = least.0,
        least_usable_m_s: Option<f64> = least.1,
        fails_at_m_s: Option<f64> = least.2,
        share: f64 = SHARE,
        standing_per_minute: Option<f64> = (speeds.standing.seconds > 0.0)
            .then(|| 60.0 * speeds.standing.impulses[channel] / speeds.standing.seconds),
        bins: Vec<BinV1> =
            single.map(|s| s.bins.iter().map(BinV1::of).collect()).unwrap_or_default(),
    }

    BinV1 of bin: &Bin {
        speed_m_s: f64 = bin.speed_m_s,
        steady_runs: usize = bin.steady_runs,
        deviation: f64 = bin.residual,
        uncertainty: f64 = bin.uncertainty,
        judged: bool = bin.judged(),
        lacks_impulses: bool = bin.lacks,
    }

    HintV1 of hint: AngleHint {
        nominal_per_m: f64 = hint.nominal_per_m,
        angle_deg: f64 = hint.angle_deg,
        difference: f64 = hint.difference,
        share_per_degree: f64 = hint.share_per_degree,
        steeper_deg: Option<f64> = hint.steeper_deg,
    }
}
