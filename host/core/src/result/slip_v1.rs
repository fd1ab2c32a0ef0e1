//! `trundle-slip`, version 1: slip along the way as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-slip-1.schema.json`. Fields are only ever added.
//! Slips and shares are plain numbers: 0.1 is 10 %. Where no slip can be determined, there are no
//! sections and no summary, and a flag says why.

use super::document::{RefusalV1, objects, to_text};
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
    to_text(&SlipV1::of((Some(slip), difference, refusal)))
}

/// The same for a slip that cannot be determined.
#[must_use]
pub fn refusal_to_json(refusal: &SlipRefusal) -> String {
    to_text(&SlipV1::of((None, None, Some(refusal))))
}

fn each<'a, T, O>(items: Option<&'a Vec<T>>, of: fn(&'a T) -> O) -> Vec<O> {
    items.into_iter().flatten().map(of).collect()
}

objects! {
    SlipV1 of (slip, difference, refusal):
        (Option<&Slip>, Option<&Difference>, Option<&SlipRefusal>)
    {
        format: &'static str = "trundle-slip",
        version: u32 = 1,
        software: &'static str = env!("CARGO_PKG_VERSION"),
        definition: &'static str = DEFINITION,
        zero_slip: Option<ZeroV1> = slip.map(|slip| ZeroV1::of(&slip.zero_slip)),
        mounting: Option<MountingV1> = slip.and_then(|slip| slip.mounting).map(MountingV1::of),
        sections: Vec<SectionV1> = each(slip.map(|slip| &slip.sections), SectionV1::of),
        summary: Option<SummaryV1> = slip.map(SummaryV1::of),
        parts: Vec<PartV1> = each(slip.map(|slip| &slip.parts), PartV1::of),
        places: Vec<PlaceV1> = each(slip.map(|slip| &slip.places), PlaceV1::of),
        comparison: Option<ComparisonV1> = difference.map(ComparisonV1::of),
        receiver: Option<ReceiverV1> = slip.map(ReceiverV1::of),
        flags: Vec<RefusalV1> = refusal
            .map(|why| RefusalV1::of(why.word(), why, why.means(), why.next()))
            .into_iter()
            .collect(),
        cautions: &'static [&'static str] = crate::cautions::ALL,
    }

    ZeroV1 of zero: &ZeroSlip {
        impulses_per_100m: f64 = zero.per_100m,
        standard_uncertainty: f64 = zero.standard_uncertainty,
    }

    MountingV1 of m: Mounting {
        right_m: f64 = m.right_m,
        right_standard_uncertainty_m: f64 = m.u_right_m,
        ahead_m: f64 = m.ahead_m,
        ahead_standard_uncertainty_m: f64 = m.u_ahead_m,
        sign: &'static str = "right of the middle and ahead of the rear axle are positive",
    }

    SectionV1 of section: &Section {
        utc: String = rfc3339(section.utc_ns),
        lat_deg: f64 = section.middle().0,
        lon_deg: f64 = section.middle().1,
        length_m: f64 = section.length_m,
        impulses: f64 = section.impulses,
        ground_speed_m_s: f64 = section.ground_speed_m_s,
        heading_deg: f64 = section.heading_deg,
        slip: f64 = section.slip,
        standard_uncertainty: f64 = section.standard_uncertainty,
        turning: bool = section.kind == PartKind::Turn,
        part: u32 = section.part,
        in_work: bool = section.in_work,
        state: &'static str = if section.flags.is_empty() { "valid" } else { "flagged" },
        flags: Vec<&'static str> = section.flags.iter().map(|flag| flag.word()).collect(),
    }

    TotalV1 of total: &Total {
        distance_m: f64 = total.distance_m,
        distance_slip: f64 = total.slip,
        standard_uncertainty: f64 = total.standard_uncertainty,
    }

    ShareV1 of above: &ShareAbove {
        slip: f64 = above.slip,
        share_of_distance: f64 = above.share_of_distance,
    }

    SummaryV1 of slip: &Slip {
        distance_m: f64 = slip.totals.all.distance_m,
        distance_slip: f64 = slip.totals.all.slip,
        standard_uncertainty: f64 = slip.totals.all.standard_uncertainty,
        withheld_m: f64 = slip.withheld_m,
        passes: Option<TotalV1> = slip.totals.passes.as_ref().map(TotalV1::of),
        turns: Option<TotalV1> = slip.totals.turns.as_ref().map(TotalV1::of),
        in_work: Option<TotalV1> = slip.totals.in_work.as_ref().map(TotalV1::of),
        share_above: Vec<ShareV1> = slip.share_above.iter().map(ShareV1::of).collect(),
    }

    PartV1 of part: &PartTotal {
        number: u32 = part.number,
        kind: &'static str = part.kind.word(),
        start_utc: String = rfc3339(part.utc_ns.0),
        finish_utc: String = rfc3339(part.utc_ns.1),
        heading_deg: f64 = part.heading_deg,
        distance_m: f64 = part.total.distance_m,
        distance_slip: f64 = part.total.slip,
        standard_uncertainty: f64 = part.total.standard_uncertainty,
    }

    PlaceV1 of place: &SlipPlace {
        lat_deg: f64 = place.lat_lon_deg.0,
        lon_deg: f64 = place.lat_lon_deg.1,
        side_m: f64 = place.side_m,
        distance_m: f64 = place.total.distance_m,
        distance_slip: f64 = place.total.slip,
        standard_uncertainty: f64 = place.total.standard_uncertainty,
    }

    ComparisonV1 of found: &Difference {
        before: f64 = found.first,
        after: f64 = found.second,
        difference: f64 = found.difference,
        standard_uncertainty: f64 = found.standard_uncertainty,
        expanded_uncertainty: f64 = found.expanded_uncertainty,
        significant: bool = found.is_significant(),
        pairs: usize = found.pairs,
        distance_m: f64 = found.distance_m,
    }

    ReceiverV1 of slip: &Slip {
        lag_s: f64 = slip.lag_s.value,
        lag_standard_uncertainty_s: f64 = slip.lag_s.standard_uncertainty,
        speed_walk_m2_s: f64 = slip.noise.speed_walk_m2_s,
        position_white_m2: f64 = slip.noise.white_m2,
        position_walk_m2_s: f64 = slip.noise.walk_m2_s,
    }
}
