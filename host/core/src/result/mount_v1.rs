//! `trundle-mount`, version 1: the antenna position on the tractor as a JSON object.
//!
//! The schema stands in `host/schemas/trundle-mount-1.schema.json`. Fields are only ever added.
//! Right of the tractor's middle and ahead of the rear axle are positive.

use super::document::{finite, list, objects, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::stats::budget::{BudgetLine, Expanded, Quantity, Sources, cover};
use crate::stats::fit::agreement::Agreement;
use crate::survey::mount::circles::Arc;
use crate::survey::mount::passes::PassPlace;
use crate::survey::mount::turns::TurnRun;
use crate::survey::mount::{
    Beside, CircleWitness, Coupling, Mount, MountRefusal, PassWitness, TurnWitness,
};
use serde::Serialize;

/// The result, or why there is none, as one line of JSON without a line end. Same result, same
/// bytes.
#[must_use]
pub fn to_json(worked: &Result<Mount, MountRefusal>) -> String {
    let mount = worked.as_ref().ok();
    let coupling = mount.and_then(Mount::coupling);
    to_text(&mount_v1(mount, worked.as_ref().err(), coupling.as_ref()))
}

fn number(quantity: &Quantity, sources: &Sources) -> impl Serialize {
    number_v1(quantity, sources, cover(quantity, sources, COVERAGE))
}

objects! {
    mount_v1(mount: Option<&Mount>, refused: Option<&MountRefusal>, coupling: Option<&Coupling>) {
        format = "trundle-mount",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        state = match mount.map(Mount::is_clean) {
            Some(true) => "valid",
            Some(false) => "flagged",
            None => "refused",
        },
        signs = "right of the middle and ahead of the rear axle are positive",
        refusal = refused.map(refusal_v1),
        right = mount.and_then(|m| Some(number(m.right.as_ref()?, &m.sources))),
        ahead = mount.and_then(|m| Some(number(&m.ahead.as_ref()?.0, &m.sources))),
        ahead_from = mount.and_then(|m| Some(m.ahead.as_ref()?.1.word())),
        agreement = mount.and_then(|m| m.agreement).map(agreement_v1),
        suspect = mount.and_then(|m| Some(m.suspect?.word())),
        passes = mount.and_then(|m| Some(passes_v1(m.passes.as_ref().ok()?, &m.sources))),
        passes_refused = mount.and_then(|m| Some(m.passes.as_ref().err()?.to_string())),
        turns = mount.and_then(|m| Some(turns_v1(m.turns.as_ref().ok()?, &m.sources))),
        turns_refused = mount.and_then(|m| Some(m.turns.as_ref().err()?.to_string())),
        circles = mount.and_then(|m| Some(circles_v1(m.circles.as_ref().ok()?, &m.sources))),
        circles_refused = mount.and_then(|m| Some(m.circles.as_ref().err()?.to_string())),
        taped = list(mount.map(Mount::beside).unwrap_or_default(), taped_v1),
        coupling_along = coupling.map(|c| number(&c.along, &c.sources)),
        coupling_right = coupling.and_then(|c| Some(number(c.right.as_ref()?, &c.sources))),
        assumptions = mount.map(Mount::assumptions).unwrap_or_default(),
        cautions = cautions::ALL,
    }

    refusal_v1(why: &MountRefusal) {
        what = why.to_string(),
        means = why.means(),
        next = why.next(),
    }

    number_v1(quantity: &Quantity, sources: &Sources, expanded: Expanded) {
        value_m = quantity.value(),
        standard_uncertainty_m = expanded.standard_uncertainty,
        expanded_uncertainty_m = expanded.expanded_uncertainty,
        coverage_probability = expanded.coverage_probability,
        degrees_of_freedom = finite(expanded.degrees_of_freedom),
        budget = list(quantity.budget(sources), line_v1),
    }

    line_v1(line: BudgetLine) {
        key = line.key,
        source = line.source,
        r#type = line.kind.word(),
        distribution = line.distribution.word(),
        contribution_m = line.contribution,
        degrees_of_freedom = finite(line.degrees_of_freedom),
    }

    agreement_v1(e: Agreement) {
        difference_m = e.difference,
        expanded_uncertainty_m = e.expanded_uncertainty,
        normalised_error = e.normalised_error,
        agrees = e.agrees,
    }

    passes_v1(witness: &PassWitness, sources: &Sources) {
        right = number(&witness.right, sources),
        lines = witness.lines,
        variance_ratio = witness.variance_ratio,
        places = list(&witness.places, place_v1),
    }

    place_v1(place: &PassPlace) {
        line = place.line,
        out = place.out,
        at_s = place.at_s,
        across_m = place.across_m,
        residual_m = place.residual_m,
    }

    turns_v1(witness: &TurnWitness, sources: &Sources) {
        right = number(&witness.right, sources),
        ahead = number(&witness.ahead, sources),
        ahead_at_edge = witness.ahead_at_edge,
        impulses_per_100m = 100.0 * witness.impulses_per_m.value(),
        turned_left_deg = witness.turned_rad.0.to_degrees(),
        turned_right_deg = witness.turned_rad.1.to_degrees(),
        variance_ratio = witness.variance_ratio,
        steady_runs = list(&witness.steady_runs, turn_run_v1),
    }

    turn_run_v1(steady_run: &TurnRun) {
        turn = steady_run.is_turn,
        at_s = steady_run.at_s,
        turned_right_deg = steady_run.turned_rad.to_degrees(),
        antenna_m = steady_run.antenna_m,
        wheel_m = steady_run.wheel_m,
        residual_m = steady_run.residual_m,
    }

    circles_v1(witness: &CircleWitness, sources: &Sources) {
        ahead = number(&witness.ahead, sources),
        right = number(&witness.right, sources),
        variance_ratio = witness.variance_ratio,
        arcs = list(&witness.arcs, arc_v1),
    }

    arc_v1(arc: &Arc) {
        left = arc.left,
        at_s = arc.at_s,
        turned_deg = arc.turned_rad.to_degrees(),
        axle_radius_m = arc.axle_radius_m,
        antenna_by_position_m = arc.by_position_m,
        antenna_by_speed_m = arc.by_speed_m,
        antenna_radius_m = arc.antenna_radius_m,
        standard_uncertainty_m = arc.standard_m,
    }

    taped_v1(beside: Beside) {
        of = beside.of,
        taped_m = beside.taped_m,
        driven_less_taped = agreement_v1(beside.agreement),
    }
}
