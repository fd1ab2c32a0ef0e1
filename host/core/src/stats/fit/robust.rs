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

/// The same of values that can be had again, so many of them that they are better not kept.
#[must_use]
pub fn upper_median_of<I: Iterator<Item = f64>>(values: impl Fn() -> I) -> Option<f64> {
    /// Values in a row of the order share these highest bits of their keys.
    const BITS: u32 = 14;
    let row = |value: f64| (key(value) >> (u64::BITS - BITS)) as usize;
    let mut lengths = vec![0_usize; 1 << BITS];
    values().for_each(|value| lengths[row(value)] += 1);
    let mut middle = lengths.iter().sum::<usize>() / 2;
    let found = lengths.iter().position(|&length| {
        let inside = middle < length;
        middle -= if inside { 0 } else { length };
        inside
    })?;
    let mut inside: Vec<f64> = Vec::with_capacity(lengths[found]);
    inside.extend(values().filter(|&value| row(value) == found));
    (middle < inside.len()).then(|| *inside.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// A number that is greater where [`f64::total_cmp`] says so.
const fn key(value: f64) -> u64 {
    let bits = value.to_bits();
    if bits >> 63 == 0 { bits | 1 << 63 } else { !bits }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_many_is_the_same_without_keeping_them() {
        let mut state = 1_u64;
        let mut draw = move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695);
            state >> 20
        };
        for length in [0, 1, 2, 3, 10, 1000, 1001] {
            let few = |bits: u64| [0.0, -0.0, 1.5, f64::INFINITY, -1e300][bits as usize % 5];
            let near = |bits: u64| bits as f64 / 1e13 - 0.9;
            for value in [few as fn(u64) -> f64, near, f64::from_bits] {
                let values: Vec<f64> = (0..length).map(|_| value(draw())).collect();
                let kept = upper_median(values.clone()).map(f64::to_bits);
                assert_eq!(upper_median_of(|| values.iter().copied()).map(f64::to_bits), kept);
            }
        }
    }
}
