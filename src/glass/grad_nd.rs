//! Graduated neutral density: dense at one end, clear at the other; also as a stripe across the
//! middle, or changing over the whole glass.
//!
//! Law: τ₀·10^−D(h) with h the distance across the edge on the glass, zero where the density is half
//! its peak and positive towards the dense end; coated faces. What the picture shows is the mean of
//! that transmittance over the footprint of the entrance pupil ([`crate::optics::pupil`]): at a wide
//! stop even a hard edge is soft.
//!
//! Edges: hard changes at once; medium and soft change linearly in density over 20 and 45 mm;
//! reverse starts hard at its peak and falls to a third of it over 40 mm. A stripe is dense in a band
//! across the middle, 20 mm wide at half its density, with flanks that are linear in density over
//! 12 mm: 8 mm of full density, clear from 16 mm off its middle. An attenuator has no clear side in
//! use: its density is linear from nothing at one end of the glass to the peak at the other (101.6 mm
//! on a 4-inch glass), and what it takes on the axis counts as its loss. The lengths are our own
//! estimates.
//!
//! ```
//! use foreglass::glass::Family;
//! let grad = Family::find("grad-nd")?.default_piece();
//! let ramp = grad.law().ramp.as_ref().unwrap();
//! assert_eq!(grad.name(), "Grad ND 0.6 soft");
//! assert!((ramp.density(0.0) - 0.3).abs() < 1e-12 && ramp.length() == 45.0);
//! let options = serde_json::json!({"edge": "attenuator"}).as_object().cloned().unwrap();
//! let grad = Family::find("grad-nd")?.piece(None, &options)?;
//! // An inch above the middle of four inches: three quarters of 0.6.
//! assert!((grad.law().ramp.as_ref().unwrap().density(25.4) - 0.45).abs() < 1e-12);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::edge::Edge;
use super::law::{COATED, Law};
use super::{Family, Made, density_option, read_options};
use crate::optics::pupil::Ramp;
use crate::units::Stops;

const LOW: f64 = 0.1;
const HIGH: f64 = 2.1;
/// Width of a stripe where it has half its density, and of its flanks.
const STRIPE_MM: f64 = 20.0;
const FLANK_MM: f64 = 12.0;
/// A four-inch glass from end to end; a larger one is told by its mount.
const GLASS_MM: f64 = 101.6;

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
            help: "How the density changes across the glass: at an edge, in a stripe across the \
                   middle, or from end to end (attenuator).",
            kind: Kind::Choice {
                words: &["soft", "medium", "hard", "reverse", "stripe", "attenuator"],
                default: Some("soft"),
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let density = density_option(o.density, LOW, HIGH)?;
        let peak = density.get();
        let edged = |edge: Edge| (format!("Grad ND {peak} {}", edge.word()), edge.ramp(peak));
        let (name, ramp) = match o.edge {
            Change::Soft => edged(Edge::Soft),
            Change::Medium => edged(Edge::Medium),
            Change::Hard => edged(Edge::Hard),
            Change::Reverse => {
                let ramp = Ramp::reverse(peak, peak / 3.0, 40.0);
                (format!("Grad ND {peak} reverse"), ramp)
            }
            Change::Stripe => {
                let ramp = Ramp::stripe(peak, STRIPE_MM, FLANK_MM);
                (format!("ND stripe {peak}"), ramp)
            }
            Change::Attenuator => {
                let ramp = Ramp::attenuator(peak, GLASS_MM);
                (format!("ND attenuator {peak}"), ramp)
            }
        };
        Ok(Made {
            law: Law {
                ramp: Some(ramp),
                ..Law::neutral(COATED)
            },
            name,
            nominal_loss: Some(Stops::ZERO),
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    density: f64,
    edge: Change,
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Change {
    Soft,
    Medium,
    Hard,
    Reverse,
    Stripe,
    Attenuator,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            density: 0.6,
            edge: Change::Soft,
        }
    }
}
