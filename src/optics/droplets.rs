//! Translucent droplets in a glass, whose light interferes with the light that passes beside them.
//!
//! A sphere whose refractive index is δ above its surroundings' holds back a wave through its middle by
//! ρ = 2πdδ/λ. What goes missing from the beam is Q(ρ) times what strikes it,
//!
//! `Q = 2 − (4/ρ) sin ρ + (4/ρ²)(1 − cos ρ)`
//!
//! so that droplets which would cover an area τ if none overlapped leave `exp(−τQ)` of the light in the
//! beam, wavelength by wavelength: the direct light has a colour, the scattered light the other one. Fine
//! droplets (ρ < 4) leave a warm core in a blue halo, coarser ones the reverse; large ones (Q → 2) are
//! grey again, as opaque specks are.
//!
//! What is scattered is shared between diffraction by the droplets' outline (a lobe as of specks, wide
//! because they are small) and what they refract (wider, part of it over the whole field); a little is
//! sent back and is lost. The shares are our own estimates.
//!
//! Source: H. C. van de Hulst, *Light Scattering by Small Particles* (1957), § 11.22, anomalous
//! diffraction (from memory; values in `tests/checks`).
//!
//! ```
//! use foreglass::optics::droplets::extinction;
//! for (rho, want) in [(0.5, 0.123275), (1.0, 0.472907), (2.0, 1.597552), (10.0, 2.291171)] {
//!     assert!((extinction(rho) - want).abs() < 1e-6, "{rho}");
//! }
//! let top = extinction(4.085174);
//! assert!((top - 3.173137).abs() < 1e-6 && top > extinction(4.0) && top > extinction(4.2));
//! // Droplets of 2 µm, δ = 0.1, hold back 2.505, 1.945, 1.515 at 450, 550, 650 nm: a warm core.
//! for (um, want) in [(0.45, 2.505), (0.55, 1.945), (0.65, 1.515)] {
//!     let rho = std::f64::consts::TAU * 2.0 * 0.1 / um;
//!     assert!((extinction(rho) - want).abs() < 5e-4, "{um}");
//! }
//! ```

use super::band::colours;
use super::scatter::{Lobe, Profile, Scatter};
use crate::units::{Degrees, Fraction, Micrometres};
use std::f64::consts::PI;

/// Van de Hulst's extinction by a transparent sphere of phase shift `rho`: light taken from the beam over
/// light that strikes the sphere.
#[must_use]
pub fn extinction(rho: f64) -> f64 {
    if rho.abs() < 0.02 {
        // ρ²/2 − ρ⁴/36: no cancellation.
        let s = rho * rho;
        return s * (0.5 - s / 36.0);
    }
    2.0 - 4.0 / rho * rho.sin() + 4.0 / (rho * rho) * (1.0 - rho.cos())
}

/// Droplets in a glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Droplets {
    /// What they would cover if none overlapped, τ.
    pub depth: f64,
    /// Their median diameter, weighted by area.
    pub diameter: Micrometres,
    /// Standard deviation of the logarithm of their diameters.
    pub spread: f64,
    /// Refractive index above their surroundings', δ.
    pub step: f64,
    /// Part of the scattered light that is refracted rather than diffracted.
    pub refracted: Fraction,
    /// Half-width of the lobe of refracted light.
    pub lobe: Degrees,
    /// Part of the refracted light that goes over the whole field.
    pub veil: Fraction,
    /// Part of the scattered light that is sent back and lost.
    pub back: Fraction,
}

impl Droplets {
    /// Light left in the beam, per channel: a mean over its band of `exp(−τ·Q̄)`, Q̄ over the sizes.
    #[must_use]
    pub fn direct(&self) -> [f64; 3] {
        let t = |i: i32| f64::from(i) * 0.125;
        let sizes: Vec<(f64, f64)> = (-64..=64)
            .map(|i| ((self.spread * t(i)).exp(), (-0.5 * t(i) * t(i)).exp()))
            .collect();
        let all: f64 = sizes.iter().map(|s| s.1).sum();
        let at = |um: f64| {
            let rho = 2.0 * PI * self.diameter.get() * self.step / um;
            let sum: f64 = sizes.iter().map(|(d, w)| w * extinction(rho * d)).sum();
            (-self.depth * sum / all).exp()
        };
        std::array::from_fn(|channel| {
            let colours = colours()[channel].iter();
            colours.map(|&(um, w)| w * at(um)).sum()
        })
    }

    /// Their account of the light that arrives.
    #[must_use]
    pub fn scatter(&self) -> Scatter {
        let direct = self.direct();
        let taken = direct.map(|d| 1.0 - d);
        let part = |share: f64| taken.map(|t| t * share);
        let forward = 1.0 - self.back.get();
        let refracted = forward * self.refracted.get();
        let veil = refracted * self.veil.get();
        let halo = Profile::Speck {
            diameter: self.diameter,
            spread: self.spread,
            // Their outlines lie at all depths of the glass: none hides another's.
            coverage: Fraction::clamped(0.0),
        };
        let wide = Profile::Harvey { width: self.lobe };
        let lobe = |share: f64, profile| Lobe {
            weight: part(share),
            profile,
        };
        Scatter {
            direct,
            lobes: vec![
                lobe(forward - refracted, halo),
                lobe(refracted - veil, wide),
            ],
            veil: part(veil),
            absorbed: part(self.back.get()),
        }
    }
}
