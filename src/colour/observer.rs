//! The CIE 1931 2° standard observer.
//!
//! Source: ISO/CIE 11664-1 and CIE 15. Its functions enclose equal areas, so equal-energy light is
//! white at ⅓, ⅓.
//!
//! A spectrum stops at 380 nm and 780 nm; what the observer still sees beyond is weighed with the
//! end values (ASTM E308's practice for measurements cut short; from memory). Without it a
//! daylight's Z would be 3e-4 short.
//!
//! ```
//! use foreglass::colour::{observer, spectrum::Spectrum};
//! let [x, y] = observer::integrate(&Spectrum::constant(1.0)).xy();
//! assert!((x - 1.0 / 3.0).abs() < 5e-5 && (y - 1.0 / 3.0).abs() < 5e-5);
//! ```

use super::tables::observer::{BEYOND, CIE_1931};
use super::{Spectrum, Xyz};

/// The tristimulus values of a spectrum: Σ s(λ)·(x̄, ȳ, z̄)·5 nm, the end values held to 360 nm
/// and 830 nm. The scale is the spectrum's own.
#[must_use]
pub fn integrate(spectrum: &Spectrum) -> Xyz {
    let mut sum = [0.0; 3];
    let samples = spectrum.samples();
    let ends = [samples[0], samples[Spectrum::COUNT - 1]];
    let weighed = samples
        .iter()
        .zip(&CIE_1931)
        .chain(ends.iter().zip(&BEYOND));
    for (s, cmf) in weighed {
        for (total, weight) in sum.iter_mut().zip(cmf) {
            *total += s * weight * Spectrum::STEP;
        }
    }
    Xyz::from(sum)
}

/// x̄ (0), ȳ (1) or z̄ (2) as spectra.
#[must_use]
pub fn matching_functions() -> [Spectrum; 3] {
    std::array::from_fn(|k| Spectrum::from_samples(CIE_1931.map(|row| row[k])))
}
