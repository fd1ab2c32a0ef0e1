//! The corrections of taping, as surveying textbooks have them.
//!
//! Each returns what is to be **added** to the tape reading, in metres.

/// Standard gravity, m/s² (3rd CGPM, 1901): a tape's weight from its mass.
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;

/// Tension: (P − P₀)·L/(A·E). A tape pulled harder than it was made for is long and reads short.
#[must_use]
pub fn tension_correction_m(
    length_m: f64,
    tension_n: f64,
    reference_tension_n: f64,
    cross_section_mm2: f64,
    elastic_modulus_gpa: f64,
) -> f64 {
    // mm² times GPa is 1000 N.
    let stiffness_n = cross_section_mm2 * elastic_modulus_gpa * 1000.0;
    (tension_n - reference_tension_n) * length_m / stiffness_n
}

/// Sag of one span hanging between its ends: −w²·L³/(24·P²), w being the weight per metre. The
/// arc is longer than the chord.
#[must_use]
pub fn sag_correction_m(span_m: f64, weight_n_per_m: f64, tension_n: f64) -> f64 {
    -(weight_n_per_m / tension_n).powi(2) * span_m.powi(3) / 24.0
}

/// Standard length: a tape truly `true_m` long where it says `nominal_m`.
#[must_use]
pub fn standard_length_correction_m(length_m: f64, nominal_m: f64, true_m: f64) -> f64 {
    length_m * (true_m / nominal_m - 1.0)
}

/// Horizontal distance under a slope length, given the difference in height. Not a number when the
/// height is greater than the length.
#[must_use]
pub fn horizontal_from_slope_m(slope_m: f64, height_m: f64) -> f64 {
    (slope_m * slope_m - height_m * height_m).sqrt()
}
