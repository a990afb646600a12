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
//! A clear sky alone can be worked out, once a person says where the sun stood and above which line the
//! picture is sky ([`crate::optics::sky`]). Whatever stands above the line is taken for sky, clouds
//! and masts too. At turn 0 the axis stands upright in the picture, which is what takes reflections
//! off level water; turning the ring or the stage turns it.
//!
//! Sources: losses of 1 1/3 to 2 stops are quoted; k₁ 0.75 is 1.415 stops; k₂ from memory. A clear sky
//! is polarised to 0.75 or 0.8 a right angle from the sun, haze and cloud lower that.
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
use super::{Family, Made, OptionError, read_options, refuse, within};
use crate::optics::polarised::Sheet;
use crate::optics::sky::Sun;

/// Losses taken, stops.
const LOSSES: [f64; 2] = [1.0, 3.0];
const LOSS: f64 = 1.5;
/// Principal transmittances taken.
const PRINCIPALS: [f64; 2] = [0.25, 1.0];
/// Where the sun stands unless told: to the side, where a polariser does most.
const AZIMUTH: f64 = 90.0;
const ELEVATION: f64 = 30.0;
/// Degree of polarisation of a clear sky at a right angle from the sun.
const CLEAREST: f64 = 0.75;
/// k₂ over k₁.
const LEAK: f64 = 1e-4;

const NOTHING_TOLD: &str = "A still does not tell which light is polarised: sky and reflections from \
    water, glass, wet ground and leaves are left as they are. Look through it on the day.";
const SKY_TOLD: &str = "What stands above the line is darkened as a clear sky would be, clouds and \
    buildings too; reflections from water, glass, wet ground and leaves are left as they are. Look \
    through it on the day.";

pub(super) static FAMILY: Family = Family {
    key: "polariser",
    name: "Polariser",
    purpose: "Takes polarised light: reflections, a part of a blue sky. Costs about a stop and a half.",
    source: "(k1 + k2)/2 of unpolarised light; losses of 1 1/3 to 2 stops are quoted",
    honesty: "The loss is modelled. A still does not tell which light is polarised: reflections from \
              water, glass, wet ground and leaves are left as they are, and what stands above the \
              sky's line is darkened with it.",
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
        Control {
            name: "sky_above",
            label: "Sky above",
            help: "The line above which the picture is clear sky: 0 is the top of the picture, 1 its foot; 1.1 takes all of it.",
            kind: Kind::Number {
                unit: "",
                low: 0.0,
                high: 1.1,
                default: None,
                stock: &[],
            },
        },
        Control {
            name: "sun_azimuth_deg",
            label: "Sun to the right",
            help: "How far to the right of where the lens points the sun stands.",
            kind: Kind::Number {
                unit: "°",
                low: -180.0,
                high: 180.0,
                default: Some(AZIMUTH),
                stock: &[],
            },
        },
        Control {
            name: "sun_elevation_deg",
            label: "Sun above",
            help: "How far above where the lens points the sun stands.",
            kind: Kind::Number {
                unit: "°",
                low: -90.0,
                high: 90.0,
                default: Some(ELEVATION),
                stock: &[],
            },
        },
        Control {
            name: "sky_polarised",
            label: "Sky polarised",
            help: "How much of the sky's light is polarised at a right angle from the sun: 0.75 when \
                   it is clear, less in haze.",
            kind: Kind::Number {
                unit: "",
                low: 0.0,
                high: 1.0,
                default: Some(CLEAREST),
                stock: &[],
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let sheet = o.sheet()?;
        let through = sheet.passed_unpolarised();
        let sun = o.sun()?;
        Ok(Made {
            law: Law {
                polarises: Some(sheet),
                sun,
                caution: Some(if sun.is_some() {
                    SKY_TOLD
                } else {
                    NOTHING_TOLD
                }),
                ..Law::neutral(through)
            },
            name: "Polariser".to_owned(),
            nominal_loss: None,
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Options {
    loss: Option<f64>,
    k1: Option<f64>,
    sky_above: Option<f64>,
    sun_azimuth_deg: Option<f64>,
    sun_elevation_deg: Option<f64>,
    sky_polarised: Option<f64>,
}

impl Options {
    fn sheet(&self) -> Result<Sheet, OptionError> {
        let along = match (self.loss, self.k1) {
            (Some(_), Some(_)) => return Err(refuse("k1", "give the loss or k1, not both")),
            (None, Some(k1)) => within("k1", k1, PRINCIPALS, "")?,
            (loss, None) => {
                let loss = within("loss", loss.unwrap_or(LOSS), LOSSES, "")?;
                2.0 * (-loss).exp2() / (1.0 + LEAK)
            }
        };
        Ok(Sheet {
            along,
            across: along * LEAK,
        })
    }

    fn sun(&self) -> Result<Option<Sun>, OptionError> {
        let option = |name, value: Option<f64>, default: f64, low, high| {
            within(name, value.unwrap_or(default), [low, high], "")
        };
        let azimuth = option(
            "sun_azimuth_deg",
            self.sun_azimuth_deg,
            AZIMUTH,
            -180.0,
            180.0,
        )?;
        let elevation = option(
            "sun_elevation_deg",
            self.sun_elevation_deg,
            ELEVATION,
            -90.0,
            90.0,
        )?;
        let most = option("sky_polarised", self.sky_polarised, CLEAREST, 0.0, 1.0)?;
        let Some(above) = self.sky_above else {
            return Ok(None);
        };
        Ok(Some(Sun {
            azimuth: azimuth.to_radians(),
            elevation: elevation.to_radians(),
            most,
            above: within("sky_above", above, [0.0, 1.1], "")?,
        }))
    }
}
