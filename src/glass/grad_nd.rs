//! Graduated neutral density: dense at one end, clear at the other.
//!
//! Law: τ₀·10^−D(h) with h the distance across the edge on the glass, zero where the density is half
//! its peak and positive towards the dense end; coated faces. What the picture shows is the mean of
//! that transmittance over the footprint of the entrance pupil ([`crate::optics::pupil`]): at a wide
//! stop even a hard edge is soft.
//!
//! Edges: hard changes at once; medium and soft change linearly in density over 20 and 45 mm;
//! reverse starts hard at its peak and falls to a third of it over 40 mm. The lengths are our own
//! estimates.
//!
//! ```
//! use foreglass::glass::Family;
//! let grad = Family::find("grad-nd")?.default_piece();
//! let ramp = grad.law().ramp.as_ref().unwrap();
//! assert_eq!(grad.name(), "Grad ND 0.6 soft");
//! assert!((ramp.density(0.0) - 0.3).abs() < 1e-12 && ramp.length() == 45.0);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{COATED, Law};
use super::{Family, Made, density_option, read_options};
use crate::optics::pupil::Ramp;
use crate::units::Stops;

const LOW: f64 = 0.1;
const HIGH: f64 = 2.1;

pub(super) static FAMILY: Family = Family {
    key: "grad-nd",
    name: "Grad ND",
    purpose: "Holds back a bright sky or window at one side of the picture.",
    source: "Mean of linear transmittance over the pupil's footprint; D linear across the ramp",
    honesty: "Densities as labelled; the lengths of the ramps are our own estimates.",
    strengths: &[],
    controls: &[
        Control {
            name: "density",
            label: "Density",
            help: "Peak optical density; 0.3 is read as one stop.",
            kind: Kind::Number {
                unit: "",
                low: LOW,
                high: HIGH,
                default: Some(0.6),
                stock: &[0.3, 0.6, 0.9, 1.2],
            },
        },
        Control {
            name: "edge",
            label: "Edge",
            help: "How fast the density changes across the glass.",
            kind: Kind::Choice {
                words: &["soft", "medium", "hard", "reverse"],
                default: Some("soft"),
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let density = density_option(o.density, LOW, HIGH)?;
        let peak = density.get();
        let (edge, ramp) = match o.edge {
            Edge::Soft => ("soft", Ramp::linear(peak, 45.0)),
            Edge::Medium => ("medium", Ramp::linear(peak, 20.0)),
            Edge::Hard => ("hard", Ramp::linear(peak, 0.0)),
            Edge::Reverse => ("reverse", Ramp::reverse(peak, peak / 3.0, 40.0)),
        };
        Ok(Made {
            law: Law { ramp: Some(ramp), ..Law::neutral(COATED) },
            name: format!("Grad ND {peak} {edge}"),
            nominal_loss: Some(Stops::ZERO),
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    density: f64,
    edge: Edge,
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Edge {
    Soft,
    Medium,
    Hard,
    Reverse,
}

impl Default for Options {
    fn default() -> Self {
        Self { density: 0.6, edge: Edge::Soft }
    }
}
