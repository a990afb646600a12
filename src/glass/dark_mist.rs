//! Dark mist: diffusion by dark specks, which glow without lifting the blacks much.
//!
//! Law: [`crate::optics::specks::Specks`] with κ near 1: what is not diffracted is mostly absorbed, so
//! that the halo stays and the veil does not. Halo radius follows speck size, wavelength and focal length alone; strength is
//! the area covered.
//!
//! Source: Babinet fractions, see [`crate::optics::specks`]; no measured scattering of camera
//! diffusion was found in print, so coverage and sizes are our own estimates.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let mist = Family::find("dark-mist")?.default_piece();
//! let f = mist.law().figures(&illuminant::scene(Kelvin::clamped(5600.0)));
//! // Strength 1: c = 0.11, κ = 0.92, coated faces 0.99.
//! assert!((f.direct - 0.99 * 0.89 * 0.89).abs() < 1e-9);
//! assert!((f.absorbed - (1.0 - 0.99 * (1.0 - 0.92 * 0.11))).abs() < 1e-9);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::Family;
use super::mist::Mist;
use super::strength::Strength;

pub(super) static FAMILY: Family = Family {
    key: "dark-mist",
    name: MIST.name,
    purpose: "Glow around lamps and windows, softer skin, blacks kept down.",
    source: "Opaque specks: direct (1−c)², diffracted c(1−c), Babinet; halo [2J₁(u)/u]²",
    honesty: "Modelled, not measured: coverage and speck size are our own estimates.",
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| MIST.make(strength, options),
};

const MIST: Mist = Mist {
    name: "Dark mist",
    absorbing: 0.92,
    diameter_um: 15.0,
    lobe_deg: 4.0,
    veil: 0.3,
};
