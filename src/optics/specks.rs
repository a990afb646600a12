//! Glass with specks in it.
//!
//! Opaque specks that cover an area fraction c pass (1−c)² undisturbed and diffract c(1−c) (Babinet:
//! the amplitude that goes straight on is 1−c); of the c that strikes them a fraction κ is absorbed
//! and the rest leaves refracted, wider and without colour, part of it over the whole field.
//! `(1−c)² + c(1−c) + (1−κ)c + κc = 1`.
//!
//! Source: the power spectrum of a random binary screen (derived; `tests/checks`, FFT of a mask of
//! overlapping discs of coverage 0.05013 gives 0.902257 direct and 0.047615 diffracted).
//!
//! ```
//! use foreglass::optics::specks::Specks;
//! use foreglass::units::{Degrees, Fraction, Micrometres};
//! let s = Specks {
//!     coverage: Fraction::clamped(0.05013),
//!     absorbing: Fraction::clamped(1.0),
//!     diameter: Micrometres::clamped(15.0),
//!     spread: 0.0,
//!     lobe: Degrees::clamped(3.0),
//!     veil: Fraction::clamped(0.0),
//! }
//! .scatter();
//! assert!((s.direct[1] - 0.902_257).abs() < 5e-5 && (s.scattered()[1] - 0.047_615).abs() < 5e-5);
//! ```

use super::scatter::{Lobe, Profile, Scatter};
use crate::units::{Degrees, Fraction, Micrometres};

/// Specks in or on a glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Specks {
    /// Part of the area that they cover, c.
    pub coverage: Fraction,
    /// Part of what strikes them that is absorbed, κ.
    pub absorbing: Fraction,
    /// Their median diameter, weighted by area.
    pub diameter: Micrometres,
    /// Standard deviation of the logarithm of their diameters.
    pub spread: f64,
    /// Half-width of the lobe of light refracted by them.
    pub lobe: Degrees,
    /// Part of that refracted light that goes over the whole field.
    pub veil: Fraction,
}

impl Specks {
    /// Their account of the light that arrives.
    #[must_use]
    pub fn scatter(&self) -> Scatter {
        let c = self.coverage.get();
        let refracted = (1.0 - self.absorbing.get()) * c;
        let veil = refracted * self.veil.get();
        let halo = Profile::Speck {
            diameter: self.diameter,
            spread: self.spread,
            coverage: self.coverage,
        };
        let lobe = Profile::Harvey { width: self.lobe };
        Scatter {
            direct: [(1.0 - c) * (1.0 - c); 3],
            lobes: vec![
                Lobe::grey(c * (1.0 - c), halo),
                Lobe::grey(refracted - veil, lobe),
            ],
            veil: [veil; 3],
            absorbed: [self.absorbing.get() * c; 3],
        }
    }
}
