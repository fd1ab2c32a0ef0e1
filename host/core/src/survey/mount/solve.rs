//! Least squares for a few unknowns, with errors that may hang together, and how much the scatter
//! about the result is believed beside the model of the errors.

use crate::stats::budget::correlated::cholesky;
use crate::stats::budget::{Quantity, Sources};

/// Worth of a model of errors learned from the same capture, in degrees of freedom: it may be wrong
/// by a third (JCGM 100, G.4.2, equation G.3).
const LEARNED_DOF: f64 = 4.0;

/// A solved system.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Solved {
    /// Values of the unknowns found.
    pub values: Vec<f64>,
    /// Their covariance by the model of the errors alone.
    pub covariance: Vec<Vec<f64>>,
    /// Weight of each observation in each unknown: `values[k]` is the sum of `gain[k][i] y[i]`.
    pub gain: Vec<Vec<f64>>,
    /// What is left of each observation.
    pub residuals: Vec<f64>,
    /// Sum of squared residuals in units of the model; observations less unknowns expected.
    pub chi_squared: f64,
    /// Number of observations less unknowns.
    pub free: f64,
}

impl Solved {
    /// Factor on all variances from model and scatter: the model counts as `model_dof` degrees of
    /// freedom beside those of the scatter. See the head of the pooling of passes.
    pub fn blended(&self, model_dof: f64) -> (f64, f64) {
        let dof = model_dof + self.free;
        ((model_dof + self.chi_squared) / dof, dof)
    }

    /// Scatter over what the model expects; one where nothing is left to show it.
    pub fn variance_ratio(&self) -> f64 {
        if self.free > 0.0 { self.chi_squared / self.free } else { 1.0 }
    }

    /// Values as quantities, with the covariance as model and scatter show it.
    pub fn quantities<const N: usize>(
        &self,
        key: &str,
        name: &str,
        values: [f64; N],
        sources: &mut Sources,
    ) -> Option<[Quantity; N]> {
        let (ratio, dof) = self.blended(LEARNED_DOF);
        let widened = |row: &Vec<f64>| row.iter().map(|c| c * ratio).collect();
        let covariance: Vec<Vec<f64>> = self.covariance.iter().map(widened).collect();
        sources.correlated(key, name, &values, &covariance, dof)?.try_into().ok()
    }
}

/// Generalised least squares: rows of the design, observations, covariance of their errors.
/// `None` where the unknowns cannot be separated.
pub(super) fn solve(
    design: &[Vec<f64>],
    observed: &[f64],
    covariance: &[Vec<f64>],
) -> Option<Solved> {
    let (n, unknowns) = (observed.len(), design.first()?.len());
    if n < unknowns {
        return None;
    }
    let factor = cholesky(covariance)?;
    // Divided by the factor of the covariance, all errors are independent and of size one.
    let columns: Vec<Vec<f64>> = (0..unknowns)
        .map(|k| forward(&factor, &design.iter().map(|row| row[k]).collect::<Vec<_>>()))
        .collect::<Option<_>>()?;
    let white = forward(&factor, observed)?;
    let normal: Vec<Vec<f64>> =
        columns.iter().map(|a| columns.iter().map(|b| dot(a, b)).collect()).collect();
    let inverse = inverse(&normal)?;
    let whitened_gain: Vec<Vec<f64>> = inverse
        .iter()
        .map(|row| (0..n).map(|i| (0..unknowns).map(|k| row[k] * columns[k][i]).sum()).collect())
        .collect();
    let values: Vec<f64> = whitened_gain.iter().map(|row| dot(row, &white)).collect();
    let left = |y: &[f64], i: usize, column: &dyn Fn(usize) -> f64| {
        y[i] - (0..unknowns).map(|k| values[k] * column(k)).sum::<f64>()
    };
    let chi_squared = (0..n).map(|i| left(&white, i, &|k| columns[k][i]).powi(2)).sum();
    let residuals = (0..n).map(|i| left(observed, i, &|k| design[i][k])).collect();
    let gain = whitened_gain.iter().map(|row| backward(&factor, row)).collect::<Option<_>>()?;
    let free = (n - unknowns) as f64;
    Some(Solved { values, covariance: inverse, gain, residuals, chi_squared, free })
}

