//! What wavelengths each channel of working light stands for.
//!
//! A channel's band is its AP1 colour-matching function (the CIE 1931 functions through the matrix
//! from XYZ to AP1), negatives clipped, under equal energy, its samples summing to 1. A law of
//! scatter that depends on wavelength is averaged over it.
//!
//! ```
//! use foreglass::colour::{bands, spectrum::Spectrum};
//! let mean = |k: usize| bands()[k].iter().map(|(nm, w)| nm.get() * w).sum::<f64>();
//! assert!(mean(0) > mean(1) && mean(1) > mean(2)); // red, green, blue
//! ```

use std::sync::OnceLock;

use super::primaries::Space;
use super::{Matrix3, Spectrum, observer};

/// The bands of red, green and blue; the samples of each sum to 1.
#[must_use]
pub fn bands() -> &'static [Spectrum; 3] {
    static BANDS: OnceLock<[Spectrum; 3]> = OnceLock::new();
    BANDS.get_or_init(|| {
        let to_ap1 = Space::AcesCg
            .to_xyz()
            .inverse()
            .unwrap_or(Matrix3::IDENTITY);
        let cmf = observer::matching_functions();
        let xyz = |i: usize| std::array::from_fn(|k| cmf[k].samples()[i]);
        std::array::from_fn(|channel| {
            let samples = std::array::from_fn(|i| to_ap1.apply(xyz(i))[channel].max(0.0));
            let band = Spectrum::from_samples(samples);
            band.scaled(1.0 / band.sum())
        })
    })
}
