//! What the mists share: a ladder of coverage, and glass made of specks.
//!
//! Two mists of one strength diffract the same part of the light, so that they can be compared; what
//! sets them apart is what becomes of the rest. From strength 2 on the specks overlap so much that the
//! halo is visibly wider than that of specks by themselves: [`crate::optics::overlap`].

use super::strength::Strength;
use super::{Made, OptionError, diffuser};
use crate::optics::fit::LEAST_SPECK_SPREAD;
use crate::optics::specks::Specks;
use crate::units::{Degrees, Fraction, Micrometres};
use serde_json::{Map, Value};

/// Area covered at 1/8 to 5.
const COVERAGE: [f64; 8] = [0.015, 0.03, 0.06, 0.11, 0.18, 0.25, 0.31, 0.37];
/// Spread of ln d.
const SPREAD: f64 = 0.45;
const _: () = assert!(
    SPREAD >= LEAST_SPECK_SPREAD,
    "rings are no sum of Gaussians"
);

/// What sets one mist apart from another.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mist {
    /// Its name.
    pub(super) name: &'static str,
    /// Part of what strikes a speck that is absorbed, κ.
    pub(super) absorbing: f64,
    /// Median diameter of its specks, µm.
    pub(super) diameter_um: f64,
    /// Half-width of the lobe of light refracted by them, degrees.
    pub(super) lobe_deg: f64,
    /// Part of that light that goes over the whole field.
    pub(super) veil: f64,
}

impl Mist {
    /// A piece of it. A mist takes no options.
    pub(super) fn make(
        &self,
        strength: Strength,
        options: &Map<String, Value>,
    ) -> Result<Made, OptionError> {
        let specks = Specks {
            coverage: Fraction::clamped(COVERAGE[strength.rung()]),
            absorbing: Fraction::clamped(self.absorbing),
            diameter: Micrometres::clamped(self.diameter_um),
            spread: SPREAD,
            lobe: Degrees::clamped(self.lobe_deg),
            veil: Fraction::clamped(self.veil),
        };
        diffuser::make(self.name, strength, options, specks.scatter())
    }
}
