//! The normal, Student and chi-squared distributions.
//!
//! Solved here on the library's cumulative functions, with a bound on every loop: the library's own
//! inverse of the incomplete beta function does not return for some degrees of freedom that the
//! Welch-Satterthwaite formula gives.

use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, Normal, StudentsT};

/// From here on the series in 1/dof is better than the incomplete beta function.
const MANY: f64 = 1e5;

/// Newton steps allowed; ten are what it takes.
const MAX_STEPS: usize = 200;

/// The value the standard normal distribution stays below with probability `p`, 0 < p < 1.
///
/// Outside that interval the result is infinite or not a number, as the mathematics has it.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    if p <= 0.0 {
        f64::NEG_INFINITY
    } else if p >= 1.0 {
        f64::INFINITY
    } else if p.is_nan() {
        p
    } else {
        Normal::standard().inverse_cdf(p)
    }
}

/// The value Student's t with `dof` degrees of freedom stays below with probability `p`.
///
/// `dof` need not be whole and may be infinite. Not a number unless `dof` is positive.
#[must_use]
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    if !(p > 0.0 && p < 1.0) || dof.is_nan() || dof <= 0.0 {
        return if dof > 0.0 { normal_quantile(p) } else { f64::NAN };
    }
    let tail = p.min(1.0 - p);
    let upper = upper_t(tail, dof);
    if p < 0.5 { -upper } else { upper }
}

/// The value Student's t exceeds with probability `tail`, at most one half.
fn upper_t(tail: f64, dof: f64) -> f64 {
    let z = normal_quantile(1.0 - tail).max(0.0);
    let student = match StudentsT::new(0.0, 1.0, dof) {
        Ok(student) if dof < MANY => student,
        _ => return many_degrees_of_freedom(z, dof),
    };
    // The survival function is convex in the upper tail and the normal quantile lies left of the
    // answer, so Newton's steps all go right; one that does not is rounding, and the end.
    let mut t = z;
    for _ in 0..MAX_STEPS {
        let step = (student.sf(t) - tail) / student.pdf(t);
        if !step.is_finite() || step <= 1e-15 * t {
            break;
        }
        t += step;
    }
    t
}

/// Abramowitz and Stegun 26.7.5; the terms left out are below 1e-14 from 1e5 on.
fn many_degrees_of_freedom(z: f64, dof: f64) -> f64 {
    let square = z * z;
    let first = z * (square + 1.0) / 4.0;
    let second = z * ((5.0 * square + 16.0) * square + 3.0) / 96.0;
    let third = z * (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0;
    z + (first + (second + third / dof) / dof) / dof
}

/// The probability with which Student's t stays below `x`; `dof` as in [`t_quantile`].
#[must_use]
pub fn t_cdf(x: f64, dof: f64) -> f64 {
    match StudentsT::new(0.0, 1.0, dof) {
        Ok(student) if dof < MANY => student.cdf(x),
        _ => Normal::standard().cdf(x),
    }
}

/// The factor k with which ± k·u covers with `probability`, two-sided (JCGM 100, table G.2).
#[must_use]
pub fn coverage_factor(probability: f64, dof: f64) -> f64 {
    t_quantile(0.5 + probability / 2.0, dof)
}

/// The probability that chi-squared with `dof` degrees of freedom is at least `x`: how surprising a
/// sum of squared normalised residuals is when all uncertainties are right.
#[must_use]
pub fn chi_squared_survival(x: f64, dof: f64) -> f64 {
    ChiSquared::new(dof).map_or(f64::NAN, |chi| if x <= 0.0 { 1.0 } else { chi.sf(x) })
}