/// The same for independent errors of the given standard uncertainties.
pub(super) fn solve_independent(
    design: &[Vec<f64>],
    observed: &[f64],
    standard: &[f64],
) -> Option<Solved> {
    let n = standard.len();
    let row = |i: usize| (0..n).map(|j| if i == j { standard[i].powi(2) } else { 0.0 }).collect();
    solve(design, observed, &(0..n).map(row).collect::<Vec<_>>())
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Solve G x = b for lower triangular G.
fn forward(factor: &[Vec<f64>], b: &[f64]) -> Option<Vec<f64>> {
    let mut x: Vec<f64> = Vec::with_capacity(b.len());
    for (i, row) in factor.iter().enumerate() {
        let rest = b[i] - dot(&row[..i], &x);
        x.push((row[i] > 0.0).then(|| rest / row[i])?);
    }
    Some(x)
}

/// Solve x G = b, that is the transposed system.
fn backward(factor: &[Vec<f64>], b: &[f64]) -> Option<Vec<f64>> {
    let n = b.len();
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let done: f64 = (i + 1..n).map(|j| factor[j][i] * x[j]).sum();
        x[i] = (factor[i][i] > 0.0).then(|| (b[i] - done) / factor[i][i])?;
    }
    Some(x)
}

/// Inverse of a symmetric positive matrix; `None` where it is next to singular.
pub(super) fn inverse(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    // Scaled to a diagonal of one first, so that unlike units do not look like a singularity.
    let scale: Vec<f64> = (0..n).map(|i| matrix[i][i].sqrt()).collect();
    if scale.iter().any(|s| !(*s > 0.0 && s.is_finite())) {
        return None;
    }
    let scaled: Vec<Vec<f64>> =
        (0..n).map(|i| (0..n).map(|j| matrix[i][j] / (scale[i] * scale[j])).collect()).collect();
    let factor = cholesky(&scaled)?;
    let columns: Vec<Vec<f64>> = (0..n)
        .map(|k| {
            let unit: Vec<f64> = (0..n).map(|i| if i == k { 1.0 } else { 0.0 }).collect();
            backward(&factor, &forward(&factor, &unit)?)
        })
        .collect::<Option<_>>()?;
    let back = |i: usize| (0..n).map(|k| columns[k][i] / (scale[i] * scale[k])).collect();
    Some((0..n).map(back).collect())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_of_two_that_hang_together_is_the_textbook_one() {
        // Variances 1 and 4, covariance 1: weights (4 - 1) and (1 - 1) over 1 + 4 - 2, from the
        // closed form of the generalised mean; the second adds nothing.
        let solved =
            solve(&[vec![1.0], vec![1.0]], &[3.0, 7.0], &[vec![1.0, 1.0], vec![1.0, 4.0]]).unwrap();
        assert!((solved.values[0] - 3.0).abs() < 1e-12);
        assert!((solved.covariance[0][0] - 1.0).abs() < 1e-12);
        assert!((solved.gain[0][0] - 1.0).abs() < 1e-12 && solved.gain[0][1].abs() < 1e-12);
        assert!((solved.chi_squared - 16.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn unknowns_that_cannot_be_told_apart_are_refused() {
        let same = [vec![1.0, 2.0], vec![2.0, 4.0], vec![3.0, 6.0]];
        assert!(solve_independent(&same, &[1.0, 2.0, 3.0], &[1.0; 3]).is_none());
        assert!(solve_independent(&[vec![1.0, 2.0]], &[1.0], &[1.0]).is_none());
    }
}
