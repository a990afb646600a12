//! What glass with droplets in it shares: fine translucent ones, a haze in the glass.
//!
//! What sets one such glass apart from another is how large they are, how they refract, and how many there
//! are at each strength.

use super::strength::Strength;
use super::{Made, OptionError, diffuser};
use crate::optics::droplets::Droplets;
use crate::optics::fit::LEAST_SPECK_SPREAD;
use crate::units::{Degrees, Fraction, Micrometres};
use serde_json::{Map, Value};

pub(super) const SOURCE: &str =
    "Translucent droplets: direct exp(−τQ), Q = 2 − (4/ρ) sin ρ + (4/ρ²)(1 − cos ρ)";
pub(super) const HONESTY: &str = "Modelled, not measured: size, number and shares are our own estimates; \
                                  light is scattered once.";

/// Spread of ln d.
const SPREAD: f64 = 0.4;
const _: () = assert!(
    SPREAD >= LEAST_SPECK_SPREAD,
    "rings are no sum of Gaussians"
);

/// What sets one glass of droplets apart from another.
#[derive(Debug, Clone, Copy)]
pub(super) struct Air {
    /// Its name.
    pub(super) name: &'static str,
    /// What the droplets would cover at 1/8 to 5, none overlapping.
    pub(super) depth: [f64; 8],
    /// Their median diameter, µm.
    pub(super) diameter_um: f64,
    /// Refractive index above the glass's.
    pub(super) step: f64,
    /// Part of the scattered light that is refracted.
    pub(super) refracted: f64,
    /// Half-width of the lobe of that light, degrees.
    pub(super) lobe_deg: f64,
    /// Part of it that goes over the whole field.
    pub(super) veil: f64,
    /// Part of the scattered light that is sent back.
    pub(super) back: f64,
}

impl Air {
    /// A piece of it. It takes no options.
    pub(super) fn make(
        &self,
        strength: Strength,
        options: &Map<String, Value>,
    ) -> Result<Made, OptionError> {
        let droplets = Droplets {
            depth: self.depth[strength.rung()],
            diameter: Micrometres::clamped(self.diameter_um),
            spread: SPREAD,
            step: self.step,
            refracted: Fraction::clamped(self.refracted),
            lobe: Degrees::clamped(self.lobe_deg),
            veil: Fraction::clamped(self.veil),
            back: Fraction::clamped(self.back),
        };
        diffuser::make(self.name, strength, options, droplets.scatter())
    }
}
