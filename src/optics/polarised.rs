//! Polarised light through sheet polarisers, by intensities.
//!
//! Light of degree of polarisation p whose plane lies at angle φ to the sheet's axis passes as
//! (k₁ + k₂)/2 + (k₁ − k₂)/2 · p · cos 2φ; unpolarised light as (k₁ + k₂)/2, and leaves polarised
//! along the axis by (k₁ − k₂)/(k₁ + k₂). Light that a clear sky scatters by the angle γ is polarised
//! across the plane of scattering by P·(1 − cos²γ)/(1 + cos²γ).
//!
//! Sources: principal transmittances and Malus's law, e.g. Hecht, "Optics", ch. 8 (from memory);
//! single Rayleigh scattering; P near 0.75 for a clear sky.
//!
//! ```
//! use foreglass::optics::polarised::{Sheet, rayleigh};
//! let sheet = Sheet { along: 0.75, across: 0.0 };
//! let stops = |dop: f64, degrees: f64| -sheet.passed(dop, degrees.to_radians()).log2();
//! assert!((stops(0.0, 0.0) - 1.415).abs() < 5e-4);
//! assert!((stops(0.75, 0.0) - 0.608).abs() < 5e-4 && (stops(0.75, 90.0) - 3.415).abs() < 5e-3);
//! assert!((rayleigh(60_f64.to_radians().cos(), 1.0) - 0.6).abs() < 1e-12);
//! ```

/// A sheet polariser, faces included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sheet {
    /// Part of light polarised along its axis that passes, k₁.
    pub along: f64,
    /// Part of light polarised across its axis that passes, k₂.
    pub across: f64,
}

impl Sheet {
    /// Part that passes of light of degree of polarisation `dop`, 0 to 1, whose plane lies at `angle`
    /// radians to the axis.
    #[must_use]
    pub fn passed(&self, dop: f64, angle: f64) -> f64 {
        let (mean, half) = self.halves();
        half.mul_add(dop * (2.0 * angle).cos(), mean)
    }

    /// Part of unpolarised light that passes.
    #[must_use]
    pub const fn passed_unpolarised(&self) -> f64 {
        f64::midpoint(self.along, self.across)
    }

    /// Degree of polarisation that the sheet gives unpolarised light, which is also how much of a
    /// polarised light's swing it shows.
    #[must_use]
    pub fn contrast(&self) -> f64 {
        let (mean, half) = self.halves();
        if mean > 0.0 { half / mean } else { 0.0 }
    }

    /// Part of unpolarised light that passes this sheet and then `behind`, whose axis is turned by
    /// `angle` radians against this one's.
    #[must_use]
    pub fn passed_by_both(&self, behind: &Self, angle: f64) -> f64 {
        self.passed_unpolarised() * behind.passed(self.contrast(), angle)
    }

    fn halves(&self) -> (f64, f64) {
        (self.passed_unpolarised(), (self.along - self.across) / 2.0)
    }
}

/// Degree of polarisation of skylight scattered by an angle of cosine `cos`, `most` at a right angle.
#[must_use]
pub fn rayleigh(cos: f64, most: f64) -> f64 {
    most * (1.0 - cos * cos) / (1.0 + cos * cos)
}
