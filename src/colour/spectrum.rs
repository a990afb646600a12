//! A spectrum on the visible range: 380 nm to 780 nm in steps of 5 nm.
//!
//! Integrals over it are sums of samples times 5 nm; beyond its ends a spectrum holds its end
//! values. Source: CIE 15, which takes 5 nm steps for all but the most exact work.
//!
//! ```
//! use foreglass::colour::spectrum::Spectrum;
//! use foreglass::units::Nanometres;
//! let ramp = Spectrum::from_fn(|nm| nm.get() / 1000.0);
//! assert!((ramp.at(Nanometres::new(552.5)?) - 0.5525).abs() < 1e-12);
//! # Ok::<(), foreglass::units::OutOfRange>(())
//! ```

use crate::units::Nanometres;

/// Samples of one value (power, transmittance, reflectance, a weight) against wavelength.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum([f64; Self::COUNT]);

impl Spectrum {
    /// Number of samples.
    pub const COUNT: usize = 81;
    /// Wavelength of the first sample, nm.
    pub const FIRST: f64 = 380.0;
    /// Distance between samples, nm.
    pub const STEP: f64 = 5.0;

    /// From a function of wavelength. Where it gives what is not finite, the sample is 0.
    #[must_use]
    pub fn from_fn(f: impl Fn(Nanometres) -> f64) -> Self {
        Self::from_samples(std::array::from_fn(|i| f(Self::wavelength(i))))
    }

    /// From its samples, shortest wavelength first. One that is not finite becomes 0.
    #[must_use]
    pub fn from_samples(samples: [f64; Self::COUNT]) -> Self {
        Self(samples.map(|v| if v.is_finite() { v } else { 0.0 }))
    }

    /// The same value everywhere (0 if `value` is not finite).
    #[must_use]
    pub fn constant(value: f64) -> Self {
        Self::from_samples([value; Self::COUNT])
    }

    /// From measured points, joined by straight lines; beyond the ends the end values hold. Nothing
    /// when there is no point, wavelengths do not rise, or a value is not finite.
    #[must_use]
    pub fn from_points(points: &[(Nanometres, f64)]) -> Option<Self> {
        let rising = points.windows(2).all(|p| p[0].0 < p[1].0);
        let (first, last) = (points.first()?, points.last()?);
        if !rising || points.iter().any(|p| !p.1.is_finite()) {
            return None;
        }
        Some(Self::from_fn(|nm| {
            let after = points.partition_point(|p| p.0 <= nm);
            match (after.checked_sub(1).map(|i| points[i]), points.get(after)) {
                (Some((a, va)), Some((b, vb))) => {
                    va + (vb - va) * (nm.get() - a.get()) / (b.get() - a.get())
                }
                (None, _) => first.1,
                (_, None) => last.1,
            }
        }))
    }

    /// The wavelength of sample `i`.
    #[must_use]
    pub fn wavelength(i: usize) -> Nanometres {
        Nanometres::clamped(Self::FIRST + Self::STEP * i as f64)
    }

    /// The samples, shortest wavelength first.
    #[must_use]
    pub const fn samples(&self) -> &[f64; Self::COUNT] {
        &self.0
    }

    /// Samples with their wavelengths.
    pub fn iter(&self) -> impl Iterator<Item = (Nanometres, f64)> + '_ {
        self.0
            .iter()
            .enumerate()
            .map(|(i, v)| (Self::wavelength(i), *v))
    }

    /// The value at a wavelength, on the straight line between samples; the end values beyond.
    #[must_use]
    pub fn at(&self, wavelength: Nanometres) -> f64 {
        let top = (Self::COUNT - 1) as f64;
        let place = ((wavelength.get() - Self::FIRST) / Self::STEP).clamp(0.0, top);
        let low = (place as usize).min(Self::COUNT - 2);
        let part = place - low as f64;
        self.0[low] * (1.0 - part) + self.0[low + 1] * part
    }

    /// Sample by sample, this times `other`: light through glass, glass behind glass.
    #[must_use]
    pub fn product(&self, other: &Self) -> Self {
        Self::from_samples(std::array::from_fn(|i| self.0[i] * other.0[i]))
    }

    /// Every sample times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self::from_samples(self.0.map(|v| v * factor))
    }

    /// Every sample changed by `f`.
    #[must_use]
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Self {
        Self::from_samples(self.0.map(f))
    }

    /// The sum of the samples.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.0.iter().sum()
    }

    /// The sum of the products of samples, Σ a·b: a weighted sum when one of them is a weight.
    #[must_use]
    pub fn dot(&self, other: &Self) -> f64 {
        self.0.iter().zip(&other.0).map(|(a, b)| a * b).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_joined_and_ends_held() {
        let p = |nm: f64, v: f64| (Nanometres::clamped(nm), v);
        let s = Spectrum::from_points(&[p(400.0, 0.2), p(402.0, 0.4), p(500.0, 1.0)]).unwrap();
        assert!((s.samples()[0] - 0.2).abs() < 1e-15, "held below");
        assert!((s.samples()[80] - 1.0).abs() < 1e-15, "held above");
        let at405 = 0.4 + 0.6 * 3.0 / 98.0;
        assert!(
            (s.samples()[5] - at405).abs() < 1e-12,
            "on the line between 402 and 500"
        );
        assert!(Spectrum::from_points(&[]).is_none(), "no points");
        assert!(
            Spectrum::from_points(&[p(500.0, 1.0), p(400.0, 1.0)]).is_none(),
            "falling"
        );
        assert!(
            Spectrum::from_points(&[p(500.0, f64::NAN)]).is_none(),
            "not a number"
        );
    }

    #[test]
    fn samples_are_finite() {
        let s = Spectrum::from_fn(|nm| 1.0 / (nm.get() - 500.0));
        assert!(
            s.samples().iter().all(|v| v.is_finite()),
            "the pole becomes 0"
        );
        assert!(
            s.scaled(f64::MAX)
                .scaled(1e9)
                .samples()
                .iter()
                .all(|v| v.is_finite()),
            "held"
        );
    }
}
