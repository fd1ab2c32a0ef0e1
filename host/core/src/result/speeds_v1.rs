//! `trundle-speeds`, version 1: wheel, radar and satellite speed compared, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-speeds-1.schema.json`. Fields are only ever added.
//! Shares are plain numbers, 0.001 is 0.1 %.

use crate::cautions;
use crate::figure::COVERAGE;
use crate::survey::speeds::{
    AngleHint, Bin, Interval, Least, NoLine, PAIRS, PairFit, SHARE, Sensor, Single, Speeds,
    SpeedsRefusal,
};
use serde::Serialize;

#[derive(Serialize)]
struct SpeedsV1 {
    format: &'static str,
    version: u32,
    software: &'static str,
    cautions: &'static [&'static str],
    state: &'static str,
    refusal: Option<RefusalV1>,
    coverage_probability: f64,
    stretches: Option<usize>,
    pairs: Vec<PairV1>,
    sensors: Vec<SensorV1>,
    standing_s: Option<f64>,
    radar_angle_hint: Option<HintV1>,
}

#[derive(Serialize)]
struct RefusalV1 {
    code: &'static str,
    what: String,
    means: &'static str,
    next: &'static str,
}

#[derive(Serialize)]
struct PairV1 {
    of: &'static str,
    against: &'static str,
    stretches: Option<usize>,
    ratio: Option<IntervalV1>,
    line: Option<LineV1>,
    impulses_per_100m: Option<f64>,
    refused_because: Option<String>,
}

#[derive(Serialize)]
struct IntervalV1 {
    value: f64,
    standard_uncertainty: f64,
    expanded_uncertainty: f64,
}

#[derive(Serialize)]
struct LineV1 {
    gain: IntervalV1,
    offset_hz: IntervalV1,
    offset_differs: bool,
    reduced_chi_squared: f64,
    own_share: f64,
}

#[derive(Serialize)]
struct SensorV1 {
    name: &'static str,
    least_state: &'static str,
    least_usable_m_s: Option<f64>,
    fails_at_m_s: Option<f64>,
    share: f64,
    standing_per_minute: Option<f64>,
    bins: Vec<BinV1>,
}

#[derive(Serialize)]
struct BinV1 {
    speed_m_s: f64,
    stretches: usize,
    deviation: f64,
    doubt: f64,
    judged: bool,
    lacks_impulses: bool,
}

#[derive(Serialize)]
struct HintV1 {
    nominal_per_m: f64,
    angle_deg: f64,
    difference: f64,
    share_per_degree: f64,
    steeper_deg: Option<f64>,
}

/// The comparison as one line of JSON, without a line end. Same comparison, same bytes.
#[must_use]
pub fn to_json(speeds: &Result<Speeds, SpeedsRefusal>) -> String {
    let given = speeds.as_ref().ok();
    let result = SpeedsV1 {
        format: "trundle-speeds",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        cautions: cautions::ALL,
        state: given.map_or("refused", state),
        refusal: speeds.as_ref().err().map(refused),
        coverage_probability: COVERAGE,
        stretches: given.map(|speeds| speeds.stretches.len()),
        pairs: given.map(pairs).unwrap_or_default(),
        sensors: given.map(sensors).unwrap_or_default(),
        standing_s: given.map(|speeds| speeds.standing.seconds),
        radar_angle_hint: given.and_then(|speeds| speeds.hint).map(hint),
    };
    serde_json::to_string(&result).expect("plain structs of text and numbers always serialise")
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

fn refused(refusal: &SpeedsRefusal) -> RefusalV1 {
    RefusalV1 {
        code: refusal.code(),
        what: refusal.to_string(),
        means: refusal.means(),
        next: refusal.next(),
    }
}

fn pairs(speeds: &Speeds) -> Vec<PairV1> {
    PAIRS.into_iter().zip(&speeds.pairs).map(|(names, fit)| pair(names, fit)).collect()
}

fn pair((of, against): (Sensor, Sensor), fit: &Result<PairFit, NoLine>) -> PairV1 {
    let given = fit.as_ref().ok();
    let no_line = given.and_then(|fit| fit.line.as_ref().err());
    let why = fit.as_ref().err().or(no_line);
    let figure = given.filter(|_| against == Sensor::Satellite);
    PairV1 {
        of: of.word(),
        against: against.word(),
        stretches: given.map(|fit| fit.stretches),
        ratio: given.map(|fit| interval(fit.ratio)),
        line: given.and_then(|fit| fit.line.ok()).map(|line| LineV1 {
            gain: interval(line.gain),
            offset_hz: interval(line.offset),
            offset_differs: line.offset_differs,
            reduced_chi_squared: line.reduced_chi_squared,
            own_share: line.own_share,
        }),
        impulses_per_100m: figure.map(|fit| 100.0 * fit.gain().value),
        refused_because: why.map(ToString::to_string),
    }
}

fn interval(interval: Interval) -> IntervalV1 {
    IntervalV1 {
        value: interval.value,
        standard_uncertainty: interval.standard_uncertainty,
        expanded_uncertainty: interval.half_width,
    }
}

fn sensors(speeds: &Speeds) -> Vec<SensorV1> {
    let seconds = speeds.standing.seconds;
    [(0, "wheel"), (1, "radar")]
        .map(|(channel, name)| {
            let single = speeds.singles[channel].as_ref();
            let (least_state, least_usable_m_s, fails_at_m_s) = least(single);
            SensorV1 {
                name,
                least_state,
                least_usable_m_s,
                fails_at_m_s,
                share: SHARE,
                standing_per_minute: (seconds > 0.0)
                    .then(|| 60.0 * speeds.standing.impulses[channel] / seconds),
                bins: single.map(|s| s.bins.iter().map(bin).collect()).unwrap_or_default(),
            }
        })
        .into()
}

fn least(single: Option<&Single>) -> (&'static str, Option<f64>, Option<f64>) {
    match single.map(|single| single.least) {
        None => ("not_known", None, None),
        Some(Least::Never) => ("never", None, None),
        Some(Least::BelowSlowest { slowest_m_s }) => ("below_slowest", Some(slowest_m_s), None),
        Some(Least::From { speed_m_s, fails_at_m_s }) => {
            ("from", Some(speed_m_s), Some(fails_at_m_s))
        }
    }
}

fn bin(bin: &Bin) -> BinV1 {
    BinV1 {
        speed_m_s: bin.speed_m_s,
        stretches: bin.stretches,
        deviation: bin.residual,
        doubt: bin.doubt,
        judged: bin.judged(),
        lacks_impulses: bin.lacks,
    }
}

fn hint(hint: AngleHint) -> HintV1 {
    HintV1 {
        nominal_per_m: hint.nominal_per_m,
        angle_deg: hint.angle_deg,
        difference: hint.difference,
        share_per_degree: hint.share_per_degree,
        steeper_deg: hint.steeper_deg,
    }
}
