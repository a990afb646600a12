//! Neutral density: the same loss at every wavelength.
//!
//! Law: τ = 10^−D; the labelled density includes the faces. The trade reads 0.3 as one stop; it is
//! 0.9966. A body-dyed glass is denser off the axis, D/√(1 − sin²θ/n²), which the ledger tells; the
//! picture uses the axis value.
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
use crate::units::Stops;

/// Lightest and heaviest glass taken.
const LOW: f64 = 0.1;
const HIGH: f64 = 4.0;

pub(super) static FAMILY: Family = Family {
    key: "nd",
    name: "ND",
    purpose: "Takes light and leaves its colour: a wider stop in the same light.",
    source: "D = −log10 of transmittance; stops = 3.3219 D; nominal loss is the trade's D / 0.3",
    honesty: "Modelled as perfectly neutral; strong real glass drifts and leaks infrared.",
    strengths: &[],
    controls: &[Control {
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
    }],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let density = density_option(o.density, LOW, HIGH)?;
        Ok(Made {
            law: Law::neutral(density.transmittance()),
            name: format!("ND {}", density.get()),
            nominal_loss: Some(Stops::clamped(density.get() / TRADE_STOP)),
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    density: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { density: 0.6 }
    }
}
