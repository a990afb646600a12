//! Colour conversion and light balancing: the 80 and 85 conversion numbers, the 81 and 82
//! light-balancing ones, and any shift in mireds, alone or with neutral density in the same glass.
//!
//! Law: τ = τ₀·min(1, exp[−c₂·ΔM·10⁻⁶·(1/λ − 1/λ₀)]): a glass whose density is linear in 1/λ turns
//! the light of any Wien radiator into that of another, ΔM mireds away; which is why mireds add.
//! λ₀ is 410 nm for cooling and 640 nm for warming, where a real dye is as clear as it gets;
//! τ₀ = 0.9183 for uncoated faces. Density D in the same glass multiplies τ by 10^−D, so that 85N3
//! loses what 85 and ND 0.3 lose one behind the other.
//!
//! Sources: Wien's law (CODATA 2018 c₂); series numbers and nominal losses as handbooks print them,
//! `tests/checks/filters_handbook.csv`; a measured glass of −120 mireds agrees with λ₀ = 410 nm and
//! uncoated faces to 0.03 stop.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let family = Family::find("balance")?;
//! let options = serde_json::json!({"series": "80A"}).as_object().cloned().unwrap();
//! let blue = family.piece(None, &options)?;
//! let tungsten = illuminant::planckian(Kelvin::clamped(3200.0));
//! assert!((blue.law().flat_loss(&tungsten).get() - 1.911).abs() < 0.005); // handbooks: 2 stops
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{COATED, Law, TRADE_STOP, UNCOATED};
use super::{Family, Made, OptionError, density_option, read_options, refuse, within};
use crate::colour::illuminant::C2;
use crate::colour::spectrum::Spectrum;
use crate::units::{Density, Mireds, Stops};

/// Largest shift taken, in mireds either way.
const LIMIT: f64 = 250.0;

/// Number, shift in mireds, density beside it, loss in stops as handbooks print it.
const SERIES: [(&str, f64, f64, f64); 20] = [
    ("80A", -131.0, 0.0, 2.0),
    ("80B", -112.0, 0.0, 5.0 / 3.0),
    ("80C", -81.0, 0.0, 1.0),
    ("80D", -56.0, 0.0, 2.0 / 3.0),
    ("82", -10.0, 0.0, 1.0 / 3.0),
    ("82A", -21.0, 0.0, 1.0 / 3.0),
    ("82B", -32.0, 0.0, 2.0 / 3.0),
    ("82C", -45.0, 0.0, 2.0 / 3.0),
    ("81", 9.0, 0.0, 1.0 / 3.0),
    ("81A", 18.0, 0.0, 1.0 / 3.0),
    ("81B", 27.0, 0.0, 1.0 / 3.0),
    ("81C", 35.0, 0.0, 1.0 / 3.0),
    ("81D", 42.0, 0.0, 2.0 / 3.0),
    ("81EF", 52.0, 0.0, 2.0 / 3.0),
    ("85C", 81.0, 0.0, 1.0 / 3.0),
    ("85", 112.0, 0.0, 2.0 / 3.0),
    ("85B", 131.0, 0.0, 2.0 / 3.0),
    ("85N3", 112.0, 0.3, 5.0 / 3.0),
    ("85N6", 112.0, 0.6, 8.0 / 3.0),
    ("85N9", 112.0, 0.9, 11.0 / 3.0),
];
const NUMBERS: [&str; SERIES.len()] = {
    let mut numbers = [""; SERIES.len()];
    let mut i = 0;
    while i < numbers.len() {
        numbers[i] = SERIES[i].0;
        i += 1;
    }
    numbers
};
/// Neutral density taken in the same glass.
const LOW: f64 = 0.1;
const HIGH: f64 = 2.1;
const DEFAULT: &str = "81A";

