//! How a result is printed: the uncertainty to two digits, the value to the same place.
//!
//! JCGM 100, 7.2.6: an uncertainty is quoted to at most two significant digits; it "may sometimes
//! be appropriate" to round it up. Here it is rounded to the nearest, and up where the nearest
//! would understate it by more than 2.5 % (10.47 becomes 11 and 28.05 becomes 28, as in the
//! guide's own two examples; the limit of 2.5 % is ours).

use std::fmt;

/// The share by which a rounded uncertainty may fall short before it is rounded up instead.
const MAX_UNDERSTATEMENT: f64 = 0.025;

/// A value and its uncertainty, rounded together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rounded {
    /// The value, to the last place of the uncertainty.
    pub value: f64,
    /// The uncertainty, to two significant digits.
    pub uncertainty: f64,
    /// Digits after the decimal point; negative when tens or more are rounded away.
    pub decimals: i32,
}

/// Rounds to a number of decimals, halves to the even neighbour: rounding must not push the mean
/// of many results (JCGM 100 leaves the choice open).
#[must_use]
pub fn round_to(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals.abs());
    if decimals >= 0 {
        (value * scale).round_ties_even() / scale
    } else {
        (value / scale).round_ties_even() * scale
    }
}

/// Rounds an uncertainty to two digits and the value to the same place.
///
/// With an uncertainty that is zero or not finite the value is left alone, with nine decimals.
#[must_use]
pub fn round_pair(value: f64, uncertainty: f64) -> Rounded {
    if !(uncertainty.is_finite() && uncertainty > 0.0) {
        return Rounded { value, uncertainty, decimals: 9 };
    }
    let mut decimals = 1 - uncertainty.log10().floor() as i32;
    let mut rounded = round_to(uncertainty, decimals);
    if rounded < uncertainty * (1.0 - MAX_UNDERSTATEMENT) {
        rounded = round_to(rounded + 10f64.powi(-decimals), decimals);
    }
    // 0.0996 becomes 0.10: a new first digit, hence one place fewer.
    if 1 - (rounded * (1.0 + 1e-9)).log10().floor() as i32 != decimals {
        decimals -= 1;
        rounded = round_to(rounded, decimals);
    }
    Rounded { value: round_to(value, decimals), uncertainty: rounded, decimals }
}

impl fmt::Display for Rounded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let places = usize::try_from(self.decimals.max(0)).unwrap_or(0);
        write!(f, "{:.places$} ± {:.places$}", self.value, self.uncertainty)
    }
}

/// The value that is keyed into the implement terminal: the nearest whole number.
///
/// `None` when the value is not finite or not within what a terminal can take (1 to 4294967295).
#[must_use]
pub fn value_to_enter(figure: f64) -> Option<u32> {
    let nearest = figure.round();
    (nearest >= 1.0 && nearest <= f64::from(u32::MAX)).then_some(nearest as u32)
}
