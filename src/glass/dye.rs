//! What dyes share: bands whose borders have smooth flanks.

/// How far a wavelength lies above a border, 0 to 1: a smooth step over `flank` nm about it.
pub(super) fn above(nm: f64, border: f64, flank: f64) -> f64 {
    let t = ((nm - border) / flank + 0.5).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}
