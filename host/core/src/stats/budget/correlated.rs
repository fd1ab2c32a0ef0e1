//! Inputs known to be correlated, made out of independent sources.
//!
//! A covariance matrix V is factored as V = G Gᵀ (Cholesky); input i is its value plus row i of G
//! applied to independent sources of unit standard uncertainty. Any quantity made from the inputs
//! then has the right uncertainty by the ordinary rule. The sources are of the whole set of
//! readings and not of one input each, which is why they are counted as one ensemble.

use super::linear::Quantity;
use super::source::{Distribution, Source, Sources};

/// Lower triangular G with G Gᵀ = V; a pivot of zero (fully correlated inputs) is allowed.
///
/// `None` when V is not square, symmetric and positive semidefinite.
pub fn cholesky(covariance: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = covariance.len();
    if covariance.iter().any(|row| row.len() != n) {
        return None;
    }
    let scale = (0..n).map(|i| covariance[i][i].abs()).fold(0.0, f64::max);
    // Rounding of n products of doubles; a pivot this small is a zero that was computed.
    let tiny = scale * 1e-13 * (n as f64);
    let mut factor = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let done: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
            let rest = covariance[i][j] - done;
            let lopsided = (covariance[i][j] - covariance[j][i]).abs() > tiny;
            if !rest.is_finite() || lopsided || (i == j && rest < -tiny) {
                return None;
            }
            factor[i][j] = if i == j {
                rest.max(0.0).sqrt()
            } else if factor[j][j] > 0.0 {
                rest / factor[j][j]
            } else if rest.abs() <= tiny.max(scale * 1e-9) {
                0.0
            } else {
                return None;
            };
        }
    }
    Some(factor)
}

impl Sources {
    /// Quantities with the given values and covariance, sharing `dof` degrees of freedom.
    ///
    /// The sources are keyed `key.1`, `key.2` and so on.
    ///
    /// `None` when the matrix is not a covariance matrix of these values.
    pub fn correlated(
        &mut self,
        key: &str,
        name: &str,
        values: &[f64],
        covariance: &[Vec<f64>],
        dof: f64,
    ) -> Option<Vec<Quantity>> {
        if covariance.len() != values.len() {
            return None;
        }
        let factor = cholesky(covariance)?;
        let ensemble = Some(self.new_ensemble());
        let parts: Vec<Quantity> = (1..=values.len())
            .map(|number| {
                let (key, name) = (format!("{key}.{number}"), format!("{name} (part {number})"));
                let distribution = Distribution::Normal;
                let source = Source::type_a(&key, &name, 1.0, dof);
                self.quantity(0.0, Source { distribution, ensemble, ..source })
            })
            .collect();
        Some(
            values
                .iter()
                .zip(&factor)
                .map(|(value, row)| {
                    let inputs: Vec<(&Quantity, f64)> = parts
                        .iter()
                        .zip(row.iter().copied())
                        .filter(|(_, g)| g.abs() > 0.0)
                        .collect();
                    Quantity::combine(*value, &inputs)
                })
                .collect(),
        )
    }
}
