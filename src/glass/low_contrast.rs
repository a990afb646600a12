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

use super::Family;
use super::air::{Air, HONESTY, SOURCE};
use super::strength::Strength;

pub(super) static FAMILY: Family = Family {
    key: "low-contrast",
    name: AIR.name,
    purpose: "Lifts the blacks and lowers contrast without softening.",
    source: SOURCE,
    honesty: HONESTY,
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| AIR.make(strength, options),
};

const AIR: Air = Air {
    name: "Low contrast",
    depth: [0.004, 0.008, 0.015, 0.027, 0.045, 0.065, 0.09, 0.12],
    diameter_um: 3.5,
    step: 0.1,
    refracted: 0.7,
    lobe_deg: 6.0,
    veil: 0.7,
    back: 0.04,
};
