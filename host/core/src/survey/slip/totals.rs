//! Sections added up by distance.
//!
//! A total is 1 - (sum of ways) K0/(100 sum of impulses): each section counts by the distance its
//! wheels turned, never by the mean of slips. The receiver's errors are each section's own; those
//! of the zero-slip value, of the antenna position, of a slope that is not known and of the scale
//! of the receiver's speed are the same in all and do not average.

use super::options::{ZeroSlip, by_figures};
use super::section::Section;
use crate::survey::ride::parts::PartKind;

/// Slip over several sections.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Total {
    /// The axle's way, metres.
    pub distance_m: f64,
    /// 1 - actual/theoretical travel.
    pub slip: f64,
    /// Standard uncertainty of the slip.
    pub standard_uncertainty: f64,
    /// Number of sections it covers.
    pub sections: usize,
}

/// One pass or turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartTotal {
    /// From 1, in order of time.
    pub number: u32,
    /// Whether it is pass or turn.
    pub kind: PartKind,
    /// UTC of the middle of its first and last section, nanoseconds since 1970.
    pub utc_ns: (i64, i64),
    /// Mean heading of its first section, degrees clockwise from north.
    pub heading_deg: f64,
    /// Total of its sections.
    pub total: Total,
}

/// How much of the way was driven with more slip than this.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShareAbove {
    /// The slip compared with, 0.1 is 10 %.
    pub slip: f64,
    /// Share of the distance, 0 to 1.
    pub share_of_distance: f64,
}

/// Add sections up; `None` without any.
pub fn total<'w>(sections: impl Iterator<Item = &'w Section>, zero: &ZeroSlip) -> Option<Total> {
    let (mut distance_m, mut variance_m2, mut impulses, mut count) = (0.0, 0.0, 0.0, 0);
    let mut shared_m = [0.0; 4];
    for section in sections {
        distance_m += section.length_m;
        let shared_m2: f64 = section.shared_m.iter().map(|m| m * m).sum();
        variance_m2 += section.u_length_m * section.u_length_m - shared_m2;
        shared_m.iter_mut().zip(section.shared_m).for_each(|(sum, m)| *sum += m);
        impulses += section.impulses;
        count += 1;
    }
    if count == 0 || impulses <= 0.0 {
        return None;
    }
    let slip = by_figures(zero.per_100m, 100.0 * impulses / distance_m);
    let own_m = variance_m2.max(0.0).sqrt();
    let u_distance_m = shared_m.iter().fold(own_m, |u, m| u.hypot(*m));
    let relative = (u_distance_m / distance_m).hypot(zero.standard_uncertainty / zero.per_100m);
    Some(Total { distance_m, slip, standard_uncertainty: (1.0 - slip) * relative, sections: count })
}

/// Totals of passes and turns, in order.
pub fn by_part(sections: &[Section], zero: &ZeroSlip) -> Vec<PartTotal> {
    sections
        .chunk_by(|a, b| a.part == b.part)
        .filter_map(|part| {
            let (first, last) = (part.first()?, part.last()?);
            Some(PartTotal {
                number: first.part,
                kind: first.kind,
                utc_ns: (first.utc_ns, last.utc_ns),
                heading_deg: first.heading_deg,
                total: total(part.iter(), zero)?,
            })
        })
        .collect()
}

/// Shares of the distance above each threshold.
pub fn share_above(sections: &[Section], thresholds: &[f64]) -> Vec<ShareAbove> {
    let all: f64 = sections.iter().map(|w| w.length_m).sum();
    thresholds
        .iter()
        .map(|&slip| {
            let above: f64 = sections.iter().filter(|w| w.slip > slip).map(|w| w.length_m).sum();
            ShareAbove { slip, share_of_distance: above / all }
        })
        .collect()
}
