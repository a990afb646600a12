//! How many specks, threads or lines stand before the pupil: where they are few, what a pixel sees is not
//! the law's mean.
//!
//! Of specks that cover c of the area, N = c (D/d)² stand in a pupil of diameter D, and the halo of one
//! lamp differs from that of the next by 1/√N. Sizes spread log-normally count as fewer: the large ones
//! make most of the halo, `N e^{−2s²}`. Of threads or lines, D/p stand across it.
//!
//! Source: the noise of N independent contributions; worked values of the reference tables
//! (D = 17.9 mm, d = 0.05 mm, c = 0.05: N = 6408; D = 4.5 mm, d = 0.2 mm: N = 25).
//!
//! ```
//! use foreglass::optics::grain::Grain;
//! use foreglass::optics::scatter::{Lobe, Profile};
//! use foreglass::units::{Fraction, Micrometres};
//! let (diameter, coverage) = (Micrometres::clamped(200.0), Fraction::clamped(0.05));
//! let profile = Profile::Speck { diameter, spread: 0.0, coverage };
//! let lobe = Lobe::grey(0.05 * 0.95, profile);
//! match Grain::of(&lobe, 4.5) {
//!     Some(Grain::Specks(n)) => assert!((n - 25.3).abs() < 0.1),
//!     other => panic!("{other:?}"),
//! }
//! ```

use super::scatter::{Lobe, Profile, luminance};

/// How coarse a glass is against a pupil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Grain {
    /// So many specks in it.
    Specks(f64),
    /// So many lines across it.
    Lines(f64),
    /// So many threads across it.
    Threads(f64),
}

impl Grain {
    /// Of one lobe's makers in a footprint of `diameter_mm` on the glass. None for light that is not
    /// told by what makes it.
    #[must_use]
    pub fn of(lobe: &Lobe, diameter_mm: f64) -> Option<Self> {
        let um = 1e3 * diameter_mm;
        match lobe.profile {
            Profile::Speck {
                diameter,
                spread,
                coverage,
            } => {
                // Sparse specks tell no coverage: their halo is c(1−c) of the light.
                let part = luminance(lobe.weight).clamp(0.0, 0.25);
                let sparse = 0.5 * (1.0 - (1.0 - 4.0 * part).sqrt());
                let covered = if coverage.get() > 0.0 {
                    coverage.get()
                } else {
                    sparse
                };
                let fewer = (-2.0 * spread * spread).exp();
                Some(Self::Specks(
                    covered * fewer * (um / diameter.get()).powi(2),
                ))
            }
            Profile::Lines(lines) => Some(Self::Lines(um / lines.pitch.get())),
            Profile::Net(net) => Some(Self::Threads(um / net.pitch.get())),
            _ => None,
        }
    }

    /// How much fewer than enough they are: over 1 the unevenness may show.
    #[must_use]
    pub fn coarseness(self) -> f64 {
        match self {
            Self::Specks(n) => ENOUGH_SPECKS / n.max(1e-9),
            Self::Lines(n) | Self::Threads(n) => ENOUGH_LINES / n.max(1e-9),
        }
    }
}

/// Specks from which a halo is even to 10 %.
const ENOUGH_SPECKS: f64 = 100.0;
/// Lines or threads across the pupil from which the nearest of them is not told from the rest (our own
/// estimate).
const ENOUGH_LINES: f64 = 5.0;
