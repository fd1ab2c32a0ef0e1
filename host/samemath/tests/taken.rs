//! The names are taken: what the standard library calls is the crate `libm`, to the last bit.
//! With the system's own functions each of these comparisons fails somewhere among its arguments.
#![allow(missing_docs)]

use std::hint::black_box;
use trundle_samemath as _;

/// Arguments from tiny to large; the steps are whole, so that they are the same everywhere.
fn arguments() -> impl Iterator<Item = f64> {
    (1..200_000_u32).map(|n| f64::from(n) * f64::from(n % 97 + 1) / 65_536.0)
}

fn same(name: &str, taken: fn(f64) -> f64, wanted: fn(f64) -> f64, scale: f64) {
    for x in arguments().map(|x| x * scale) {
        let (taken, wanted) = (taken(black_box(x)), wanted(x));
        let alike = taken.to_bits() == wanted.to_bits() || (taken.is_nan() && wanted.is_nan());
        assert!(alike, "{name}({x:e}): {taken:e}, not {wanted:e}");
    }
}

#[test]
fn functions_of_one_argument_are_the_same_bits() {
    same("sin", f64::sin, libm::sin, 1.0);
    same("cos", f64::cos, libm::cos, 1.0);
    same("tan", f64::tan, libm::tan, 1.0);
    // Within -1 to 1.
    same("asin", f64::asin, libm::asin, 1.0 / 300.0);
    same("acos", f64::acos, libm::acos, 1.0 / 300.0);
    same("atan", f64::atan, libm::atan, 1.0);
    // Below the overflow at 709.
    same("exp", f64::exp, libm::exp, -1.0);
    same("expm1", f64::exp_m1, libm::expm1, 1.0);
    same("ln", f64::ln, libm::log, 1.0);
    same("log2", f64::log2, libm::log2, 1.0);
    same("log10", f64::log10, libm::log10, 1.0);
    same("log1p", f64::ln_1p, libm::log1p, 1.0);
    same("sinh", f64::sinh, libm::sinh, 1.0);
    same("tanh", f64::tanh, libm::tanh, 0.01);
    same("cbrt", f64::cbrt, libm::cbrt, 1.0);
}

#[test]
fn functions_of_two_arguments_are_the_same_bits() {
    let hypot = |x: f64| black_box(x).hypot(black_box(x / 3.0 + 0.1));
    same("hypot", hypot, |x| libm::hypot(x, x / 3.0 + 0.1), 1.0);
    let atan2 = |x: f64| black_box(x).atan2(black_box(1.0 - x / 7.0));
    same("atan2", atan2, |x| libm::atan2(x, 1.0 - x / 7.0), 1.0);
    let pow = |x: f64| black_box(x).powf(black_box(2.4));
    same("pow", pow, |x| libm::pow(x, 2.4), 1.0);
}

#[test]
fn sine_and_cosine_together_are_those_of_each_alone() {
    for x in arguments() {
        let (sine, cosine) = black_box(x).sin_cos();
        assert_eq!(sine.to_bits(), libm::sin(x).to_bits(), "sine of {x:e}");
        assert_eq!(cosine.to_bits(), libm::cos(x).to_bits(), "cosine of {x:e}");
    }
}
