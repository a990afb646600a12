//! The normal distribution.

use std::f64::consts::FRAC_1_SQRT_2;

/// Its part above `x` standard deviations.
pub(super) fn upper(x: f64) -> f64 {
    0.5 * libm::erfc(x * FRAC_1_SQRT_2)
}
