//! Two captures of the same ground: did the change of inflation, ballast or drive help?
//!
//! Sections are paired by place and way, so that the ground is the same on both sides. The mean of
//! the differences has the uncertainty of their scatter, of which neighbouring sections share a
//! part; the values without slip add theirs, unless both sides used the same one, which cancels but
//! for the slip itself.

use super::refusal::SlipRefusal;
use super::result::Slip;
use super::section::Section;
use crate::figure::COVERAGE;
use crate::geodesy::LocalPlane;
use crate::stats::budget::student::coverage_factor;

/// Middles further apart than this share of a section are not the same place.
const SAME_PLACE: f64 = 0.5;
/// Headings further apart than this are not the same way, degrees.
const SAME_WAY_DEG: f64 = 30.0;
/// Pairs needed for a difference with its uncertainty.
const PAIRS_MIN: usize = 5;

/// The difference of two captures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// Slip of the second less slip of the first, over the same places.
    pub difference: f64,
    /// Standard uncertainty of the difference.
    pub standard_uncertainty: f64,
    /// Half-width of the 95 % interval.
    pub expanded_uncertainty: f64,
    /// Mean slip of the first over those places.
    pub first: f64,
    /// Mean slip of the second.
    pub second: f64,
    /// Number of the sections paired.
    pub pairs: usize,
    /// Distance of the first capture's sections that found a partner, metres.
    pub distance_m: f64,
}

impl Difference {
    /// The interval leaves out zero.
    #[must_use]
    pub fn is_significant(&self) -> bool {
        self.difference.abs() > self.expanded_uncertainty
    }
}

/// Compare `second` with `first`.
///
/// # Errors
/// [`SlipRefusal::NoOverlap`] when no section of one lies where one of the other does,
/// [`SlipRefusal::FewPairs`] when too few do.
pub fn compare(first: &Slip, second: &Slip) -> Result<Difference, SlipRefusal> {
    let pairs = pairs(&first.sections, &second.sections);
    if pairs.is_empty() {
        return Err(SlipRefusal::NoOverlap);
    }
    if pairs.len() < PAIRS_MIN {
        return Err(SlipRefusal::FewPairs { pairs: pairs.len() });
    }
    let n = pairs.len() as f64;
    let off: Vec<f64> = pairs.iter().map(|(a, b)| b.slip - a.slip).collect();
    let difference = off.iter().sum::<f64>() / n;
    let variance = off.iter().map(|d| (d - difference).powi(2)).sum::<f64>() / (n - 1.0);
    let products: f64 =
        off.windows(2).map(|w| (w[0] - difference) * (w[1] - difference)).sum::<f64>();
    // First-order correlation along the way leaves fewer independent pairs than there are.
    let correlation = if variance > 0.0 { products / ((n - 1.0) * variance) } else { 0.0 };
    let correlation = correlation.clamp(0.0, 0.9);
    let free = (n * (1.0 - correlation) / (1.0 + correlation)).max(2.0);
    let mean = |slip: fn(&(&Section, &Section)) -> f64| pairs.iter().map(slip).sum::<f64>() / n;
    let (slip_a, slip_b) = (mean(|p| p.0.slip), mean(|p| p.1.slip));
    let shared = u_of_figures(first, second, slip_a, slip_b);
    let scatter = (variance / free).sqrt();
    let standard_uncertainty = scatter.hypot(shared);
    let factor = coverage_factor(COVERAGE, free - 1.0);
    Ok(Difference {
        difference,
        standard_uncertainty,
        expanded_uncertainty: (factor * scatter).hypot(2.0 * shared),
        first: slip_a,
        second: slip_b,
        pairs: pairs.len(),
        distance_m: pairs.iter().map(|p| p.0.length_m).sum(),
    })
}

/// Uncertainty of the difference by the values without slip.
fn u_of_figures(first: &Slip, second: &Slip, slip_a: f64, slip_b: f64) -> f64 {
    let relative = |slip: &Slip| slip.zero_slip.standard_uncertainty / slip.zero_slip.per_100m;
    if first.zero_slip == second.zero_slip {
        (slip_a - slip_b).abs() * relative(first)
    } else {
        ((1.0 - slip_a) * relative(first)).hypot((1.0 - slip_b) * relative(second))
    }
}

/// Each section of the first with the nearest of the second at the same place and the same way.
fn pairs<'w>(first: &'w [Section], second: &'w [Section]) -> Vec<(&'w Section, &'w Section)> {
    let Some(origin) = first.first().map(Section::middle) else { return Vec::new() };
    let plane = LocalPlane::new(origin.0, origin.1, 0.0);
    let place = |section: &Section| {
        let (lat_deg, lon_deg) = section.middle();
        plane.enu(lat_deg, lon_deg)
    };
    let places: Vec<_> = second.iter().map(|section| (place(section), section)).collect();
    let mut out = Vec::new();
    for section in first {
        let at = place(section);
        let near_m = SAME_PLACE * section.length_m;
        let best = places
            .iter()
            .filter(|(_, other)| same_way(section, other))
            .map(|(p, other)| ((p.east_m - at.east_m).hypot(p.north_m - at.north_m), *other))
            .filter(|(apart_m, _)| *apart_m <= near_m)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        out.extend(best.map(|(_, other)| (section, other)));
    }
    out
}

fn same_way(a: &Section, b: &Section) -> bool {
    let turned_deg = (a.heading_deg - b.heading_deg + 180.0).rem_euclid(360.0) - 180.0;
    a.kind == b.kind && turned_deg.abs() <= SAME_WAY_DEG
}
