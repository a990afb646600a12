//! What a sampled picture can hold of a narrow streak.
//!
//! A streak a tenth of a pixel wide cannot be drawn by pixels: cut off at half a cycle per pixel, its
//! transform leaves ripples beside it that no camera shows, because a photosite and the blur before it
//! average over about a pixel. Scattered light that has a direction is therefore seen through a
//! Gaussian of [`SIGMA`] pixels, in every executor alike; light that goes straight on is not.
//!
//! ```
//! use foreglass::optics::pixel;
//! // A tenth of the contrast is left at half a cycle per pixel.
//! assert!((pixel::aperture(0.5) - 0.089).abs() < 1e-3);
//! ```

use std::f64::consts::PI;

/// Standard deviation of the aperture, pixels.
pub const SIGMA: f64 = 0.7;

/// Its transform at `nu` cycles per pixel.
#[must_use]
pub fn aperture(nu: f64) -> f64 {
    let t = PI * SIGMA * nu;
    (-2.0 * t * t).exp()
}
