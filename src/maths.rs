//! Transcendental functions from one pure-Rust library, so that the last digit is the same on every machine.
//!
//! The standard library calls the platform's own maths library, whose results differ in the last place; a test under
//! `tests/it/layering.rs` keeps those calls out of the rest of the crate. `sqrt` is exact everywhere (IEEE 754) and
//! may be used directly.

/// eˣ.
#[inline]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// Natural logarithm.
#[inline]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// Logarithm to base ten.
#[inline]
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}

/// x to the power y.
#[inline]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// ln(1 + x), accurate for small x.
#[inline]
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// eˣ − 1, accurate for small x.
#[inline]
pub fn exp_m1(x: f64) -> f64 {
    libm::expm1(x)
}

/// Sine of an angle in radians.
#[inline]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}
