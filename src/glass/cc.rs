//! Colour compensating glass: one of six colours, named by its peak density in hundredths.
//!
//! Law: τ = τ₀·10^(−D·a(λ)), D = nn/100, τ₀ = 0.9183 for uncoated faces. The light is divided into
//! three bands, blue below 495 nm, green to 590 nm, red above, with flanks of 40 nm that add up to 1.
//! Yellow dye absorbs blue, magenta dye green, cyan dye red; cyan dye also absorbs 0.22 of its peak
//! in the green, as real ones do. Red is yellow and magenta dye, green is yellow and cyan, blue is
//! magenta and cyan. The number is the glass's peak: where two dyes would pass it (blue glass, in the
//! green) the glass is dyed to its number and no deeper.
//!
//! Sources: the number is the density to the complementary colour, and CC20Y + CC20M = CC20R
//! (handbooks); factors with surfaces, `tests/checks/cc_filters.csv`. Pure blocks leave green and
//! cyan 0.33 stop too light at 50; the side absorption is fitted to those two. Under 5500 K the
//! model is then within 0.15 stop of each of the 36 factors, which are printed to a tenth, and 0.06
//! RMS. The edges of the bands and their flanks are our own estimates.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::{Kelvin, Nanometres}};
//! let options = serde_json::json!({"colour": "magenta", "density": "20"});
//! let glass = Family::find("cc")?.piece(None, options.as_object().unwrap())?;
//! assert_eq!(glass.name(), "CC20M");
//! let green = glass.law().tau.at(Nanometres::clamped(545.0));
//! assert!((-(green / 0.9183).log10() - 0.20).abs() < 1e-12); // the number
//! let loss = glass.law().flat_loss(&illuminant::planckian(Kelvin::clamped(5500.0)));
//! assert!((loss.get() - 0.567).abs() < 0.002); // printed: factor 1.5, 0.585 stop
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{Law, UNCOATED};
use super::{Family, Made, dye, read_options, refuse};
use crate::colour::spectrum::Spectrum;
use crate::units::Stops;

/// Where blue becomes green and green red, nm, and the width over which they do.
const EDGES: [f64; 2] = [495.0, 590.0];
const FLANK: f64 = 40.0;
/// Density of cyan dye in the green, over its peak.
const CYAN_IN_GREEN: f64 = 0.22;

/// Word, letter, density in the blue, green and red over the peak, and the printed factors at 05, 10,
/// 20, 30, 40, 50.
const COLOURS: [(&str, &str, [f64; 3], [f64; 6]); 6] = [
    (
        "cyan",
        "C",
        [0.0, CYAN_IN_GREEN, 1.0],
        [1.1, 1.2, 1.3, 1.4, 1.5, 1.6],
    ),
    (
        "magenta",
        "M",
        [0.0, 1.0, 0.0],
        [1.2, 1.3, 1.5, 1.7, 1.9, 2.1],
    ),
    (
        "yellow",
        "Y",
        [1.0, 0.0, 0.0],
        [1.1, 1.1, 1.1, 1.1, 1.1, 1.1],
    ),
    ("red", "R", [1.0, 1.0, 0.0], [1.2, 1.3, 1.5, 1.7, 1.9, 2.2]),
    (
        "green",
        "G",
        [1.0, CYAN_IN_GREEN, 1.0],
        [1.1, 1.2, 1.3, 1.4, 1.5, 1.7],
    ),
    ("blue", "B", [0.0, 1.0, 1.0], [1.1, 1.3, 1.6, 2.0, 2.4, 2.9]),
];
const WORDS: [&str; COLOURS.len()] = {
    let mut words = [""; COLOURS.len()];
    let mut i = 0;
    while i < words.len() {
        words[i] = COLOURS[i].0;
        i += 1;
    }
    words
};

/// Trade number, density, and its place among the printed factors; None where none is printed.
const NUMBERS: [(&str, f64, Option<usize>); 8] = [
    ("025", 0.025, None),
    ("05", 0.05, Some(0)),
    ("10", 0.10, Some(1)),
    ("15", 0.15, None),
    ("20", 0.20, Some(2)),
    ("30", 0.30, Some(3)),
    ("40", 0.40, Some(4)),
    ("50", 0.50, Some(5)),
];
const DENSITIES: [&str; NUMBERS.len()] = {
    let mut words = [""; NUMBERS.len()];
    let mut i = 0;
    while i < words.len() {
        words[i] = NUMBERS[i].0;
        i += 1;
    }
    words
};
const COLOUR: &str = "magenta";
const DENSITY: &str = "10";

pub(super) static FAMILY: Family = Family {
    key: "cc",
    name: "CC",
    purpose: "Takes a cast away, or gives one: cyan, magenta, yellow, red, green, blue.",
    source: "Dyes of peak density nn/100 in three bands; nominal losses from printed factor tables",
    honesty: "Modelled bands, our own estimate: within 0.15 stop of printed factors in daylight.",
    strengths: &[],
    controls: &[
        Control {
            name: "colour",
            label: "Colour",
            help: "The colour of the glass; it absorbs the opposite one.",
            kind: Kind::Choice {
                words: &WORDS,
                default: Some(COLOUR),
            },
        },
        Control {
            name: "density",
            label: "Density",
            help: "Peak density in hundredths, as the trade numbers it: 20 is 0.20.",
            kind: Kind::Choice {
                words: &DENSITIES,
                default: Some(DENSITY),
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let colour = o.colour.as_deref().unwrap_or(COLOUR);
        let number = o.density.as_deref().unwrap_or(DENSITY);
        let (_, letter, shares, factors) =
            COLOURS.iter().find(|row| row.0 == colour).ok_or_else(|| {
                let known = WORDS.join(", ");
                refuse(
                    "colour",
                    format!("\"{colour}\" is not a CC colour: {known}"),
                )
            })?;
        let (_, density, printed) =
            NUMBERS.iter().find(|row| row.0 == number).ok_or_else(|| {
                let known = DENSITIES.join(", ");
                refuse(
                    "density",
                    format!("\"{number}\" is not a CC density: {known}"),
                )
            })?;
        Ok(Made {
            law: Law {
                tau: tau(*shares, *density),
                ..Law::neutral(1.0)
            },
            name: format!("CC{number}{letter}"),
            nominal_loss: printed.map(|i| Stops::clamped(factors[i].log2())),
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Options {
    colour: Option<String>,
    density: Option<String>,
}

fn tau(shares: [f64; 3], density: f64) -> Spectrum {
    Spectrum::from_fn(|wavelength| {
        let [above_blue, above_green] = EDGES.map(|edge| dye::above(wavelength.get(), edge, FLANK));
        let bands = [1.0 - above_blue, above_blue - above_green, above_green];
        let part: f64 = bands.iter().zip(shares).map(|(b, s)| b * s).sum();
        UNCOATED * libm::exp10(-density * part)
    })
}
