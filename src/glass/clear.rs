//! Clear glass: protection, or a blank in the stack.
//!
//! Law: τ = 0.99 coated (0.014 stop) or 0.9183 uncoated (0.123 stop), nothing scattered.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family, units::Kelvin};
//! let clear = Family::find("clear")?.default_piece();
//! let scene = illuminant::scene(Kelvin::clamped(5600.0));
//! assert!((clear.law().flat_loss(&scene).get() - 0.0145).abs() < 1e-4);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{COATED, Law, UNCOATED};
use super::{Family, Made, read_options};
use crate::units::Stops;

pub(super) static FAMILY: Family = Family {
    key: "clear",
    name: "Clear",
    purpose: "Protects the front of the lens and changes nothing else.",
    source: "Fresnel reflection at two faces of n = 1.52; coated faces lose 0.5 % each",
    honesty: "Modelled from the faces alone.",
    strengths: &[],
    controls: &[Control {
        name: "coated",
        label: "Coated",
        help: "Anti-reflection coating on both faces.",
        kind: Kind::Switch { default: true },
    }],
    make: |_, options| {
        let o: Options = read_options(options)?;
        Ok(Made {
            law: Law::neutral(if o.coated { COATED } else { UNCOATED }),
            name: "Clear".to_owned(),
            nominal_loss: Some(Stops::ZERO),
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Options {
    coated: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self { coated: true }
    }
}
