//! What a radar that looks at the ground at an angle ought to give, and what an error of that
//! angle would look like. A hint: the beam's angle is hardly ever known.

/// Angle of the beam below the horizontal where none is stated, degrees; common practice, no
/// source.
pub const ANGLE_DEG: f64 = 35.0;

/// Share by which the impulses fall for a beam steeper by one degree: tan θ of a degree.
#[must_use]
pub fn share_per_degree(angle_deg: f64) -> f64 {
    angle_deg.to_radians().tan() * 1.0_f64.to_radians()
}

/// How far the beam would have to be off for the measured value, if nothing else were wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AngleHint {
    /// Impulses per metre that it ought to give.
    pub nominal_per_m: f64,
    /// Angle of the beam below the horizontal at which it ought to, degrees.
    pub angle_deg: f64,
    /// Measured less nominal, over nominal.
    pub difference: f64,
    /// Share by which the impulses fall for each degree steeper.
    pub share_per_degree: f64,
    /// Steeper by so many degrees; negative is flatter. `None` where no angle explains it.
    pub steeper_deg: Option<f64>,
}

/// The hint for a measured value, impulses per metre.
#[must_use]
pub fn hint(measured_per_m: f64, nominal_per_m: f64, angle_deg: f64) -> AngleHint {
    let ratio = measured_per_m / nominal_per_m;
    let cosine = ratio * angle_deg.to_radians().cos();
    let seen = (0.0..=1.0).contains(&cosine).then(|| cosine.acos().to_degrees() - angle_deg);
    AngleHint {
        nominal_per_m,
        angle_deg,
        difference: ratio - 1.0,
        share_per_degree: share_per_degree(angle_deg),
        steeper_deg: seen,
    }
}
