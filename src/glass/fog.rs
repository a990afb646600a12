//! Fog: fine droplets in the glass, a wide glow about every lamp and mist over the whole picture.
//!
//! Law: [`crate::optics::droplets::Droplets`]: exp(−τQ) of each wavelength stays in place, diffraction by
//! the droplets is a strong lobe of some degrees, what they refract goes wider and partly over the whole
//! field. Droplets this fine hold back blue more than red: lamps keep a slightly warm core in a cooler
//! glow, as in real fog of such droplets. Strength is the number of droplets. Light that meets two of
//! them is counted once: at the strong end real glass is a little wider than this.
//!
//! Source: extinction after van de Hulst, see [`crate::optics::droplets`]; no measured figures of such
//! glass were found in print, so size, number and shares are our own estimates.
//!
//! ```
//! use foreglass::glass::Family;
//! let fog = Family::find("fog")?.default_piece();
//! let direct = fog.law().scatter.as_ref().unwrap().direct;
//! // The core is warm: red stays, blue goes.
//! assert!(direct[0] > direct[1] && direct[1] > direct[2]);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::strength::Strength;
use super::{Family, diffuser};
use crate::optics::droplets::Droplets;
use crate::optics::fit::LEAST_SPECK_SPREAD;
use crate::units::{Degrees, Fraction, Micrometres};

pub(super) static FAMILY: Family = Family {
    key: "fog",
    name: NAME,
    purpose: "A wide glow about lamps and pale air over everything, like fog.",
    source: "Translucent droplets: direct exp(−τQ), Q = 2 − (4/ρ) sin ρ + (4/ρ²)(1 − cos ρ)",
    honesty: "Modelled, not measured: size, number and shares are our own estimates; light is scattered once.",
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| {
        let glass = droplets(DEPTH[strength.rung()]);
        diffuser::make(NAME, strength, options, glass.scatter())
    },
};

const NAME: &str = "Fog";
/// What the droplets would cover at 1/8 to 5, none overlapping.
const DEPTH: [f64; 8] = [0.013, 0.026, 0.05, 0.09, 0.145, 0.205, 0.27, 0.34];
/// Spread of ln d.
const SPREAD: f64 = 0.4;
const _: () = assert!(
    SPREAD >= LEAST_SPECK_SPREAD,
    "rings are no sum of Gaussians"
);

const fn droplets(depth: f64) -> Droplets {
    Droplets {
        depth,
        diameter: Micrometres::clamped(8.0),
        spread: SPREAD,
        step: 0.033,
        refracted: Fraction::clamped(0.45),
        lobe: Degrees::clamped(7.0),
        veil: Fraction::clamped(0.4),
        back: Fraction::clamped(0.03),
    }
}