pub(super) static FAMILY: Family = Family {
    key: "balance",
    name: "Balance",
    purpose: "Warms or cools the light: conversion (80, 85) and light balancing (81, 82), alone or with ND.",
    source: "Density linear in 1/λ (Wien): mireds add; nominal losses from handbook tables",
    honesty: "Modelled as an ideal dye; real 81D and 81EF glass is about 0.3 stop darker.",
    strengths: &[],
    controls: &[
        Control {
            name: "series",
            label: "Number",
            help: "Conversion or light-balancing number; leave it out to give mireds.",
            kind: Kind::Choice {
                words: &NUMBERS,
                default: Some(DEFAULT),
            },
        },
        Control {
            name: "mireds",
            label: "Shift",
            help: "A free shift: positive warms, negative cools. Instead of a number.",
            kind: Kind::Number {
                unit: "mireds",
                low: -LIMIT,
                high: LIMIT,
                default: None,
                stock: &[],
            },
        },
        Control {
            name: "density",
            label: "Density",
            help: "Neutral density in the same glass, beside the number or the shift.",
            kind: Kind::Number {
                unit: "",
                low: LOW,
                high: HIGH,
                default: None,
                stock: &[],
            },
        },
        Control {
            name: "coated",
            label: "Coated",
            help: "Anti-reflection coating on both faces.",
            kind: Kind::Switch { default: false },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let added = o
            .density
            .map(|d| density_option(d, LOW, HIGH))
            .transpose()?;
        let mut glass = match (o.series.as_deref(), o.mireds) {
            (Some(_), Some(_)) => {
                return Err(refuse("mireds", "give a series number or mireds, not both"));
            }
            (None, Some(shift)) => free(shift)?,
            (number, None) => numbered(number.unwrap_or(DEFAULT))?,
        };
        if let Some(density) = added {
            glass.add(density)?;
        }
        let faces = if o.coated { COATED } else { UNCOATED };
        let tau = tau(glass.shift, faces * glass.density.transmittance());
        Ok(Made {
            law: Law {
                tau,
                ..Law::neutral(1.0)
            },
            name: glass.name,
            nominal_loss: glass.nominal,
            nominal_shift: Some(Mireds::clamped(glass.shift)),
        })
    },
};

/// A glass before its faces.
struct Glass {
    shift: f64,
    density: Density,
    name: String,
    nominal: Option<Stops>,
}

fn numbered(number: &str) -> Result<Glass, OptionError> {
    let row = SERIES.iter().find(|row| row.0 == number).ok_or_else(|| {
        let known = NUMBERS.join(", ");
        refuse(
            "series",
            format!("\"{number}\" is not a series number: {known}"),
        )
    })?;
    Ok(Glass {
        shift: row.1,
        density: Density::clamped(row.2),
        name: row.0.to_owned(),
        nominal: Some(Stops::clamped(row.3)),
    })
}

fn free(shift: f64) -> Result<Glass, OptionError> {
    Ok(Glass {
        shift: within("mireds", shift, [-LIMIT, LIMIT], "")?,
        density: Density::clamped(0.0),
        name: format!("Balance {shift:+} mireds"),
        nominal: None,
    })
}

impl Glass {
    /// Density that is not part of the number.
    fn add(&mut self, density: Density) -> Result<(), OptionError> {
        if self.density.get() > 0.0 {
            return Err(refuse(
                "density",
                format!("{} has its density already", self.name),
            ));
        }
        self.density = density;
        self.name = format!("{} + ND {}", self.name, density.get());
        let trade = Stops::clamped(density.get() / TRADE_STOP);
        self.nominal = self.nominal.map(|n| n + trade);
        Ok(())
    }
}

#[derive(serde::Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Options {
    series: Option<String>,
    mireds: Option<f64>,
    density: Option<f64>,
    coated: bool,
}

fn tau(mireds: f64, faces: f64) -> Spectrum {
    let clearest_nm = if mireds < 0.0 { 410.0 } else { 640.0 };
    Spectrum::from_fn(|wavelength| {
        let reciprocal = 1e9 / wavelength.get() - 1e9 / clearest_nm;
        faces * (-C2 * mireds * 1e-6 * reciprocal).exp().min(1.0)
    })
}
