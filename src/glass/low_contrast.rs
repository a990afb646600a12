//! Low contrast: a haze so wide that it lifts the blacks and leaves what is sharp alone.
//!
//! Law: [`crate::optics::droplets::Droplets`] so fine that even their diffraction lobe is several degrees
//! wide, and most of what they refract goes over the whole field: next to no halo, lifted blacks. Their
//! size and index are such that all wavelengths lose nearly alike: the veil has the scene's own colour.
//! Strength is the number of droplets.
//!
//! Source: extinction after van de Hulst, see [`crate::optics::droplets`]; no measured figures of such
//! glass were found in print, so size, number and shares are our own estimates.
//!
//! ```
//! use foreglass::glass::Family;
//! let glass = Family::find("low-contrast")?.default_piece();
//! let scatter = glass.law().scatter.as_ref().unwrap();
//! // Of the scattered light, next to none lies within half a degree, and half is veil.
//! let (all, veil) = (scatter.scattered()[1], scatter.veil[1]);
//! assert!(scatter.law().encircled(1, 0.5_f64.to_radians()) < 0.02 * all);
//! assert!((veil / all - 0.49).abs() < 1e-9);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::strength::Strength;
use super::{Family, diffuser};
use crate::optics::droplets::Droplets;
use crate::optics::fit::LEAST_SPECK_SPREAD;
use crate::units::{Degrees, Fraction, Micrometres};

pub(super) static FAMILY: Family = Family {
    key: "low-contrast",
    name: NAME,
    purpose: "Lifts the blacks and lowers contrast without softening.",
    source: "Translucent droplets: direct exp(−τQ), Q = 2 − (4/ρ) sin ρ + (4/ρ²)(1 − cos ρ)",
    honesty: "Modelled, not measured: size, number and shares are our own estimates; light is scattered once.",
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| {
        let glass = droplets(DEPTH[strength.rung()]);
        diffuser::make(NAME, strength, options, glass.scatter())
    },
};

const NAME: &str = "Low contrast";
/// What the droplets would cover at 1/8 to 5, none overlapping.
const DEPTH: [f64; 8] = [0.004, 0.008, 0.015, 0.027, 0.045, 0.065, 0.09, 0.12];
/// Spread of ln d.
const SPREAD: f64 = 0.4;
const _: () = assert!(
    SPREAD >= LEAST_SPECK_SPREAD,
    "rings are no sum of Gaussians"
);

const fn droplets(depth: f64) -> Droplets {
    Droplets {
        depth,
        diameter: Micrometres::clamped(3.5),
        spread: SPREAD,
        step: 0.1,
        refracted: Fraction::clamped(0.7),
        lobe: Degrees::clamped(6.0),
        veil: Fraction::clamped(0.7),
        back: Fraction::clamped(0.04),
    }
}
