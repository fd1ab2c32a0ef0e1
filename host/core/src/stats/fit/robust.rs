//! Location and scatter that a few wrong values cannot move far.

/// What turns the median absolute deviation into a standard deviation for normal values:
/// one over the 75 % quantile of the normal distribution.
pub const MAD_TO_STANDARD_DEVIATION: f64 = 1.482_602_218_505_602;

/// Where Huber's estimate begins to limit a value, in standard deviations: 95 % efficient for
/// normal values (Huber, Robust Statistics, 1981).
const HUBER_LIMIT: f64 = 1.345;

/// Rounds Huber's estimate may take; it settles in some ten.
const MAX_ROUNDS: usize = 200;

/// The middle value; the mean of the middle two for an even number. `None` without values.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        n if n % 2 == 1 => Some(sorted[middle]),
        _ => Some(sorted[middle - 1] + (sorted[middle] - sorted[middle - 1]) / 2.0),
    }
}

/// Median absolute deviation from the median, not scaled. `None` without values.
#[must_use]
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    median(&values.iter().map(|value| (value - centre).abs()).collect::<Vec<f64>>())
}

/// Standard deviation estimated from the median absolute deviation. `None` without values.
#[must_use]
pub fn robust_standard_deviation(values: &[f64]) -> Option<f64> {
    Some(median_absolute_deviation(values)? * MAD_TO_STANDARD_DEVIATION)
}

/// Huber's estimate of location, the scatter being held at its robust estimate.
///
/// Falls back on the median when more than half of the values are equal. `None` without values.
#[must_use]
pub fn huber_location(values: &[f64]) -> Option<f64> {
    let mut centre = median(values)?;
    let limit = HUBER_LIMIT * robust_standard_deviation(values)?;
    if limit <= 0.0 {
        return Some(centre);
    }
    let n = values.len() as f64;
    for _ in 0..MAX_ROUNDS {
        let step = values.iter().map(|v| (v - centre).clamp(-limit, limit)).sum::<f64>() / n;
        centre += step;
        if step.abs() <= 1e-14 * limit {
            break;
        }
    }
    Some(centre)
}
