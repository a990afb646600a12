//! Star: engraved lines in two, three or four directions, which draw rays on lamps.
//!
//! Law: [`crate::optics::engraved::Engraved`]. Each direction throws a pair of rays across itself, so that n
//! directions make 2n points, one of them straight up where the stage is not turned. Near the lamp a ray
//! is light diffracted by the lines, redder outwards, falling as θ⁻²; further out it is light refracted
//! by their walls, without colour.
//!
//! Strength is the part of the glass that the lines of one direction cover; the spacing follows from it,
//! or is given, and then the lines are as wide as they must be to cover that part.
//!
//! Source: see [`crate::optics::engraved`]; coverage, width, walls and what they keep are our own estimates.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let star = Family::find("star")?.default_piece();
//! let f = star.law().figures(&illuminant::scene(Kelvin::clamped(5600.0)));
//! // Strength 1, four points: two directions that cover 0.6 % each; coated faces 0.99.
//! assert_eq!(star.name(), "Star 4-point 1");
//! assert!((f.direct - 0.99 * 0.994_f64.powi(4)).abs() < 1e-9);
//! // Of what strikes a line, 60 % is lost.
//! assert!((f.absorbed - (1.0 - 0.99 * (1.0 - 0.6 * (1.0 - 0.994_f64.powi(2))))).abs() < 1e-9);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{COATED, Law};
use super::strength::Strength;
use super::{Family, Made, OptionError, read_options, refuse, within};
use crate::optics::engraved::Engraved;
use crate::units::{Degrees, Fraction, Micrometres};
use serde_json::{Map, Value};

/// Part covered by the lines of one direction, at 1/8 to 5.
const COVERAGE: [f64; 8] = [0.0008, 0.0016, 0.003, 0.006, 0.012, 0.020, 0.030, 0.045];
/// Width of a line, µm.
const WIDTH_UM: f64 = 8.0;
/// Spread of ln w.
const SPREAD: f64 = 0.35;
/// Part of what strikes a line that its walls send on.
const KEPT: f64 = 0.4;
/// Median half-angle of that light, and spread of its logarithm: walls of every slope.
const ANGLE_DEG: f64 = 3.0;
const ANGLE_SPREAD: f64 = 0.8;
/// Part of that light that goes over the whole field.
const VEIL: f64 = 0.2;
/// How far a ray strays aside, degrees.
const WAVER_DEG: f64 = 0.012;

/// Width under which lines are not told by the law of an opening, µm: two wavelengths or so.
const LEAST_WIDTH_UM: f64 = 1.2;

const SPACINGS: [f64; 2] = [0.15, 10.0];

pub(super) static FAMILY: Family = Family {
    key: "star",
    name: "Star",
    purpose: "Rays across every lamp, four, six or eight, that turn with the stage.",
    source: "Lines covering c in n directions: direct (1−c)²ⁿ, each streak c(1−c)²ⁿ⁻¹ of sinc²(w sinθ/λ); \
             tails θ⁻²; walls refract",
    honesty: "Modelled, not measured: coverage, width and walls of the lines are our own estimates.",
    strengths: &Strength::ALL,
    controls: &[
        Control {
            name: "points",
            label: "Points",
            help: "How many rays a lamp has.",
            kind: Kind::Choice {
                words: &["4", "6", "8"],
                default: Some("4"),
            },
        },
        Control {
            name: "spacing_mm",
            label: "Line spacing",
            help: "Distance between lines; not set, the strength decides. Wider spaced lines are wider \
                   themselves, and their rays brighter near the lamp and shorter.",
            kind: Kind::Number {
                unit: "mm",
                low: SPACINGS[0],
                high: SPACINGS[1],
                default: None,
                stock: &[1.0, 2.0, 4.0],
            },
        },
    ],
    make,
};

fn make(strength: Strength, options: &Map<String, Value>) -> Result<Made, OptionError> {
    let o: Options = read_options(options)?;
    // A number or a word, as the choice is written.
    let told = o.points.as_f64();
    let told = told.or_else(|| o.points.as_str().and_then(|word| word.parse().ok()));
    let points = [4_u8, 6, 8]
        .into_iter()
        .find(|n| told.is_some_and(|t| (t - f64::from(*n)).abs() < 1e-9));
    let Some(points) = points else {
        let message = format!("{} points: a star has 4, 6 or 8", o.points);
        return Err(refuse("points", message));
    };
    let coverage = COVERAGE[strength.rung()];
    let width = match o.spacing_mm {
        None => WIDTH_UM,
        Some(mm) => 1e3 * within("spacing_mm", mm, SPACINGS, " mm")? * coverage,
    };
    let caution = (width < LEAST_WIDTH_UM).then_some(
        "At this spacing the lines are hardly wider than light's own waves: the rays shown are too long.",
    );
    let star = Engraved {
        directions: points / 2,
        first: Degrees::clamped(90.0),
        coverage: Fraction::clamped(coverage),
        width: Micrometres::clamped(width),
        spread: SPREAD,
        kept: [KEPT; 3],
        angle: Degrees::clamped(ANGLE_DEG),
        angle_spread: ANGLE_SPREAD,
        veil: Fraction::clamped(VEIL),
        waver: Degrees::clamped(WAVER_DEG),
    };
    let mut name = format!("Star {points}-point {strength}");
    if let Some(mm) = o.spacing_mm {
        name += &format!(", {mm} mm");
    }
    Ok(Made {
        law: Law {
            scatter: Some(star.scatter()),
            caution,
            ..Law::neutral(COATED)
        },
        name,
        nominal_loss: None,
        nominal_shift: None,
    })
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    points: Value,
    spacing_mm: Option<f64>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            points: Value::from(4),
            spacing_mm: None,
        }
    }
}
