//! Chromatic adaptation: the change of a colour's tristimulus values that keeps its look when the
//! white changes. Encodings adapt by Bradford, the camera's balance by CAT16.
//!
//! Sources: the Bradford matrix, Lam 1985, as used in ICC.1 annex E; CAT16, Li, Li, Wang, Zu, Luo,
//! Cui, Melgosa, Brill and Pointer, "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS",
//! Color Research and Application 42 (2017), full adaptation.
//!
//! ```
//! use foreglass::colour::{Xyz, adapt};
//! let (a, d65) = (Xyz::from_xy(0.447_58, 0.407_45), Xyz::from_xy(0.3127, 0.3290));
//! let seen = adapt::cat16(a, d65).apply(a.get());
//! assert!((seen[2] - d65.get()[2]).abs() < 1e-12, "white goes to white");
//! ```

use super::{Matrix3, Xyz};

// The inverses are computed, not taken rounded from a table, so that there and back is exact.
const BRADFORD: Matrix3 = Matrix3::from_rows([
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
]);

const CAT16: Matrix3 = Matrix3::from_rows([
    [0.401288, 0.650173, -0.051461],
    [-0.250268, 1.204414, 0.045854],
    [-0.002079, 0.048952, 0.953127],
]);

/// The Bradford adaptation from white `from` to white `to`, a matrix on XYZ.
///
/// Only the chromaticities matter: both whites are taken at Y = 1. The identity when either
/// is no white (see [`cat16`]).
#[must_use]
pub fn bradford(from: Xyz, to: Xyz) -> Matrix3 {
    von_kries(&BRADFORD, from, to)
}

/// The CAT16 adaptation, complete, from white `from` to white `to`, a matrix on XYZ.
///
/// Only the chromaticities matter: both whites are taken at Y = 1. When either has no luminance,
/// or a cone response that is not positive, there is nothing to adapt to and the identity comes
/// back.
#[must_use]
pub fn cat16(from: Xyz, to: Xyz) -> Matrix3 {
    von_kries(&CAT16, from, to)
}

fn von_kries(cones: &Matrix3, from: Xyz, to: Xyz) -> Matrix3 {
    let response = |white: Xyz| {
        let lms = cones.apply(white.at_unit_luminance()?.get());
        lms.iter().all(|v| *v > 0.0).then_some(lms)
    };
    let (Some(a), Some(b), Some(back)) = (response(from), response(to), cones.inverse()) else {
        return Matrix3::IDENTITY;
    };
    back * Matrix3::diagonal(std::array::from_fn(|i| b[i] / a[i])) * *cones
}
