//! `trundle-slip`, version 1: slip along the way as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-slip-1.schema.json`. Fields are only ever added.
//! Slips and shares are plain numbers: 0.1 is 10 %. Where no slip can be determined, there are no
//! sections and no summary, and a flag says why.

use super::document::{list, objects, refusal, to_text};
use crate::survey::ride::axle::Mounting;
use crate::survey::ride::parts::PartKind;
use crate::survey::slip::compare::Difference;
use crate::survey::slip::{
    PartTotal, Section, ShareAbove, Slip, SlipPlace, SlipRefusal, Total, ZeroSlip,
};
use crate::units::rfc3339;

/// How slip is defined here; stands in every result, since another definition is in use.
const DEFINITION: &str = "1 - actual travel / theoretical travel = 1 - K0/K";

/// A result as one line of JSON, without a line end. Same result, same bytes.
#[must_use]
pub fn to_json(slip: &Slip, compared: Option<&Result<Difference, SlipRefusal>>) -> String {
    let difference = compared.and_then(|compared| compared.as_ref().ok());
    let refusal = compared.and_then(|compared| compared.as_ref().err());
    to_text(&slip_v1(Some(slip), difference, refusal))
}

/// The same for a slip that cannot be determined.
#[must_use]
pub fn refusal_to_json(refusal: &SlipRefusal) -> String {
    to_text(&slip_v1(None, None, Some(refusal)))
}

objects! {
    slip_v1(slip: Option<&Slip>, difference: Option<&Difference>, refused: Option<&SlipRefusal>) {
        format = "trundle-slip",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        definition = DEFINITION,
        zero_slip = slip.map(|slip| zero_v1(&slip.zero_slip)),
        mounting = slip.and_then(|slip| slip.mounting).map(mounting_v1),
        sections = list(slip.into_iter().flat_map(|slip| &slip.sections), section_v1),
        summary = slip.map(summary_v1),
        parts = list(slip.into_iter().flat_map(|slip| &slip.parts), part_v1),
        places = list(slip.into_iter().flat_map(|slip| &slip.places), place_v1),
        comparison = difference.map(comparison_v1),
        receiver = slip.map(receiver_v1),
        flags = list(refused, |why| refusal(why.word(), why, why.means(), why.next())),
        cautions = crate::cautions::ALL,
    }

    zero_v1(zero: &ZeroSlip) {
        impulses_per_100m = zero.per_100m,
        standard_uncertainty = zero.standard_uncertainty,
    }

    mounting_v1(m: Mounting) {
        right_m = m.right_m,
        right_standard_uncertainty_m = m.u_right_m,
        ahead_m = m.ahead_m,
        ahead_standard_uncertainty_m = m.u_ahead_m,
        sign = "right of the middle and ahead of the rear axle are positive",
    }

    section_v1(section: &Section) {
        utc = rfc3339(section.utc_ns),
        lat_deg = section.middle().0,
        lon_deg = section.middle().1,
        length_m = section.length_m,
        impulses = section.impulses,
        ground_speed_m_s = section.ground_speed_m_s,
        heading_deg = section.heading_deg,
        slip = section.slip,
        standard_uncertainty = section.standard_uncertainty,
        turning = section.kind == PartKind::Turn,
        part = section.part,
        in_work = section.in_work,
        state = if section.flags.is_empty() { "valid" } else { "flagged" },
        flags = list(&section.flags, |flag| flag.word()),
    }

    total_v1(total: &Total) {
        distance_m = total.distance_m,
        distance_slip = total.slip,
        standard_uncertainty = total.standard_uncertainty,
    }

    share_v1(above: &ShareAbove) {
        slip = above.slip,
        share_of_distance = above.share_of_distance,
    }

    summary_v1(slip: &Slip) {
        distance_m = slip.totals.all.distance_m,
        distance_slip = slip.totals.all.slip,
        standard_uncertainty = slip.totals.all.standard_uncertainty,
        withheld_m = slip.withheld_m,
        passes = slip.totals.passes.as_ref().map(total_v1),
        turns = slip.totals.turns.as_ref().map(total_v1),
        in_work = slip.totals.in_work.as_ref().map(total_v1),
        share_above = list(&slip.share_above, share_v1),
    }

    part_v1(part: &PartTotal) {
        number = part.number,
        kind = part.kind.word(),
        start_utc = rfc3339(part.utc_ns.0),
        finish_utc = rfc3339(part.utc_ns.1),
        heading_deg = part.heading_deg,
        distance_m = part.total.distance_m,
        distance_slip = part.total.slip,
        standard_uncertainty = part.total.standard_uncertainty,
    }

    place_v1(place: &SlipPlace) {
        lat_deg = place.lat_lon_deg.0,
        lon_deg = place.lat_lon_deg.1,
        side_m = place.side_m,
        distance_m = place.total.distance_m,
        distance_slip = place.total.slip,
        standard_uncertainty = place.total.standard_uncertainty,
    }

    comparison_v1(found: &Difference) {
        before = found.first,
        after = found.second,
        difference = found.difference,
        standard_uncertainty = found.standard_uncertainty,
        expanded_uncertainty = found.expanded_uncertainty,
        significant = found.is_significant(),
        pairs = found.pairs,
        distance_m = found.distance_m,
    }

    receiver_v1(slip: &Slip) {
        lag_s = slip.lag_s.value,
        lag_standard_uncertainty_s = slip.lag_s.standard_uncertainty,
        speed_walk_m2_s = slip.noise.speed_walk_m2_s,
        position_white_m2 = slip.noise.white_m2,
        position_walk_m2_s = slip.noise.walk_m2_s,
    }
}
