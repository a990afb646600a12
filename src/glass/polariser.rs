//! Polariser: costs a stop and a half, and what else it does depends on light that a still does not
//! tell about.
//!
//! Law: of unpolarised light τ = (k₁ + k₂)/2, the same at every wavelength, faces included; k₁ and k₂
//! are the principal transmittances ([`crate::optics::polarised`]). k₁ is given, or follows from the
//! loss; k₂ is taken as k₁/10 000, a good sheet.
//!
//! A still does not know how light was polarised: reflections from water, glass, wet quays and leaves
//! stay in the picture as they are, and only a look through the glass on the day tells what goes.
//!
//! Source: losses of 1 1/3 to 2 stops are quoted; k₁ 0.75 is 1.415 stops; k₂ from memory.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family};
//! let glass = Family::find("polariser")?.default_piece();
//! assert!((glass.law().flat_loss(&illuminant::d65()).get() - 1.5).abs() < 1e-9);
//! assert!((glass.law().polarises.unwrap().along - 0.7070).abs() < 1e-4);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::Law;
use super::{Family, Made, OptionError, read_options, refuse};
use crate::optics::polarised::Sheet;

/// Losses taken, stops.
const LOSSES: [f64; 2] = [1.0, 3.0];
const LOSS: f64 = 1.5;
/// Principal transmittances taken.
const PRINCIPALS: [f64; 2] = [0.25, 1.0];
/// k₂ over k₁.
const LEAK: f64 = 1e-4;

pub(super) static FAMILY: Family = Family {
    key: "polariser",
    name: "Polariser",
    purpose: "Takes polarised light: reflections, a part of a blue sky. Costs a stop and a half.",
    source: "(k1 + k2)/2 of unpolarised light; losses of 1 1/3 to 2 stops are quoted",
    honesty: "The loss is modelled. A still does not tell which light is polarised: reflections from \
              water, glass, wet ground and leaves are left as they are.",
    strengths: &[],
    controls: &[
        Control {
            name: "loss",
            label: "Loss",
            help: "What it costs of unpolarised light.",
            kind: Kind::Number {
                unit: "stops",
                low: LOSSES[0],
                high: LOSSES[1],
                default: Some(LOSS),
                stock: &[1.33, 1.5, 2.0],
            },
        },
        Control {
            name: "k1",
            label: "k1",
            help: "Part that passes of light polarised along its axis. Instead of the loss.",
            kind: Kind::Number {
                unit: "",
                low: PRINCIPALS[0],
                high: PRINCIPALS[1],
                default: None,
                stock: &[],
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let sheet = o.sheet()?;
        let through = sheet.passed_unpolarised();
        Ok(Made {
            law: Law {
                polarises: Some(sheet),
                caution: Some(
                    "A still does not tell which light is polarised: reflections from water, \
                     glass, wet ground and leaves are left as they are. Look through the \
                     polariser on the day.",
                ),
                ..Law::neutral(through)
            },
            name: "Polariser".to_owned(),
            nominal_loss: None,
        })
    },
};

#[derive(serde::Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Options {
    loss: Option<f64>,
    k1: Option<f64>,
}

impl Options {
    fn sheet(&self) -> Result<Sheet, OptionError> {
        let along = match (self.loss, self.k1) {
            (Some(_), Some(_)) => return Err(refuse("k1", "give the loss or k1, not both")),
            (None, Some(k1)) => within("k1", k1, PRINCIPALS)?,
            (loss, None) => {
                let loss = within("loss", loss.unwrap_or(LOSS), LOSSES)?;
                2.0 * (-loss).exp2() / (1.0 + LEAK)
            }
        };
        Ok(Sheet { along, across: along * LEAK })
    }
}

fn within(name: &str, value: f64, [low, high]: [f64; 2]) -> Result<f64, OptionError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(refuse(name, format!("{name} {value} is out of range: {low} to {high}")))
    }
}
