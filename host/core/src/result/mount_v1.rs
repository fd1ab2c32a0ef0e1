//! `trundle-mount`, version 1: the antenna position on the tractor as a JSON object.
//!
//! The schema stands in `host/schemas/trundle-mount-1.schema.json`. Fields are only ever added.
//! Right of the tractor's middle and ahead of the rear axle are positive.

use super::document::{RefusalV1, finite, objects, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::stats::budget::{BudgetLine, Expanded, Quantity, Sources, cover};
use crate::stats::fit::agreement::Agreement;
use crate::survey::mount::{
    Beside, CircleWitness, Coupling, Mount, MountRefusal, PassWitness, TurnWitness, circles,
    passes, turns,
};

/// The result, or why there is none, as one line of JSON without a line end. Same result, same
/// bytes.
#[must_use]
pub fn to_json(worked: &Result<Mount, MountRefusal>) -> String {
    let mount = worked.as_ref().ok();
    let coupling = mount.and_then(Mount::coupling);
    to_text(&MountV1::of((worked, mount, coupling.as_ref())))
}

fn number(quantity: &Quantity, sources: &Sources) -> NumberV1 {
    NumberV1::of((quantity, sources, cover(quantity, sources, COVERAGE)))
}

objects! {
    MountV1 of (worked, mount, coupling):
        (&Result<Mount, MountRefusal>, Option<&Mount>, Option<&Coupling>)
    {
        format: &'static str = "trundle-mount",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        state: &'static str = match mount.map(Mount::is_clean) {
            Some(true) => "valid",
            Some(false) => "flagged",
            None => "refused",
        },
        signs: &'static str = "right of the middle and ahead of the rear axle are positive",
        refusal: Option<RefusalV1> = worked.as_ref().err().map(|refusal| {
            RefusalV1::without_code(refusal, refusal.means(), refusal.next())
        }),
        right: Option<NumberV1> = mount.and_then(|m| Some(number(m.right.as_ref()?, &m.sources))),
        ahead: Option<NumberV1> =
            mount.and_then(|m| Some(number(&m.ahead.as_ref()?.0, &m.sources))),
        ahead_from: Option<&'static str> = mount.and_then(|m| Some(m.ahead.as_ref()?.1.word())),
        agreement: Option<AgreementV1> = mount.and_then(|m| m.agreement).map(AgreementV1::of),
        suspect: Option<&'static str> = mount.and_then(|m| Some(m.suspect?.word())),
        passes: Option<PassesV1> =
            mount.and_then(|m| Some(PassesV1::of((m.passes.as_ref().ok()?, &m.sources)))),
        passes_refused: Option<String> =
            mount.and_then(|m| Some(m.passes.as_ref().err()?.to_string())),
        turns: Option<TurnsV1> =
            mount.and_then(|m| Some(TurnsV1::of((m.turns.as_ref().ok()?, &m.sources)))),
        turns_refused: Option<String> =
            mount.and_then(|m| Some(m.turns.as_ref().err()?.to_string())),
        circles: Option<CirclesV1> =
            mount.and_then(|m| Some(CirclesV1::of((m.circles.as_ref().ok()?, &m.sources)))),
        circles_refused: Option<String> =
            mount.and_then(|m| Some(m.circles.as_ref().err()?.to_string())),
        taped: Vec<TapedV1> =
            mount.map(Mount::beside).unwrap_or_default().into_iter().map(TapedV1::of).collect(),
        coupling_along: Option<NumberV1> = coupling.map(|c| number(&c.along, &c.sources)),
        coupling_right: Option<NumberV1> =
            coupling.and_then(|c| Some(number(c.right.as_ref()?, &c.sources))),
        assumptions: Vec<String> = mount.map(Mount::assumptions).unwrap_or_default(),
        cautions: &'static [&'static str] = cautions::ALL,
    }

    NumberV1 of (quantity, sources, expanded): (&Quantity, &Sources, Expanded) {
        value_m: f64 = quantity.value(),
        standard_uncertainty_m: f64 = expanded.standard_uncertainty,
        expanded_uncertainty_m: f64 = expanded.expanded_uncertainty,
        coverage_probability: f64 = expanded.coverage_probability,
        degrees_of_freedom: Option<f64> = finite(expanded.degrees_of_freedom),
        budget: Vec<LineV1> = quantity.budget(sources).into_iter().map(LineV1::of).collect(),
    }

    LineV1 of line: BudgetLine {
        key: String = line.key,
        source: String = line.source,
        r#type: &'static str = line.kind.word(),
        distribution: &'static str = line.distribution.word(),
        contribution_m: f64 = line.contribution,
        degrees_of_freedom: Option<f64> = finite(line.degrees_of_freedom),
    }

    AgreementV1 of e: Agreement {
        difference_m: f64 = e.difference,
        expanded_uncertainty_m: f64 = e.expanded_uncertainty,
        normalised_error: f64 = e.normalised_error,
        agrees: bool = e.agrees,
    }

    PassesV1 of (witness, sources): (&PassWitness, &Sources) {
        right: NumberV1 = number(&witness.right, sources),
        lines: usize = witness.lines,
        variance_ratio: f64 = witness.variance_ratio,
        places: Vec<PlaceV1> = witness.places.iter().map(PlaceV1::of).collect(),
    }

    PlaceV1 of place: &passes::PassPlace {
        line: usize = place.line,
        out: bool = place.out,
        at_s: f64 = place.at_s,
        across_m: f64 = place.across_m,
        residual_m: f64 = place.residual_m,
    }

    TurnsV1 of (witness, sources): (&TurnWitness, &Sources) {
        right: NumberV1 = number(&witness.right, sources),
        ahead: NumberV1 = number(&witness.ahead, sources),
        ahead_at_edge: bool = witness.ahead_at_edge,
        impulses_per_100m: f64 = 100.0 * witness.impulses_per_m.value(),
        turned_left_deg: f64 = witness.turned_rad.0.to_degrees(),
        turned_right_deg: f64 = witness.turned_rad.1.to_degrees(),
        variance_ratio: f64 = witness.variance_ratio,
        steady_runs: Vec<TurnRunV1> = witness.steady_runs.iter().map(TurnRunV1::of).collect(),
    }

    TurnRunV1 of steady_run: &turns::TurnRun {
        turn: bool = steady_run.is_turn,
        at_s: f64 = steady_run.at_s,
        turned_right_deg: f64 = steady_run.turned_rad.to_degrees(),
        antenna_m: f64 = steady_run.antenna_m,
        wheel_m: f64 = steady_run.wheel_m,
        residual_m: f64 = steady_run.residual_m,
    }

    CirclesV1 of (witness, sources): (&CircleWitness, &Sources) {
        ahead: NumberV1 = number(&witness.ahead, sources),
        right: NumberV1 = number(&witness.right, sources),
        variance_ratio: f64 = witness.variance_ratio,
        arcs: Vec<ArcV1> = witness.arcs.iter().map(ArcV1::of).collect(),
    }

    ArcV1 of arc: &circles::Arc {
        left: bool = arc.left,
        at_s: f64 = arc.at_s,
        turned_deg: f64 = arc.turned_rad.to_degrees(),
        axle_radius_m: f64 = arc.axle_radius_m,
        antenna_by_position_m: f64 = arc.by_position_m,
        antenna_by_speed_m: f64 = arc.by_speed_m,
        antenna_radius_m: f64 = arc.antenna_radius_m,
        standard_uncertainty_m: f64 = arc.standard_m,
    }

    TapedV1 of beside: Beside {
        of: &'static str = beside.of,
        taped_m: f64 = beside.taped_m,
        driven_less_taped: AgreementV1 = AgreementV1::of(beside.agreement),
    }
}
