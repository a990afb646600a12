//! Neutral density: the same loss at every wavelength.
//!
//! Law: τ = 10^−D; the labelled density includes the faces. The trade reads 0.3 as one stop; it is
//! 0.9966. A body-dyed glass is denser off the axis, D/√(1 − sin²θ/n²), which the ledger tells; the
//! picture uses the axis value.
//!
//! Glass that also cuts infrared: τ = 10^−D / (1 + exp[(λ − 705 nm)/8 nm]), half passed at 705 nm and
//! 96 % at 680 nm. Pictures end at 780 nm and an eye's red is over by 700, so that a picture shows
//! next to nothing of it; what it does is keep the infrared from the sensor. The place and the
//! steepness of the cut are our own estimates.
//!
//! Source: D = −log₁₀ τ (ISO 5-2, from memory); `tests/checks/nd.csv`.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let nd = Family::find("nd")?.default_piece();
//! let scene = illuminant::scene(Kelvin::clamped(5600.0));
//! assert_eq!(nd.name(), "ND 0.6");
//! assert!((nd.law().flat_loss(&scene).get() - 1.993_157).abs() < 1e-5);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{Law, TRADE_STOP};
use super::{Family, Made, density_option, read_options};
use crate::colour::spectrum::Spectrum;
use crate::units::Stops;

/// Lightest and heaviest glass taken.
const LOW: f64 = 0.1;
const HIGH: f64 = 4.0;
/// Where glass that cuts infrared passes half of what it passes below, and how steeply, nm.
const CUT_NM: f64 = 705.0;
const STEEPNESS_NM: f64 = 8.0;

pub(super) static FAMILY: Family = Family {
    key: "nd",
    name: "ND",
    purpose: "Takes light and leaves its colour: a wider stop in the same light.",
    source: "D = −log10 of transmittance; stops = 3.3219 D; nominal loss is the trade's D / 0.3",
    honesty: "Modelled as perfectly neutral; strong real glass drifts, and leaks infrared unless it \
              cuts it. Where it cuts is our own estimate.",
    strengths: &[],
    controls: &[
        Control {
            name: "density",
            label: "Density",
            help: "Optical density; 0.3 is read as one stop.",
            kind: Kind::Number {
                unit: "",
                low: LOW,
                high: HIGH,
                default: Some(0.6),
                stock: &[0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1],
            },
        },
        Control {
            name: "infrared",
            label: "Infrared",
            help: "Whether infrared passes the glass or is cut with the rest.",
            kind: Kind::Choice {
                words: &["pass", "cut"],
                default: Some("pass"),
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let density = density_option(o.density, LOW, HIGH)?;
        let (through, cuts) = (density.transmittance(), o.infrared == Infrared::Cut);
        let tau = if cuts {
            cut(through)
        } else {
            Spectrum::constant(through)
        };
        let also = if cuts { " IR cut" } else { "" };
        Ok(Made {
            law: Law {
                tau,
                stops_infrared: cuts,
                ..Law::neutral(1.0)
            },
            name: format!("ND {}{also}", density.get()),
            nominal_loss: Some(Stops::clamped(density.get() / TRADE_STOP)),
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    density: f64,
    infrared: Infrared,
}

#[derive(serde::Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
enum Infrared {
    Pass,
    Cut,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            density: 0.6,
            infrared: Infrared::Pass,
        }
    }
}

fn cut(through: f64) -> Spectrum {
    Spectrum::from_fn(|wavelength| {
        through / (1.0 + ((wavelength.get() - CUT_NM) / STEEPNESS_NM).exp())
    })
}
