//! The interval that really has the probability it is said to have.
//!
//! JCGM 100 takes the sum of all sources as normal, or as Student's t. A taped course is not like
//! that: the tape's error limit is one rectangular term that outweighs the rest, and a t interval
//! over it covers 98 times in 100, not 95. JCGM 101 (5.1 to 5.5) says what to do: work with the
//! distributions themselves. For a sum of independent terms that needs no random draws. The terms
//! that are normal or Student's t are taken together as one t with the effective degrees of freedom
//! of that part (JCGM 100, G.4.1); each rectangular term is then folded in exactly, as a moving
//! average over the distribution function; a triangular one is two of half the width.

use super::effective::{Expanded, effective_degrees_of_freedom, expand};
use super::linear::Quantity;
use super::source::{Distribution, Sources};
use super::student::{coverage_factor, normal_quantile, t_cdf};

/// Points of the grid on either side of zero.
const HALF_POINTS: usize = 1200;
/// The grid reaches this many standard uncertainties to each side, at the least.
const REACH: f64 = 10.0;

/// Expanded uncertainty from the distributions of the sources.
///
/// Where no term is rectangular or triangular this is [`expand`], unless that would reward an
/// uncertainty (see the head). `degrees_of_freedom`
/// stay those of Welch and Satterthwaite over all terms; `coverage_factor` is the half-width of
/// the interval over the standard uncertainty.
#[must_use]
pub fn cover(quantity: &Quantity, sources: &Sources, probability: f64) -> Expanded {
    let plain = expand(quantity, sources, probability);
    let (mut boxes, mut smooth) = (Vec::new(), Vec::new());
    for (id, term) in quantity.terms() {
        let part = Quantity::from_source(0.0, *id, sources).scaled(term.sensitivity);
        let u = part.standard_uncertainty();
        match sources.get(*id).distribution {
            Distribution::Rectangular => boxes.push(u * 3.0_f64.sqrt()),
            Distribution::Triangular => boxes.extend([u * 1.5_f64.sqrt(); 2]),
            Distribution::Normal | Distribution::StudentT => smooth.push(part),
        }
    }
    boxes.retain(|half_width| *half_width > 1e-6 * plain.standard_uncertainty);
    // Welch and Satterthwaite's formula rewards an uncertainty where there are few degrees of
    // freedom: a little more uncertainty of another kind raises them so much that t falls faster
    // than the standard uncertainty grows. So the interval is never narrower than without the terms
    // that are sure.
    let mut half = |terms: &[(&Quantity, f64)]| {
        let sum = Quantity::combine(0.0, terms);
        let (scale, dof) =
            (sum.standard_uncertainty(), effective_degrees_of_freedom(&sum, sources));
        if boxes.is_empty() {
            scale * coverage_factor(probability, dof)
        } else {
            fold(scale, dof, &mut boxes, probability)
        }
    };
    let all: Vec<(&Quantity, f64)> = smooth.iter().map(|part| (part, 1.0)).collect();
    let unsure: Vec<_> = all
        .iter()
        .copied()
        .filter(|(part, _)| effective_degrees_of_freedom(part, sources).is_finite())
        .collect();
    let mut half_width = half(&all);
    if !unsure.is_empty() {
        half_width = half_width.max(half(&unsure));
    }
    Expanded {
        coverage_factor: half_width / plain.standard_uncertainty,
        expanded_uncertainty: half_width,
        ..plain
    }
}

/// Half-width of the central interval of a t of scale `scale` plus rectangles of the half-widths
/// given.
fn fold(scale: f64, dof: f64, boxes: &mut [f64], probability: f64) -> f64 {
    boxes.sort_by(|a, b| b.total_cmp(a));
    let limits: f64 = boxes.iter().sum();
    let tail = if dof < 3.0 { 40.0 } else { REACH };
    let reach = limits + tail * scale;
    let step = reach / HALF_POINTS as f64;
    let x = |i: usize| (i as f64 - HALF_POINTS as f64) * step;
    let points = 2 * HALF_POINTS + 1;
    // With nothing smooth the widest rectangle itself is the start.
    let narrow = scale < 1e-3 * limits;
    let mut distribution: Vec<f64> = (0..points)
        .map(|i| match narrow {
            true => ((x(i) / boxes[0] + 1.0) / 2.0).clamp(0.0, 1.0),
            false => t_cdf(x(i) / scale, dof),
        })
        .collect();
    for &half_width in &boxes[usize::from(narrow)..] {
        distribution = moving_average(&distribution, half_width / step);
    }
    let wanted = f64::midpoint(1.0, probability);
    let above = distribution.partition_point(|p| *p < wanted);
    let Some(below) = above.checked_sub(1).filter(|_| above < points) else {
        // Beyond the grid only where next to no rectangle is left: the normal or t tail itself.
        return scale * normal_quantile(wanted) + limits;
    };
    let (low, high) = (distribution[below], distribution[above]);
    let share = if high > low { (wanted - low) / (high - low) } else { 0.0 };
    x(below) + share * step
}

/// Average of a function on a grid over `half` steps to either side; 0 to the left of the grid
/// and 1 to the right.
fn moving_average(values: &[f64], half: f64) -> Vec<f64> {
    let mut integral = Vec::with_capacity(values.len());
    let mut sum = 0.0;
    integral.push(sum);
    for pair in values.windows(2) {
        sum += f64::midpoint(pair[0], pair[1]);
        integral.push(sum);
    }
    let last = (values.len() - 1) as f64;
    let at = |place: f64| {
        if place <= 0.0 {
            return 0.0;
        }
        if place >= last {
            return sum + (place - last);
        }
        let below = place.floor();
        let (i, part) = (below as usize, place - below);
        // Linear within a step: the exact integral of the straight line between two points.
        integral[i] + part * (values[i] + 0.5 * part * (values[i + 1] - values[i]))
    };
    (0..values.len()).map(|i| (at(i as f64 + half) - at(i as f64 - half)) / (2.0 * half)).collect()
}
