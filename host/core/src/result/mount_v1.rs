//! `trundle-mount`, version 1: the antenna's place on the tractor as a JSON object.
//!
//! The schema stands in `host/schemas/trundle-mount-1.schema.json`. Fields are only ever added.
//! Right of the tractor's middle and ahead of the rear axle are positive.

use crate::cautions;
use crate::figure::COVERAGE;
use crate::stats::budget::{Quantity, Sources, cover};
use crate::stats::fit::agreement::Agreement;
use crate::survey::mount::{CircleWitness, Mount, MountRefusal, PassWitness, TurnWitness};
use serde::Serialize;

#[derive(Serialize)]
struct MountV1 {
    format: &'static str,
    version: u32,
    software: &'static str,
    state: &'static str,
    signs: &'static str,
    refusal: Option<RefusalV1>,
    right: Option<NumberV1>,
    ahead: Option<NumberV1>,
    ahead_from: Option<&'static str>,
    agreement: Option<AgreementV1>,
    suspect: Option<&'static str>,
    passes: Option<PassesV1>,
    passes_refused: Option<String>,
    turns: Option<TurnsV1>,
    turns_refused: Option<String>,
    circles: Option<CirclesV1>,
    circles_refused: Option<String>,
    taped: Vec<TapedV1>,
    coupling_along: Option<NumberV1>,
    coupling_right: Option<NumberV1>,
    assumptions: Vec<String>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct RefusalV1 {
    what: String,
    means: &'static str,
    next: &'static str,
}

#[derive(Serialize)]
struct NumberV1 {
    value_m: f64,
    standard_uncertainty_m: f64,
    expanded_uncertainty_m: f64,
    coverage_probability: f64,
    degrees_of_freedom: Option<f64>,
    budget: Vec<LineV1>,
}

#[derive(Serialize)]
struct LineV1 {
    key: String,
    source: String,
    r#type: String,
    distribution: String,
    contribution_m: f64,
    degrees_of_freedom: Option<f64>,
}

#[derive(Serialize)]
struct AgreementV1 {
    difference_m: f64,
    expanded_uncertainty_m: f64,
    normalised_error: f64,
    agrees: bool,
}

#[derive(Serialize)]
struct PassesV1 {
    right: NumberV1,
    lines: usize,
    variance_ratio: f64,
    places: Vec<PlaceV1>,
}

#[derive(Serialize)]
struct PlaceV1 {
    line: usize,
    out: bool,
    at_s: f64,
    across_m: f64,
    residual_m: f64,
}

#[derive(Serialize)]
struct TurnsV1 {
    right: NumberV1,
    ahead: NumberV1,
    ahead_at_edge: bool,
    impulses_per_100m: f64,
    turned_left_deg: f64,
    turned_right_deg: f64,
    variance_ratio: f64,
    stretches: Vec<StretchV1>,
}

#[derive(Serialize)]
struct StretchV1 {
    turn: bool,
    at_s: f64,
    turned_right_deg: f64,
    antenna_m: f64,
    wheel_m: f64,
    residual_m: f64,
}

#[derive(Serialize)]
struct CirclesV1 {
    ahead: NumberV1,
    right: NumberV1,
    variance_ratio: f64,
    arcs: Vec<ArcV1>,
}

#[derive(Serialize)]
struct ArcV1 {
    left: bool,
    at_s: f64,
    turned_deg: f64,
    axle_radius_m: f64,
    antenna_by_position_m: f64,
    antenna_by_speed_m: f64,
    antenna_radius_m: f64,
    standard_uncertainty_m: f64,
}

#[derive(Serialize)]
struct TapedV1 {
    of: &'static str,
    taped_m: f64,
    driven_less_taped: AgreementV1,
}

/// The result, or why there is none, as one line of JSON without a line end. Same result, same
/// bytes.
#[must_use]
pub fn to_json(worked: &Result<Mount, MountRefusal>) -> String {
    let record = match worked {
        Ok(mount) => given(mount),
        Err(refusal) => refused(*refusal),
    };
    serde_json::to_string(&record).expect("plain structs of text and numbers always serialise")
}

fn refused(refusal: MountRefusal) -> MountV1 {
    MountV1 {
        state: "refused",
        refusal: Some(RefusalV1 {
            what: refusal.to_string(),
            means: refusal.means(),
            next: refusal.next(),
        }),
        ..empty()
    }
}

fn empty() -> MountV1 {
    MountV1 {
        format: "trundle-mount",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        state: "valid",
        signs: "right of the middle and ahead of the rear axle are positive",
        refusal: None,
        right: None,
        ahead: None,
        ahead_from: None,
        agreement: None,
        suspect: None,
        passes: None,
        passes_refused: None,
        turns: None,
        turns_refused: None,
        circles: None,
        circles_refused: None,
        taped: Vec::new(),
        coupling_along: None,
        coupling_right: None,
        assumptions: Vec::new(),
        cautions: cautions::ALL,
    }
}

fn given(mount: &Mount) -> MountV1 {
    let sources = &mount.sources;
    let coupling = mount.coupling();
    let beside = mount.beside();
    let taped = beside.iter().map(|b| TapedV1 {
        of: b.of,
        taped_m: b.taped_m,
        driven_less_taped: agreement(b.agreement),
    });
    MountV1 {
        state: if mount.is_clean() { "valid" } else { "flagged" },
        right: mount.right.as_ref().map(|q| number(q, sources)),
        ahead: mount.ahead.as_ref().map(|(q, _)| number(q, sources)),
        ahead_from: mount.ahead.as_ref().map(|(_, from)| from.word()),
        agreement: mount.agreement.map(agreement),
        suspect: mount.suspect.map(|suspect| suspect.word()),
        passes: mount.passes.as_ref().ok().map(|w| passes(w, sources)),
        passes_refused: mount.passes.as_ref().err().map(ToString::to_string),
        turns: mount.turns.as_ref().ok().map(|w| turns(w, sources)),
        turns_refused: mount.turns.as_ref().err().map(ToString::to_string),
        circles: mount.circles.as_ref().ok().map(|w| circles(w, sources)),
        circles_refused: mount.circles.as_ref().err().map(ToString::to_string),
        taped: taped.collect(),
        coupling_along: coupling.as_ref().map(|c| number(&c.along, &c.sources)),
        coupling_right: coupling
            .as_ref()
            .and_then(|c| c.right.as_ref().map(|right| number(right, &c.sources))),
        assumptions: mount.assumptions(),
        ..empty()
    }
}

fn number(quantity: &Quantity, sources: &Sources) -> NumberV1 {
    let expanded = cover(quantity, sources, COVERAGE);
    let budget = quantity.budget(sources).into_iter().map(|line| LineV1 {
        key: line.key,
        source: line.source,
        r#type: line.kind.to_string(),
        distribution: line.distribution.to_string(),
        contribution_m: line.contribution,
        degrees_of_freedom: finite(line.degrees_of_freedom),
    });
    NumberV1 {
        value_m: quantity.value(),
        standard_uncertainty_m: expanded.standard_uncertainty,
        expanded_uncertainty_m: expanded.expanded_uncertainty,
        coverage_probability: expanded.coverage_probability,
        degrees_of_freedom: finite(expanded.degrees_of_freedom),
        budget: budget.collect(),
    }
}

fn agreement(e: Agreement) -> AgreementV1 {
    AgreementV1 {
        difference_m: e.difference,
        expanded_uncertainty_m: e.expanded_uncertainty,
        normalised_error: e.normalised_error,
        agrees: e.agrees,
    }
}

fn passes(witness: &PassWitness, sources: &Sources) -> PassesV1 {
    let places = witness.places.iter().map(|place| PlaceV1 {
        line: place.line,
        out: place.out,
        at_s: place.at_s,
        across_m: place.across_m,
        residual_m: place.residual_m,
    });
    PassesV1 {
        right: number(&witness.right, sources),
        lines: witness.lines,
        variance_ratio: witness.variance_ratio,
        places: places.collect(),
    }
}

fn turns(witness: &TurnWitness, sources: &Sources) -> TurnsV1 {
    let stretches = witness.stretches.iter().map(|stretch| StretchV1 {
        turn: stretch.is_turn,
        at_s: stretch.at_s,
        turned_right_deg: stretch.turned_rad.to_degrees(),
        antenna_m: stretch.antenna_m,
        wheel_m: stretch.wheel_m,
        residual_m: stretch.residual_m,
    });
    TurnsV1 {
        right: number(&witness.right, sources),
        ahead: number(&witness.ahead, sources),
        ahead_at_edge: witness.ahead_at_edge,
        impulses_per_100m: 100.0 * witness.impulses_per_m.value(),
        turned_left_deg: witness.turned_rad.0.to_degrees(),
        turned_right_deg: witness.turned_rad.1.to_degrees(),
        variance_ratio: witness.variance_ratio,
        stretches: stretches.collect(),
    }
}

fn circles(witness: &CircleWitness, sources: &Sources) -> CirclesV1 {
    let arcs = witness.arcs.iter().map(|arc| ArcV1 {
        left: arc.left,
        at_s: arc.at_s,
        turned_deg: arc.turned_rad.to_degrees(),
        axle_radius_m: arc.axle_radius_m,
        antenna_by_position_m: arc.by_position_m,
        antenna_by_speed_m: arc.by_speed_m,
        antenna_radius_m: arc.antenna_radius_m,
        standard_uncertainty_m: arc.standard_m,
    });
    CirclesV1 {
        ahead: number(&witness.ahead, sources),
        right: number(&witness.right, sources),
        variance_ratio: witness.variance_ratio,
        arcs: arcs.collect(),
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
