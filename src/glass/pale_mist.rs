//! Pale mist: diffusion by pale specks, whose glow comes with lifted blacks.
//!
//! Law: [`crate::optics::specks::Specks`] with κ near 0: what strikes a speck leaves again, wider than
//! the halo and without colour, part of it over the whole field, and that lifts the blacks. Strength is
//! the area covered.
//!
//! Source: Babinet fractions, see [`crate::optics::specks`]; no measured scattering of camera
//! diffusion was found in print, so coverage and sizes are our own estimates.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let mist = Family::find("pale-mist")?.default_piece();
//! let f = mist.law().figures(&illuminant::scene(Kelvin::clamped(5600.0)));
//! // Strength 1: c = 0.11, κ = 0.08, coated faces 0.99.
//! assert!((f.direct - 0.99 * 0.89 * 0.89).abs() < 1e-9);
//! assert!((f.absorbed - (1.0 - 0.99 * (1.0 - 0.08 * 0.11))).abs() < 1e-9);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::Family;
use super::mist::Mist;
use super::strength::Strength;

pub(super) static FAMILY: Family = Family {
    key: "pale-mist",
    name: MIST.name,
    purpose: "Glow and an airy lift of the blacks: less contrast, softer skin.",
    source: "Specks, what strikes them refracted: direct (1−c)², diffracted c(1−c), Babinet; halo [2J₁(u)/u]²",
    honesty: "Modelled, not measured: coverage and speck size are our own estimates.",
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| MIST.make(strength, options),
};

const MIST: Mist = Mist {
    name: "Pale mist",
    absorbing: 0.08,
    diameter_um: 12.0,
    lobe_deg: 4.0,
    veil: 0.22,
};
