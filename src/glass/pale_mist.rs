//! Pale mist: diffusion by pale specks, whose glow comes with lifted blacks.
//!
//! Law: [`Specks`] with κ near 0: what strikes a speck leaves again, wider than the halo and without
//! colour, part of it over the whole field, and that lifts the blacks. Strength is
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

use super::law::{COATED, Law};
use super::strength::Strength;
use super::{Family, Made, read_options};
use crate::optics::specks::Specks;
use crate::units::{Degrees, Fraction, Micrometres};

pub(super) static FAMILY: Family = Family {
    key: "pale-mist",
    name: "Pale mist",
    purpose: "Glow and an airy lift of the blacks: less contrast, softer skin.",
    source: "Opaque specks: direct (1−c)², diffracted c(1−c), Babinet; halo [2J₁(u)/u]²",
    honesty: "Modelled, not measured: coverage and speck size are our own estimates.",
    strengths: STRENGTHS,
    controls: &[],
    make: |strength, options| {
        let _: Options = read_options(options)?;
        let specks = Specks {
            coverage: Fraction::clamped(COVERAGE[strength.rung()]),
            absorbing: Fraction::clamped(0.08),
            diameter: Micrometres::clamped(12.0),
            spread: 0.45,
            lobe: Degrees::clamped(5.0),
            veil: Fraction::clamped(0.35),
        };
        Ok(Made {
            law: Law { scatter: Some(specks.scatter()), ..Law::neutral(COATED) },
            name: format!("Pale mist {strength}"),
            nominal_loss: None,
        })
    },
};

const STRENGTHS: &[Strength] = Strength::ALL.split_at(COVERAGE.len()).0;

/// Area covered at 1/8, 1/4, 1/2, 1, 2.
const COVERAGE: [f64; 5] = [0.015, 0.03, 0.06, 0.11, 0.18];

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Options {}
