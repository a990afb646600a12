//! Streak: ribs in one direction, which draw one long thin line across every lamp.
//!
//! Law: [`crate::optics::engraved::Engraved`] with one direction. The light that a rib refracts makes the
//! line, level where the stage is not turned; it has passed the rib's own glass, so that a tinted one
//! colours the line and absorbs the rest. What a rib leaves out diffracts into the line's bright middle,
//! without tint.
//!
//! A tint is a smooth block dye: `τ = t₀ + (t₁ − t₀)/(1 + exp(±(λ − λ₀)/12 nm))`, each channel's part its
//! mean over the channel's band.
//!
//! Source: see [`crate::optics::engraved`]; coverage, width, angle and tints are our own estimates.
//!
//! ```
//! use foreglass::glass::Family;
//! use serde_json::json;
//! let options = json!({"tint": "blue"});
//! let blue = Family::find("streak")?.piece(None, options.as_object().unwrap())?;
//! assert_eq!(blue.name(), "Streak 1 blue");
//! let streak = &blue.law().scatter.as_ref().unwrap().lobes[1];
//! assert!(streak.weight[2] > 3.0 * streak.weight[0]); // the line is blue
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{COATED, Law};
use super::strength::Strength;
use super::{Family, Made, read_options};
use crate::colour;
use crate::optics::engraved::Engraved;
use crate::units::{Degrees, Fraction, Micrometres};

/// Part covered by ribs, at 1/8 to 5.
const COVERAGE: [f64; 8] = [0.0015, 0.003, 0.007, 0.016, 0.035, 0.06, 0.09, 0.13];
/// Width of a rib, µm: a drawn fibre.
const WIDTH_UM: f64 = 20.0;
const SPREAD: f64 = 0.3;
/// Part of what strikes a rib that clear glass sends on.
const KEPT: f64 = 0.9;
/// Median half-angle of that light, and the spread of its logarithm: a rib is not the same from its
/// ridge to its foot, which gives the line its long thin ends.
const ANGLE_DEG: f64 = 9.0;
const ANGLE_SPREAD: f64 = 0.8;
/// Part of that light that goes over the whole field.
const VEIL: f64 = 0.1;
/// How far the line strays aside, degrees.
const WAVER_DEG: f64 = 0.015;

pub(super) static FAMILY: Family = Family {
    key: "streak",
    name: "Streak",
    purpose: "One long thin line across every lamp, level or turned, of the glass's colour.",
    source: "Ribs covering c: direct (1−c)², diffracted c(1−c), refracted evenly over a log-normal spread \
             of half-angles; tint averaged over each channel's band",
    honesty: "Modelled, not measured: coverage, width, angles and tints are our own estimates.",
    strengths: &Strength::ALL,
    controls: &[Control {
        name: "tint",
        label: "Tint",
        help: "Colour of the ribs, and so of the line.",
        kind: Kind::Choice {
            words: &["neutral", "blue", "amber", "rose", "green"],
            default: Some("neutral"),
        },
    }],
    make: |strength, options| {
        let o: Options = read_options(options)?;
        let tint = o.tint.kept();
        let ribs = Engraved {
            directions: 1,
            first: Degrees::clamped(0.0),
            coverage: Fraction::clamped(COVERAGE[strength.rung()]),
            width: Micrometres::clamped(WIDTH_UM),
            spread: SPREAD,
            kept: tint.map(|t| KEPT * t),
            angle: Degrees::clamped(ANGLE_DEG),
            angle_spread: ANGLE_SPREAD,
            veil: Fraction::clamped(VEIL),
            waver: Degrees::clamped(WAVER_DEG),
        };
        let name = match o.tint {
            Tint::Neutral => format!("Streak {strength}"),
            tint => format!("Streak {strength} {}", tint.word()),
        };
        Ok(Made {
            law: Law {
                scatter: Some(ribs.scatter()),
                ..Law::neutral(COATED)
            },
            name,
            nominal_loss: None,
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    tint: Tint,
}

#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Tint {
    Neutral,
    Blue,
    Amber,
    Rose,
    Green,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            tint: Tint::Neutral,
        }
    }
}

impl Tint {
    const fn word(self) -> &'static str {
        match self {
            Self::Neutral => "neutral",
            Self::Blue => "blue",
            Self::Amber => "amber",
            Self::Rose => "rose",
            Self::Green => "green",
        }
    }

    /// Part of each channel that passes the ribs' glass.
    fn kept(self) -> [f64; 3] {
        colour::bands().each_ref().map(|band| {
            let samples = band.iter();
            samples
                .map(|(nm, w)| w * self.transmittance(nm.get()))
                .sum()
        })
    }

    fn transmittance(self, nm: f64) -> f64 {
        // 1 above the edge, 0 below it.
        let above = |edge: f64| 1.0 / (1.0 + (-(nm - edge) / 12.0).exp());
        match self {
            Self::Neutral => 1.0,
            Self::Blue => 0.02 + 0.9 * (1.0 - above(505.0)),
            Self::Amber => 0.02 + 0.93 * above(545.0),
            Self::Rose => 0.05 + 0.88 * (above(590.0) + 0.75 * (1.0 - above(480.0))),
            Self::Green => 0.03 + 0.87 * (above(495.0) - above(575.0)),
        }
    }
}
