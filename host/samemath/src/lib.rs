//! The mathematical functions of C, the same bits on every system.
//!
//! IEEE 754 fixes the result of `+`, `*` and square root to the last bit, not that of a sine or
//! a logarithm: each system brings its own, they differ in the last digit, and some choose by the
//! processor. A result that must come out the same, byte for byte, on a laptop with Windows and
//! years later on another one cannot rest on them. So the crate `libm` (plain Rust, the same
//! arithmetic everywhere) stands in under the names that C uses, and whatever asks for `sin` in a
//! program that holds this package gets this one: our own code, crates, and C.
//!
//! The names are taken at link time. `use trundle_samemath as _;` in a package is enough for
//! every program that links it. Functions that every correct library gives exactly (`sqrt`,
//! `floor`, `fmod` and the like) stay as they are.
#![no_std]
#![allow(unsafe_code)]

/// One argument, one result.
macro_rules! of_one {
    ($($name:ident)*) => {$(
        #[doc = concat!("C's `", stringify!($name), "`, from the crate `libm`.")]
        #[unsafe(no_mangle)]
        pub extern "C" fn $name(x: f64) -> f64 {
            libm::$name(x)
        }
    )*};
}

/// Two arguments, one result.
macro_rules! of_two {
    ($($name:ident)*) => {$(
        #[doc = concat!("C's `", stringify!($name), "`, from the crate `libm`.")]
        #[unsafe(no_mangle)]
        pub extern "C" fn $name(x: f64, y: f64) -> f64 {
            libm::$name(x, y)
        }
    )*};
}

of_one!(sin cos tan asin acos atan sinh cosh tanh asinh acosh atanh);
of_one!(exp exp2 expm1 log log2 log10 log1p cbrt);
of_two!(atan2 hypot pow);

/// C's `fma`, from the crate `libm`: one system's own rounds twice.
#[unsafe(no_mangle)]
pub extern "C" fn fma(x: f64, y: f64, z: f64) -> f64 {
    libm::fma(x, y, z)
}

/// GNU's `sincos`, into which a compiler joins a sine and a cosine of the same angle.
#[unsafe(no_mangle)]
pub extern "C" fn sincos(x: f64, sine: &mut f64, cosine: &mut f64) {
    (*sine, *cosine) = libm::sincos(x);
}
