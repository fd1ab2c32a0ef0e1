//! `trundle-slip`, version 1: slip along the way as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-slip-1.schema.json`. Fields are only ever added.
//! Slips and shares are plain numbers: 0.1 is 10 %. Where no slip can be told, there are no windows
//! and no summary, and a flag says why.

use crate::survey::slip::compare::Difference;
use crate::survey::slip::{LegTotal, Place, Slip, SlipRefusal, Total, Window};
use crate::units::rfc3339;
use serde::Serialize;

/// How slip is defined here; stands in every result, since another definition is in use.
const DEFINITION: &str = "1 - actual travel / theoretical travel = 1 - K0/K";

#[derive(Serialize)]
struct SlipV1 {
    format: &'static str,
    version: u32,
    software: &'static str,
    definition: &'static str,
    zero_slip: Option<ZeroV1>,
    mounting: Option<MountingV1>,
    windows: Vec<WindowV1>,
    summary: Option<SummaryV1>,
    legs: Vec<LegV1>,
    places: Vec<PlaceV1>,
    comparison: Option<ComparisonV1>,
    receiver: Option<ReceiverV1>,
    flags: Vec<FlagV1>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct ZeroV1 {
    impulses_per_100m: f64,
    standard_uncertainty: f64,
}

#[derive(Serialize)]
struct MountingV1 {
    right_m: f64,
    right_standard_uncertainty_m: f64,
    ahead_m: f64,
    ahead_standard_uncertainty_m: f64,
    sign: &'static str,
}

#[derive(Serialize)]
struct WindowV1 {
    utc: String,
    lat_deg: f64,
    lon_deg: f64,
    length_m: f64,
    impulses: f64,
    ground_speed_m_s: f64,
    heading_deg: f64,
    slip: f64,
    standard_uncertainty: f64,
    turning: bool,
    leg: u32,
    in_work: bool,
    state: &'static str,
    flags: Vec<&'static str>,
}

#[derive(Serialize)]
struct TotalV1 {
    distance_m: f64,
    distance_slip: f64,
    standard_uncertainty: f64,
}

#[derive(Serialize)]
struct ShareV1 {
    slip: f64,
    share_of_distance: f64,
}

#[derive(Serialize)]
struct SummaryV1 {
    distance_m: f64,
    distance_slip: f64,
    standard_uncertainty: f64,
    withheld_m: f64,
    passes: Option<TotalV1>,
    turns: Option<TotalV1>,
    in_work: Option<TotalV1>,
    share_above: Vec<ShareV1>,
}

#[derive(Serialize)]
struct LegV1 {
    number: u32,
    kind: &'static str,
    start_utc: String,
    finish_utc: String,
    heading_deg: f64,
    distance_m: f64,
    distance_slip: f64,
    standard_uncertainty: f64,
}

#[derive(Serialize)]
struct PlaceV1 {
    lat_deg: f64,
    lon_deg: f64,
    side_m: f64,
    distance_m: f64,
    distance_slip: f64,
    standard_uncertainty: f64,
}

#[derive(Serialize)]
struct ComparisonV1 {
    before: f64,
    after: f64,
    difference: f64,
    standard_uncertainty: f64,
    expanded_uncertainty: f64,
    significant: bool,
    pairs: usize,
    distance_m: f64,
}

#[derive(Serialize)]
struct ReceiverV1 {
    lag_s: f64,
    lag_standard_uncertainty_s: f64,
    speed_walk_m2_s: f64,
    position_white_m2: f64,
    position_walk_m2_s: f64,
}

#[derive(Serialize)]
struct FlagV1 {
    code: &'static str,
    what: String,
    means: &'static str,
    next: &'static str,
}

/// A result as one line of JSON, without a line end. Same result, same bytes.
#[must_use]
pub fn to_json(slip: &Slip, compared: Option<&Result<Difference, SlipRefusal>>) -> String {
    let flags = compared.and_then(|c| c.as_ref().err()).map(flag);
    write(&SlipV1 {
        zero_slip: Some(ZeroV1 {
            impulses_per_100m: slip.zero_slip.per_100m,
            standard_uncertainty: slip.zero_slip.standard_uncertainty,
        }),
        mounting: slip.mounting.map(|m| MountingV1 {
            right_m: m.right_m,
            right_standard_uncertainty_m: m.u_right_m,
            ahead_m: m.ahead_m,
            ahead_standard_uncertainty_m: m.u_ahead_m,
            sign: "right of the middle and ahead of the rear axle are positive",
        }),
        windows: slip.windows.iter().map(window).collect(),
        summary: Some(summary(slip)),
        legs: slip.legs.iter().map(leg).collect(),
        places: slip.places.iter().map(place).collect(),
        comparison: compared.and_then(|c| c.as_ref().ok()).map(comparison),
        receiver: Some(ReceiverV1 {
            lag_s: slip.lag_s.value,
            lag_standard_uncertainty_s: slip.lag_s.standard_uncertainty,
            speed_walk_m2_s: slip.noise.speed_walk_m2_s,
            position_white_m2: slip.noise.white_m2,
            position_walk_m2_s: slip.noise.walk_m2_s,
        }),
        flags: flags.into_iter().collect(),
        ..empty()
    })
}

/// The same for a slip that cannot be told.
#[must_use]
pub fn refusal_to_json(refusal: &SlipRefusal) -> String {
    write(&SlipV1 { flags: vec![flag(refusal)], ..empty() })
}

fn empty() -> SlipV1 {
    SlipV1 {
        format: "trundle-slip",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        definition: DEFINITION,
        zero_slip: None,
        mounting: None,
        windows: Vec::new(),
        summary: None,
        legs: Vec::new(),
        places: Vec::new(),
        comparison: None,
        receiver: None,
        flags: Vec::new(),
        cautions: crate::cautions::ALL,
    }
}

fn write(value: &SlipV1) -> String {
    serde_json::to_string(value).expect("plain structs of text and numbers always serialise")
}

fn window(window: &Window) -> WindowV1 {
    let (lat_deg, lon_deg) = window.middle();
    WindowV1 {
        utc: rfc3339(window.utc_ns),
        lat_deg,
        lon_deg,
        length_m: window.length_m,
        impulses: window.impulses,
        ground_speed_m_s: window.ground_speed_m_s,
        heading_deg: window.heading_deg,
        slip: window.slip,
        standard_uncertainty: window.standard_uncertainty,
        turning: window.kind == crate::survey::ride::legs::LegKind::Turn,
        leg: window.leg,
        in_work: window.in_work,
        state: if window.flags.is_empty() { "valid" } else { "flagged" },
        flags: window.flags.iter().map(|flag| flag.word()).collect(),
    }
}

fn total(total: &Total) -> TotalV1 {
    TotalV1 {
        distance_m: total.distance_m,
        distance_slip: total.slip,
        standard_uncertainty: total.standard_uncertainty,
    }
}

fn summary(slip: &Slip) -> SummaryV1 {
    let totals = &slip.totals;
    SummaryV1 {
        distance_m: totals.all.distance_m,
        distance_slip: totals.all.slip,
        standard_uncertainty: totals.all.standard_uncertainty,
        withheld_m: slip.withheld_m,
        passes: totals.passes.as_ref().map(total),
        turns: totals.turns.as_ref().map(total),
        in_work: totals.in_work.as_ref().map(total),
        share_above: slip
            .share_above
            .iter()
            .map(|s| ShareV1 { slip: s.slip, share_of_distance: s.share_of_distance })
            .collect(),
    }
}

fn leg(leg: &LegTotal) -> LegV1 {
    LegV1 {
        number: leg.number,
        kind: leg.kind.word(),
        start_utc: rfc3339(leg.utc_ns.0),
        finish_utc: rfc3339(leg.utc_ns.1),
        heading_deg: leg.heading_deg,
        distance_m: leg.total.distance_m,
        distance_slip: leg.total.slip,
        standard_uncertainty: leg.total.standard_uncertainty,
    }
}

fn place(place: &Place) -> PlaceV1 {
    PlaceV1 {
        lat_deg: place.lat_lon_deg.0,
        lon_deg: place.lat_lon_deg.1,
        side_m: place.side_m,
        distance_m: place.total.distance_m,
        distance_slip: place.total.slip,
        standard_uncertainty: place.total.standard_uncertainty,
    }
}

fn comparison(found: &Difference) -> ComparisonV1 {
    ComparisonV1 {
        before: found.first,
        after: found.second,
        difference: found.difference,
        standard_uncertainty: found.standard_uncertainty,
        expanded_uncertainty: found.expanded_uncertainty,
        significant: found.is_significant(),
        pairs: found.pairs,
        distance_m: found.distance_m,
    }
}

fn flag(refusal: &SlipRefusal) -> FlagV1 {
    FlagV1 {
        code: refusal.word(),
        what: refusal.to_string(),
        means: refusal.means(),
        next: refusal.next(),
    }
}
