//! Location and scatter that a few wrong values cannot move far.

/// What turns the median absolute deviation into a standard deviation for normal values:
/// one over the 75 % quantile of the normal distribution.
pub const MAD_TO_STANDARD_DEVIATION: f64 = 1.482_602_218_505_602;

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

/// The middle value, the upper one of two for an even number: always one of the values. `None`
/// without values. For thresholds in long lists, where half a step does not matter.
#[must_use]
pub fn upper_median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    (middle < values.len()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
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
