//! Graduated colour: a dye at one end, clear glass at the other.
//!
//! Law: τ₀·10^−[D·s(λ)·w(h)], with w the ramp from 0 to 1 across the edge, s the dye's spectrum of peak 1
//! and D the peak density that `density` tells; coated faces. The colour fades with density, never
//! with an overlay's opacity: half-way up the ramp every wavelength has half its density. What the
//! picture shows is the pupil's mean of that, wavelength by wavelength ([`crate::optics::tint`]).
//!
//! Dyes are built as CC glass is told, from bands that each absorb to a part of the peak, with smooth
//! flanks 40 nm wide where a block dye would jump. Bands and parts are our own estimates:
//!
//! | colour | takes |
//! |---|---|
//! | rose | green, 500–590 nm, and 0.55 of it below |
//! | apricot | blue, below 490 nm, and 0.6 of it to 580 nm |
//! | heather | green and yellow, 510–610 nm, and 0.45 of it above |
//! | slate | red, from 600 nm, 0.72 of it in the green and 0.45 in the blue |
//! | straw | blue, below 490 nm, and 0.3 of it to 570 nm |
//!
//! Source: D = −log₁₀ τ (ISO 5-2, from memory); CC block dyes of peak density nn/100,
//! `tests/checks/cc_filters.csv`.
//!
//! ```
//! use foreglass::glass::Family;
//! use foreglass::units::Nanometres;
//! let grad = Family::find("grad-colour")?.default_piece();
//! let dye = grad.law().dye.as_ref().unwrap();
//! assert_eq!(grad.name(), "Grad rose 0.3 soft");
//! // All of the density in the middle of the green, 0.55 of it in the blue, none in the red.
//! let at = |nm| dye.at(Nanometres::clamped(nm));
//! assert!((at(545.0) - 0.3).abs() < 1e-12 && (at(440.0) - 0.165).abs() < 1e-12 && at(640.0) == 0.0);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::edge::Edge;
use super::law::{COATED, Law};
use super::{Family, Made, density_option, dye, read_options};
use crate::colour::Spectrum;
use crate::units::Stops;

const LOW: f64 = 0.05;
const HIGH: f64 = 1.2;

pub(super) static FAMILY: Family = Family {
    key: "grad-colour",
    name: "Grad colour",
    purpose: "Colours a sky or a foreground and leaves the rest of the picture.",
    source: "Pupil mean of 10^−D(λ)w(h), made a matrix on working light; dyes of smooth bands",
    honesty: "Dyes, densities and ramps are our own modelled estimates, not measured glass.",
    strengths: &[],
    controls: &[
        Control {
            name: "colour",
            label: "Colour",
            help: "Rose is pink, apricot warm orange, heather violet, slate blue-grey, straw pale yellow.",
            kind: Kind::Choice {
                words: &["rose", "apricot", "heather", "slate", "straw"],
                default: Some("rose"),
            },
        },
        Control {
            name: "density",
            label: "Density",
            help: "Optical density of the dye where it takes most.",
            kind: Kind::Number {
                unit: "",
                low: LOW,
                high: HIGH,
                default: Some(0.3),
                stock: &[0.15, 0.3, 0.45, 0.6],
            },
        },
        Control {
            name: "edge",
            label: "Edge",
            help: "How fast the density changes across the glass.",
            kind: Kind::Choice {
                words: &["soft", "medium", "hard"],
                default: Some("soft"),
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let density = density_option(o.density, LOW, HIGH)?.get();
        Ok(Made {
            law: Law {
                ramp: Some(o.edge.ramp(1.0)),
                dye: Some(o.colour.dye().scaled(density)),
                ..Law::neutral(COATED)
            },
            name: format!("Grad {} {density} {}", o.colour.word(), o.edge.word()),
            nominal_loss: Some(Stops::ZERO),
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    colour: Colour,
    density: f64,
    edge: Edge,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            colour: Colour::Rose,
            density: 0.3,
            edge: Edge::Soft,
        }
    }
}

#[derive(Clone, Copy, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Colour {
    Rose,
    Apricot,
    Heather,
    Slate,
    Straw,
}

/// Width of a band's flanks, nm.
const FLANK: f64 = 40.0;
/// Beyond the spectrum's ends, nm.
const BELOW: f64 = 300.0;
const ABOVE: f64 = 900.0;

impl Colour {
    const fn word(self) -> &'static str {
        match self {
            Self::Rose => "rose",
            Self::Apricot => "apricot",
            Self::Heather => "heather",
            Self::Slate => "slate",
            Self::Straw => "straw",
        }
    }

    /// Bands that it absorbs: from and to, nm, and how much of the peak.
    const fn bands(self) -> &'static [(f64, f64, f64)] {
        match self {
            Self::Rose => &[(BELOW, 500.0, 0.55), (500.0, 590.0, 1.0)],
            Self::Apricot => &[(BELOW, 490.0, 1.0), (490.0, 580.0, 0.6)],
            Self::Heather => &[(510.0, 610.0, 1.0), (610.0, ABOVE, 0.45)],
            Self::Slate => &[
                (BELOW, 500.0, 0.45),
                (500.0, 600.0, 0.72),
                (600.0, ABOVE, 1.0),
            ],
            Self::Straw => &[(BELOW, 490.0, 1.0), (490.0, 570.0, 0.3)],
        }
    }

    /// The dye's spectral density, of peak 1.
    fn dye(self) -> Spectrum {
        Spectrum::from_fn(|wavelength| {
            let above = |border: f64| dye::above(wavelength.get(), border, FLANK);
            let bands = self.bands().iter();
            bands
                .map(|&(from, to, part)| part * (above(from) - above(to)))
                .sum()
        })
    }
}
