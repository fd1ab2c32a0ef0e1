//! What neighbouring passes share of the receiver's slow error.
//!
//! A pass takes the error at its finish less the error at its start. The tractor turns, and the
//! next pass begins near that finish before the slow error has moved on, in the other direction:
//! the two passes are wrong the same way. Their scatter does not show it, and the mean of passes
//! driven one after the other is worse than scatter over root n says. The errors of all ends are
//! taken as one process whose growth was learned at rest; it shows by how much.

use crate::passes::pass::{Direction, MeasuredPass};
use crate::passes::satellite::{ReceiverNoise, slow_growth_m2};

/// One pass as far as its satellite length is concerned.
pub(super) struct Sharing<'a> {
    pub pass: &'a MeasuredPass,
    pub way: Option<Direction>,
    /// Standard uncertainty of its length by the model, metres.
    pub u_length_m: f64,
}

/// Standard deviation of the weighted mean over the one its scatter shows, by the model; 1 where
/// nothing is shared, and never less. The weights are those of the pooling, 1/u2.
#[must_use]
pub(super) fn inflation(passes: &[Sharing<'_>], noise: &ReceiverNoise) -> f64 {
    let n = passes.len();
    if n < 2 {
        return 1.0;
    }
    let total: f64 = passes.iter().map(|p| p.u_length_m.powi(-2)).sum();
    let weight = |p: &Sharing<'_>| p.u_length_m.powi(-2) / total;
    let mut own = 0.0;
    let mut of_mean = 0.0;
    for (i, a) in passes.iter().enumerate() {
        own += weight(a) * a.u_length_m.powi(2);
        of_mean += (weight(a) * a.u_length_m).powi(2);
        for b in &passes[i + 1..] {
            of_mean += 2.0 * weight(a) * weight(b) * covariance_m2(a, b, noise);
        }
    }
    // Expected square of the scatter that the pooling reports, for correlated passes.
    let shown = (own - of_mean) / (n - 1) as f64;
    if shown > 0.0 { (of_mean / shown).sqrt().max(1.0) } else { 1.0 }
}

/// Covariance of two lengths by the slow error of their four ends, from its growth g(t), the
/// variance of the difference over a time t: (g(b1 a2) + g(a1 b2) - g(a1 a2) - g(b1 b2))/2, turned
/// over where the passes ran against each other.
fn covariance_m2(first: &Sharing<'_>, second: &Sharing<'_>, noise: &ReceiverNoise) -> f64 {
    let ends = |s: &Sharing<'_>| Some((s.pass.ends?, s.pass.satellite?.position_share, s.way?));
    let (Some(((a1, b1), share1, way1)), Some(((a2, b2), share2, way2))) =
        (ends(first), ends(second))
    else {
        return 0.0;
    };
    let growth = |p: &crate::passes::satellite::End, q: &crate::passes::satellite::End| {
        let apart_s = (p.utc_ns - q.utc_ns).abs() as f64 * 1e-9;
        slow_growth_m2(noise, p.quality, q.quality, apart_s)
    };
    let along = growth(&b1, &a2) + growth(&a1, &b2) - growth(&a1, &a2) - growth(&b1, &b2);
    let sign = if way1 == way2 { 1.0 } else { -1.0 };
    sign * share1 * share2 * along / 2.0
}
