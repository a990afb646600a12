//! What the mists share: a ladder of coverage, and glass made of specks.
//!
//! Two mists of one strength diffract the same part of the light, so that they can be compared; what
//! sets them apart is what becomes of the rest.

use super::law::{COATED, Law};
use super::strength::Strength;
use super::{Made, OptionError, read_options};
use crate::optics::specks::Specks;
use crate::units::{Degrees, Fraction, Micrometres};
use serde_json::{Map, Value};

/// Area covered at 1/8, 1/4, 1/2, 1, 2.
const COVERAGE: [f64; 5] = [0.015, 0.03, 0.06, 0.11, 0.18];
/// Spread of ln d.
const SPREAD: f64 = 0.45;

/// The strengths that mists come in.
pub(super) const STRENGTHS: &[Strength] = Strength::ALL.split_at(COVERAGE.len()).0;

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
        let _: Options = read_options(options)?;
        let specks = Specks {
            coverage: Fraction::clamped(COVERAGE[strength.rung()]),
            absorbing: Fraction::clamped(self.absorbing),
            diameter: Micrometres::clamped(self.diameter_um),
            spread: SPREAD,
            lobe: Degrees::clamped(self.lobe_deg),
            veil: Fraction::clamped(self.veil),
        };
        Ok(Made {
            law: Law {
                scatter: Some(specks.scatter()),
                ..Law::neutral(COATED)
            },
            name: format!("{} {strength}", self.name),
            nominal_loss: None,
        })
    }
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Options {}
